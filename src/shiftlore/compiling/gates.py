"""The one builder of gates: rules of one unit as arrays, from which means, draws and the network are all made.

The tables have one root, the fault; hidden states that the fault brings about; and findings that the fault and the
states bring about (leaky noisy-OR and noisy-MAX). Root states are here "none" and each single cause; sets of causes are
joined from these (`exact.join_columns`).
"""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

import numpy as np

from shiftlore.compiling.expansion import ExpandedNode, Expansion, NodeLink
from shiftlore.compiling.priors import Lived, background_factor
from shiftlore.exact import FloatArray, GateTable, HubTables, cumulate_rows
from shiftlore.knowledge import Background, Raise

ROOT = "fault"
LARGEST_LEAK = 0.9
"""However much a background raises it, a sign without its causes is never surer than this (judgement)."""
WEAK_LINE = 0.2
"""A state that shows in a finding more seldom shows there by its chance alone: each of its causes shows the finding as often
as before, only that it came by way of the state is forgotten. Else whatever a state hardly ever does joins the answers."""
SMALLEST_SHAPE = 1e-3
"""Least parameter of a drawn Dirichlet, so that a strength near 0 can still be drawn."""


@dataclass(frozen=True, eq=False)
class Links:
    """Parts that parents have in nodes, one row each.

    Args:
        node, parent: positions, shape (n_links,).
        rows: pmf over the node's grades, filled up with zeros, shape (n_links, most_grades).
        weights: spread of each row, shape (n_links,).
    """

    node: np.ndarray
    parent: np.ndarray
    rows: FloatArray
    weights: FloatArray


@dataclass(frozen=True, eq=False)
class GateArrays:
    """Some states and findings of one unit as arrays.

    Args:
        nodes: the states first, then the findings.
        n_states: how many of them are states; n_hidden: how many of these join the answers, the first ones.
        n_causes: causes of the unit; root state 0 is none, state i + 1 cause i.
        leaks: pmf over each node's grades, filled up with zeros, shape (n_nodes, most_grades).
        leak_weights: spread of each leak, shape (n_nodes,).
        raised: node position -> what raises its leak.
        from_causes, from_states: the links; from_states_weakly: those below `WEAK_LINE`.
    """

    nodes: tuple[ExpandedNode, ...]
    n_states: int
    n_hidden: int
    n_causes: int
    leaks: FloatArray
    leak_weights: FloatArray
    raised: Mapping[int, tuple[Raise, ...]]
    from_causes: Links
    from_states: Links
    from_states_weakly: Links

    @property
    def links(self) -> tuple[Links, Links, Links]:
        """All links, in the order of the fields."""
        return self.from_causes, self.from_states, self.from_states_weakly


def gather_gates(
    expansion: Expansion, findings: Iterable[str] | None = None, causes: Iterable[str] | None = None
) -> GateArrays:
    """Lay the gates of a unit out as arrays.

    Args:
        findings: only these, and the states that bear on them; None takes all.
        causes: only these; None takes all.
    """
    chosen = [expansion.findings[key] for key in (expansion.findings if findings is None else findings)]
    bearing = {link.parent for node in chosen for link in node.links}
    joining = {link.parent for node in chosen for link in node.links if not is_weak(link)}
    hidden = [node for key, node in expansion.states.items() if findings is None or key in joining]
    weak = [node for key, node in expansion.states.items() if findings is not None and key in bearing - joining]
    states = [*hidden, *weak]
    nodes = (*states, *chosen)
    cause_of = {cause: i for i, cause in enumerate(expansion.causes if causes is None else causes)}
    state_of = {node.id: i for i, node in enumerate(states)}
    most = max((len(node.grades) for node in nodes), default=2)
    raised = {}
    for i, node in enumerate(nodes):
        record = expansion.state_records.get(node.id) or expansion.finding_records[node.id]
        if record.raised_by:
            raised[i] = record.raised_by
    from_states = _list_links(nodes, state_of)
    return GateArrays(
        nodes,
        n_states=len(states),
        n_hidden=len(hidden),
        n_causes=len(cause_of),
        leaks=np.array([_fill(node.leak, most) for node in nodes]).reshape(len(nodes), most),
        leak_weights=np.array([node.leak_weight for node in nodes]),
        raised=raised,
        from_causes=_lay_out(_list_links(nodes, cause_of), most),
        from_states=_lay_out([found for found in from_states if not is_weak(found[2])], most),
        from_states_weakly=_lay_out([found for found in from_states if is_weak(found[2])], most),
    )


def is_weak(link: NodeLink) -> bool:
    """Tell whether a state shows so seldom in a finding that it does not join the answers through it."""
    return 1 - link.rows[1][0] < WEAK_LINE


_Placed = tuple[int, int, NodeLink]


def _list_links(nodes: tuple[ExpandedNode, ...], position: Mapping[str, int]) -> list[_Placed]:
    """List the links from these parents, with the places of node and parent."""
    return [
        (i, position[link.parent], link)
        for i, node in enumerate(nodes)
        for link in node.links
        if link.parent in position
    ]


def _lay_out(found: list[_Placed], most: int) -> Links:
    return Links(
        np.array([i for i, _, _ in found], dtype=np.intp),
        np.array([parent for _, parent, _ in found], dtype=np.intp),
        np.array([_fill(link.rows[1], most) for _, _, link in found]).reshape(len(found), most),
        np.array([link.weight for _, _, link in found]),
    )


def _fill(pmf: tuple[float, ...], most: int) -> tuple[float, ...]:
    return (*pmf, *(0.0,) * (most - len(pmf)))


def build_tables(
    arrays: GateArrays,
    lived: Lived,
    backgrounds: Mapping[str, Background],
    prior: FloatArray,
    names: tuple[str, ...],
) -> HubTables:
    """Build the tables of one case from the means of the rules.

    Args:
        lived: backgrounds of the case; they raise some leaks.
        backgrounds: shares of each background's answers.
        prior, names: of the root states none and single causes.
    """
    leaks = raise_leaks(arrays, lived, backgrounds)
    return _assemble(arrays, leaks, *(links.rows for links in arrays.links), prior=prior, names=names)


def draw_tables(
    arrays: GateArrays,
    lived: Lived,
    backgrounds: Mapping[str, Background],
    names: tuple[str, ...],
    *,
    rng: np.random.Generator,
    n_draws: int,
) -> Iterator[HubTables]:
    """Build tables from `n_draws` draws of the rules' numbers: leaks and links are Dirichlet around their means.

    Args: as `build_tables`; the prior of each is left even.
    """
    leaks = _draw_rows(raise_leaks(arrays, lived, backgrounds), arrays.leak_weights, rng, n_draws)
    drawn = [_draw_rows(links.rows, links.weights, rng, n_draws) for links in arrays.links]
    even = np.full(len(names), 1 / len(names))
    for numbers in zip(leaks, *drawn, strict=True):
        yield _assemble(arrays, *numbers, prior=even, names=names)


def _assemble(
    arrays: GateArrays,
    leaks: FloatArray,
    cause_rows: FloatArray,
    state_rows: FloatArray,
    weak_rows: FloatArray,
    *,
    prior: FloatArray,
    names: tuple[str, ...],
) -> HubTables:
    """Cumulate leaks and links. Source: noisy-MAX, Diez 1993: cumulative distributions multiply."""
    table = np.repeat(cumulate_rows(leaks)[:, :, None], arrays.n_causes + 1, axis=2)
    links, weak = arrays.from_causes, arrays.from_states_weakly
    table[links.node, :, links.parent + 1] *= cumulate_rows(cause_rows)
    cum_states, p_shown = cumulate_rows(state_rows), 1 - cumulate_rows(weak_rows)
    n_hidden, below, gates = arrays.n_hidden, arrays.from_states, {}
    p_states = 1 - table[: arrays.n_states, 0]
    every = np.arange(len(arrays.nodes) + 1)
    first, first_weak = np.searchsorted(below.node, every), np.searchsorted(weak.node, every)
    for i, node in enumerate(arrays.nodes[arrays.n_states :], arrays.n_states):
        own, size = slice(first[i], first[i + 1]), len(node.grades)
        for link in range(first_weak[i], first_weak[i + 1]):
            table[i, : size - 1] *= 1 - p_shown[link, : size - 1, None] * p_states[weak.parent[link]]
        parents = tuple(below.parent[own].tolist())
        table[i, size - 1], cum_states[own, size - 1] = 1.0, 1.0
        gates[node.id] = GateTable(node.id, size, table[i, :size], parents, cum_states[own, :size])
    hidden = tuple(node.id for node in arrays.nodes[:n_hidden])
    return HubTables(ROOT, names, prior, hidden=hidden, p_hidden=p_states[:n_hidden], gates=gates)


def raise_leaks(arrays: GateArrays, lived: Lived, backgrounds: Mapping[str, Background]) -> FloatArray:
    """Give the leaks in a case with these backgrounds, shape (n_nodes, most_grades)."""
    leaks = arrays.leaks
    if lived:
        leaks = leaks.copy()
        for i, raises in arrays.raised.items():
            leaks[i] = raise_leak(tuple(leaks[i].tolist()), background_factor(raises, lived, backgrounds))
    return leaks


def raise_leak(leak: tuple[float, ...], factor: float) -> tuple[float, ...]:
    """Scale how often a sign shows without any of its causes by a hazard ratio.

    Example:
        >>> [round(p, 4) for p in raise_leak((0.9, 0.1), 2.0)]
        [0.81, 0.19]
    """
    fault = 1 - leak[0]
    if factor == 1.0 or fault <= 0:
        return leak
    raised = min(1 - (1 - fault) ** factor, max(LARGEST_LEAK, fault))
    return (1 - raised, *(value * raised / fault for value in leak[1:]))


def _draw_rows(means: FloatArray, weights: FloatArray, rng: np.random.Generator, n_draws: int) -> FloatArray:
    """Draw pmfs around their means: shape (n_draws, n_rows, n_grades); an infinite weight keeps the mean."""
    if not len(means):
        return np.zeros((n_draws, *means.shape))
    finite = np.where(np.isfinite(weights), weights, 1.0)[:, None]
    shapes = np.where(means > 0, np.maximum(means * finite, SMALLEST_SHAPE), 0.0)
    drawn = rng.standard_gamma(shapes, size=(n_draws, *means.shape))
    totals = drawn.sum(axis=-1, keepdims=True)
    drawn = np.where(totals > 0, drawn / np.where(totals > 0, totals, 1.0), means)
    return np.where(np.isfinite(weights)[:, None], drawn, means)
