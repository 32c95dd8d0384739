"""The tables of one case as a network that remembers its YAML lines, and the network in a general library's hands.

It says the same as the tables that the engine works on: one root, the fault; hidden states that the fault brings about; and
findings that the fault and the states bring about (leaky noisy-OR and noisy-MAX). Loaded only when asked for.
"""

import re
from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from shiftlore.basics import UnknownId, nearest
from shiftlore.compiling.expansion import Expansion
from shiftlore.compiling.gates import ROOT
from shiftlore.exact import Doubted, FloatArray, HubTables
from shiftlore.network import Gate, Network, NoisyLink, NoisyMax, Table, Variable, divorce

if TYPE_CHECKING:
    from pgmpy.models import DiscreteBayesianNetwork

NOT_ABOVE, REACHED = "__not_above", "__reached"
"""What is put behind a doubted finding's id: two signs of their own say what the doubtful words say."""


def assemble_network(
    tables: HubTables, expansion: Expansion, evidence: Mapping[str, int | Doubted] | None = None
) -> Network:
    """Write tables as a network.

    Args:
        expansion: where nodes, their grades and their places come from.
        evidence: answers; for doubted ones the signs that `observe` names are added.
    """
    variables = [Variable(ROOT, tables.root_states)]
    gates: list[Gate] = [Table(ROOT, (), tables.prior)]
    for key, p_hidden in zip(tables.hidden, tables.p_hidden, strict=True):
        node = expansion.states[key]
        variables.append(Variable(key, node.grades))
        gates.append(_write_gate(key, np.array([1 - p_hidden, np.ones_like(p_hidden)]), [], node.mark))
    for key, gate in tables.gates.items():
        node = expansion.findings[key]
        variables.append(Variable(key, node.grades))
        parents = [(tables.hidden[h], row) for h, row in zip(gate.hidden, gate.cum_hidden, strict=True)]
        gates.append(_write_gate(key, gate.cum_root, parents, node.mark))
        answer = (evidence or {}).get(key)
        if isinstance(answer, Doubted):
            for name, cum_root, own in _write_doubt(key, gate.cum_root, parents, answer):
                variables.append(Variable(name, ("no", "yes")))
                gates.append(_write_gate(name, cum_root, own, node.mark))
    return Network(variables, gates)


def observe(evidence: Mapping[str, int | Doubted]) -> dict[str, int]:
    """Give the observations that say the same as the answers: variable -> state."""
    observed: dict[str, int] = {}
    for key, answer in evidence.items():
        if not isinstance(answer, Doubted):
            observed[key] = int(answer)
            continue
        observed[key + NOT_ABOVE] = 0
        if answer.grade:
            observed[key + REACHED] = 1
    return observed


Parents = list[tuple[str, FloatArray]]


def _write_doubt(
    key: str, cum_root: FloatArray, parents: Parents, answer: Doubted
) -> list[tuple[str, FloatArray, Parents]]:
    """Write a doubted answer as signs: nothing noticed above the grade, something seen or imagined at it."""
    j, seen = answer.grade, 1 - answer.overlooked

    def two(below: FloatArray) -> FloatArray:
        return np.array([below, np.ones_like(below)])

    thinned = [(name, two(1 - seen * (1 - row[j]))) for name, row in parents]
    signs: list[tuple[str, FloatArray, Parents]] = [(key + NOT_ABOVE, two(1 - seen * (1 - cum_root[j])), thinned)]
    if j:
        reached = [(name, two(_over(row[j - 1], row[j]))) for name, row in parents]
        signs.append((key + REACHED, two((1 - answer.imagined) * _over(cum_root[j - 1], cum_root[j])), reached))
    return signs


def _write_gate(key: str, cum_root: FloatArray, parents: Parents, mark: object) -> NoisyMax:
    """Write one gate: the leak, one link from the fault, one from each state."""
    leak = cum_root[:, :1]
    relative = np.minimum(np.divide(cum_root, leak, out=np.ones_like(cum_root), where=leak > 0), 1.0)
    links = []
    if np.any(relative[:-1] < 1):
        links.append(NoisyLink(ROOT, _part(relative.T)))
    links += [NoisyLink(name, _part(np.array([np.ones_like(row), row]))) for name, row in parents]
    return NoisyMax(key, _part(leak[:, 0]), tuple(links), mark=mark)


def _over(below: FloatArray, top: FloatArray) -> FloatArray:
    """Divide; 0 where the top is 0: what is surely above the grade never falls short of it."""
    return np.divide(below, top, out=np.zeros_like(below), where=top > 0)


def _part(cumulated: FloatArray) -> FloatArray:
    """Turn cumulated rows into pmfs; where two grades are equal but for rounding nothing is left between them."""
    return np.maximum(np.diff(cumulated, axis=-1, prepend=0.0), 0.0)


CHAIN_SIGN = "__upto"
"""What the ids of a chain's inner variables hold."""


def to_pgmpy(network: Network) -> "DiscreteBayesianNetwork":
    """Write a network as pgmpy's `DiscreteBayesianNetwork`; gates with many parents become chains of small tables."""
    from pgmpy.factors.discrete import TabularCPD
    from pgmpy.models import DiscreteBayesianNetwork

    split = divorce(network)
    model = DiscreteBayesianNetwork()
    model.add_nodes_from(split.variables)
    tables = []
    for child, gate in split.gates.items():
        model.add_edges_from((parent, child) for parent in gate.parents)
        tables.append(_as_cpd(split, gate, TabularCPD))
    model.add_cpds(*tables)
    return model


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
    import networkx as nx

    graph = nx.DiGraph((parent, child) for child, gate in network.gates.items() for parent in gate.parents)
    keep = set(targets)
    for name in tuple(keep & graph.nodes):
        keep |= nx.ancestors(graph, name)
    return Network(
        [variable for key, variable in network.variables.items() if key in keep],
        [gate for key, gate in network.gates.items() if key in keep],
    )


def choose_order(scopes: Iterable[Iterable[str]], sizes: Mapping[str, int], kept: str) -> list[str]:
    """Order variables for elimination: next whatever leaves the smallest table (greedy).

    Args:
        scopes: the variables of each table, those observed left out.
        sizes: number of states of each variable.
        kept: the variable asked about; it is never eliminated.
    """
    near: dict[str, set[str]] = {}
    for scope in scopes:
        members = set(scope)
        for name in members:
            near.setdefault(name, set()).update(members - {name})
    near.setdefault(kept, set())
    order: list[str] = []
    while len(near) > 1:
        chosen = min((name for name in near if name != kept), key=lambda name: (_table_size(near[name], sizes), name))
        around = near.pop(chosen)
        for name in around:
            near[name] |= around
            near[name] -= {name, chosen}
        order.append(chosen)
    return order


def _table_size(names: Iterable[str], sizes: Mapping[str, int]) -> int:
    size = 1
    for name in names:
        size *= sizes[name]
    return size


def observe_chains(network: Network, evidence: Mapping[str, int]) -> dict[str, int]:
    """Add what sound answers say of their chains: where the strongest contribution is sound, every one on the way is."""
    observed = dict(evidence)
    waiting = [name for name, state in evidence.items() if state == 0]
    while waiting:
        for parent in network.gates[waiting.pop()].parents:
            if CHAIN_SIGN in parent and parent not in observed:
                observed[parent] = 0
                waiting.append(parent)
    return observed


def eliminate_variables(network: Network, evidence: Mapping[str, int | Doubted], faults: Iterable[str]) -> np.ndarray:
    """Work out P(root state | answers) by pgmpy's variable elimination, in the order of `faults`, shape (n_states,)."""
    from pgmpy.inference import VariableElimination

    seen = observe(evidence)
    pruned = prune_network(network, [*seen, ROOT])
    split = divorce(pruned)
    observed = observe_chains(split, seen)
    scopes = [{child, *gate.parents} - observed.keys() for child, gate in split.gates.items()]
    order = choose_order(scopes, {key: variable.n_states for key, variable in split.variables.items()}, ROOT)
    named = {key: split.variables[key].states[state] for key, state in observed.items()}
    answer = VariableElimination(to_pgmpy(pruned)).query([ROOT], named, elimination_order=order, show_progress=False)
    return np.array([answer.get_value(**{ROOT: name}) for name in faults])


def render_bif(model: "DiscreteBayesianNetwork", about: Sequence[str] = ()) -> str:
    """Write a pgmpy model in the Bayesian interchange format (BIF), for other programs; numbers in full precision.

    Names of states keep letters, digits and `_`; every other sign becomes `_`, and the `+` of a pair `__and__`.

    Args:
        about: variables asked about; only they and what stands above them is written. Empty writes everything: of a
            shipped unit some 25 MB, for which the library takes ten seconds.
    Returns: the text of the file.
    Raises: UnknownId: the model has no such variable; names the nearest.
    """
    import networkx as nx
    from pgmpy.models import DiscreteBayesianNetwork
    from pgmpy.readwrite import BIFWriter

    for name in about:
        if name not in model:
            near = ", ".join(nearest(name, model.nodes)) or "a finding, a state, or fault"
            raise UnknownId(f'The network has no variable "{name}". Write one of: {near}.')
    kept = set(model.nodes) if not about else {*about}.union(*(nx.ancestors(model, name) for name in about))
    written = DiscreteBayesianNetwork()
    written.add_nodes_from(name for name in model.nodes if name in kept)
    written.add_edges_from((parent, child) for parent, child in model.edges if child in kept)
    written.add_cpds(*(_with_plain_states(model.get_cpds(name)) for name in written.nodes))
    return str(BIFWriter(written))


def _with_plain_states(table: Any) -> Any:
    """Copy a table, its states named as every reader of BIF takes them."""
    names = {
        name: [re.sub(r"\W", "_", state.replace("+", "__and__"), flags=re.ASCII) for state in states]
        for name, states in table.state_names.items()
    }
    parents, cards = list(table.variables[1:]), list(table.cardinality[1:])
    return type(table)(
        table.variable, table.variable_card, table.get_values(), parents or None, cards or None, state_names=names
    )
