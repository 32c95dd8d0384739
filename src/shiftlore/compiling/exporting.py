"""Hand the network to a general library, so that anyone can check our arithmetic. Loaded only when asked for."""

from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING, Any

import numpy as np

from shiftlore.compiling.assembling import ROOT
from shiftlore.compiling.compiled import CompiledCase
from shiftlore.network import Network, divorce

if TYPE_CHECKING:
    from pgmpy.models import DiscreteBayesianNetwork


def to_pgmpy(network: Network) -> "tuple[DiscreteBayesianNetwork, Mapping[str, str]]":
    """Write a network as pgmpy's `DiscreteBayesianNetwork`.

    Gates with many parents are split into chains of small tables, and the tie becomes an explicit chain whose last
    node has been observed.
    Returns: the pgmpy model, and the observations (variable -> state name) that every query must include.
    """
    from pgmpy.factors.discrete import TabularCPD
    from pgmpy.models import DiscreteBayesianNetwork

    split = divorce(network)
    model = DiscreteBayesianNetwork()
    model.add_nodes_from(split.network.variables)
    tables = []
    for child, gate in split.network.gates.items():
        model.add_edges_from((parent, child) for parent in gate.parents)
        tables.append(_as_cpd(split.network, gate, TabularCPD))
    model.add_cpds(*tables)
    observed = {key: split.network.variables[key].states[state] for key, state in split.observed.items()}
    return model, observed


def _as_cpd(network: Network, gate: Any, tabular: Any) -> Any:
    names = (gate.child, *gate.parents)
    states = {name: list(network.variables[name].states) for name in names}
    array = gate.array.reshape(-1, gate.array.shape[-1]).T
    if not gate.parents:
        return tabular(gate.child, array.shape[0], array, state_names=states)
    cards = [len(states[parent]) for parent in gate.parents]
    return tabular(gate.child, array.shape[0], array, list(gate.parents), cards, state_names=states)


def prune_network(network: Network, targets: Iterable[str]) -> Network:
    """Keep what bears on the targets: themselves and their ancestors."""
    keep: set[str] = set()
    waiting = list(targets)
    while waiting:
        name = waiting.pop()
        if name not in keep:
            keep.add(name)
            waiting.extend(network.gates[name].parents)
    return Network(
        [variable for key, variable in network.variables.items() if key in keep],
        [gate for key, gate in network.gates.items() if key in keep],
        network.tie,
    )


def query_with_pgmpy(compiled: CompiledCase) -> np.ndarray:
    """Recompute the probability of every root state with pgmpy's variable elimination.

    Returns: P(root state | answers), in the order of the case's faults, shape (n_states,).
    """
    from pgmpy.factors.discrete import TabularCPD
    from pgmpy.inference import VariableElimination

    pruned = prune_network(compiled.network, [*compiled.evidence, ROOT])
    model, observed = to_pgmpy(pruned)
    evidence = dict(observed)
    doubted = []
    for finding, value in compiled.evidence.items():
        states = list(pruned.variables[finding].states)
        if isinstance(value, (int, np.integer)):
            evidence[finding] = states[int(value)]
        else:
            column = np.asarray(value)[:, None] / np.sum(value)
            doubted.append(TabularCPD(finding, len(states), column, state_names={finding: states}))
    engine = VariableElimination(model)
    answer = engine.query([ROOT], evidence=evidence, virtual_evidence=doubted or None, show_progress=False)
    return np.array([answer.get_value(**{ROOT: name}) for name in compiled.faults.names])
