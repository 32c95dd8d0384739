"""Hand the network to a general library, so that anyone can check our arithmetic. Loaded only when asked for."""

import math
from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING, Any

import numpy as np

from shiftlore.compiling.compiled import CompiledCase
from shiftlore.network import Network, Table, Tie, Variable, divorce

if TYPE_CHECKING:
    from pgmpy.models import DiscreteBayesianNetwork

REST = "any_other_cause"
"""Root that stands for all causes which no answered finding bears on."""


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
    """Keep what bears on the targets: their ancestors. Other members of the tie are joined into one root.

    The joined root is present when any of them is; nothing else depends on them, so no probability changes.
    """
    keep: set[str] = set()
    waiting = list(targets)
    while waiting:
        name = waiting.pop()
        if name not in keep:
            keep.add(name)
            waiting.extend(network.gates[name].parents)
    variables = [variable for key, variable in network.variables.items() if key in keep]
    gates = [gate for key, gate in network.gates.items() if key in keep]
    if network.tie is None:
        return Network(variables, gates)
    rest = [member for member in network.tie.members if member not in keep]
    members = [member for member in network.tie.members if member in keep]
    if rest:
        p_none = math.prod(float(_prior(network, member)[0]) for member in rest)
        variables.append(Variable(REST))
        gates.append(Table(REST, (), np.array([p_none, 1 - p_none])))
        members.append(REST)
    return Network(variables, gates, Tie(tuple(members), network.tie.weight_none))


def _prior(network: Network, member: str) -> np.ndarray:
    gate = network.gates[member]
    assert isinstance(gate, Table), "a member of the tie is a root"
    return gate.array


def query_with_pgmpy(compiled: CompiledCase, causes: Iterable[str]) -> dict[str, float]:
    """Recompute the probability of some causes with pgmpy's variable elimination.

    Args:
        causes: expanded cause ids that at least one answered finding bears on, or any others.
    Returns: cause -> p present given all answers.
    """
    from pgmpy.factors.discrete import TabularCPD
    from pgmpy.inference import VariableElimination

    causes = list(causes)
    pruned = prune_network(compiled.network, [*compiled.evidence, *causes])
    model, observed = to_pgmpy(pruned)
    evidence = dict(observed)
    doubted = []
    for finding, value in compiled.evidence.items():
        states = list(pruned.variables[finding].states)
        if isinstance(value, (int, np.integer)):
            evidence[finding] = states[int(value)]
        else:
            doubted.append(TabularCPD(finding, len(states), np.asarray(value)[:, None] / np.sum(value),
                                      state_names={finding: states}))
    engine = VariableElimination(model)
    found = {}
    for cause in causes:
        answer = engine.query([cause], evidence=evidence, virtual_evidence=doubted or None, show_progress=False)
        found[cause] = float(answer.get_value(**{cause: "present"}))
    return found
