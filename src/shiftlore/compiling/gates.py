"""The one builder of gates: rules of one unit as arrays, from which means, draws and the network are all made.

The tables have one root, the fault; hidden states that the fault brings about; and findings that the fault and the
states bring about (leaky noisy-OR and noisy-MAX). Root states are here "none" and each single cause; sets of causes are
joined from these (`exact.join_columns`).
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from io import BytesIO
from typing import Any

import numpy as np

from shiftlore.basics import Mark
from shiftlore.basics.structs import Value
from shiftlore.compiling.expansion import ExpandedNode, Expansion, NodeLink, expand_knowledge
from shiftlore.compiling.priors import Lived, background_factor
from shiftlore.exact import FloatArray, GateTable, HubTables, cumulate_rows
from shiftlore.gearing import UnitFacts
from shiftlore.knowledge import Background, Knowledge, Raise
from shiftlore.knowledge.rulebook import decode_record, encode_record

ROOT = "fault"
LARGEST_LEAK = 0.9
"""However much a background raises it, a sign without its causes is never surer than this (judgement)."""
WEAK_LINE = 0.2
"""A state that shows in a finding more seldom shows there by its chance alone: each of its causes shows the finding as often
as before, only that it came by way of the state is forgotten. Else whatever a state hardly ever does joins the answers."""
SMALLEST_SHAPE = 1e-3
"""Least parameter of a drawn Dirichlet, so that a strength near 0 can still be drawn."""


class Links(Value, frozen=True, eq=False):
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


class GateArrays(Value, frozen=True, eq=False):
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
    expansion: Expansion,
    findings: Iterable[str] | None = None,
    causes: Iterable[str] | None = None,
    *,
    kept: "LinkTable | None" = None,
) -> GateArrays:
    """Lay the gates of a unit out as arrays.

    Args:
        findings: only these, and the states that bear on them; None takes all.
        causes: only these; None takes all.
        kept: the table of the links of all nodes, where it is at hand.
    """
    chosen = [expansion.findings[key] for key in (expansion.findings if findings is None else findings)]
    hidden, weak = list(expansion.states.values()), list[ExpandedNode]()
    if findings is not None:
        bearing = {link.parent for node in chosen for link in node.links}
        joining = {link.parent for node in chosen for link in node.links if not is_weak(link)}
        weak = [node for node in hidden if node.id in bearing - joining]
        hidden = [node for node in hidden if node.id in joining]
    states = [*hidden, *weak]
    nodes = (*states, *chosen)
    parents = (*(expansion.causes if causes is None else causes), *(node.id for node in states))
    raised = {}
    for i, node in enumerate(nodes):
        record = expansion.state_records.get(node.id) or expansion.finding_records[node.id]
        if record.raised_by:
            raised[i] = record.raised_by
    table, n_causes = kept or tabulate(nodes, parents), len(parents) - len(states)
    is_state, is_faint = table.parent >= n_causes, 1 - table.rows[:, 0] < WEAK_LINE
    return GateArrays(
        nodes,
        n_states=len(states),
        n_hidden=len(hidden),
        n_causes=n_causes,
        leaks=table.leaks,
        leak_weights=np.array([node.leak_weight for node in nodes]),
        raised=raised,
        from_causes=table.take(~is_state, 0),
        from_states=table.take(is_state & ~is_faint, n_causes),
        from_states_weakly=table.take(is_state & is_faint, n_causes),
    )


def is_weak(link: NodeLink) -> bool:
    """Tell whether a state shows so seldom in a finding that it does not join the answers through it."""
    return 1 - link.rows[1][0] < WEAK_LINE


class LinkTable(Value, frozen=True, eq=False):
    """The links and leaks of some nodes as arrays, whoever the parents are.

    Args:
        starts: links of node i are `starts[i]` to `starts[i + 1]`, shape (n_nodes + 1,).
        parent: positions among the parents, causes first, shape (n_links,).
        rows, weights: as in `Links`.
        leaks: as in `GateArrays`.
    """

    starts: np.ndarray
    parent: np.ndarray
    rows: FloatArray
    weights: FloatArray
    leaks: FloatArray

    def take(self, chosen: np.ndarray, before: int) -> Links:
        """Give some links; parents are counted without the first ones."""
        node = np.repeat(np.arange(len(self.starts) - 1), np.diff(self.starts))
        return Links(node[chosen], self.parent[chosen] - before, self.rows[chosen], self.weights[chosen])


def tabulate(nodes: Sequence[ExpandedNode], parents: Sequence[str]) -> LinkTable:
    """Write the links of some nodes from some parents into arrays; those from others are left out."""
    place, most = {key: i for i, key in enumerate(parents)}, max((len(node.grades) for node in nodes), default=2)
    found = [[link for link in node.links if link.parent in place] for node in nodes]
    links = [link for one in found for link in one]
    return LinkTable(
        starts=np.cumsum([0, *map(len, found)]),
        parent=np.array([place[link.parent] for link in links], dtype=np.intp),
        rows=np.array([_fill(link.rows[1], most) for link in links]).reshape(len(links), most),
        weights=np.array([link.weight for link in links], dtype=float),
        leaks=np.array([_fill(node.leak, most) for node in nodes]).reshape(len(nodes), most),
    )


def _fill(pmf: tuple[float, ...], most: int) -> tuple[float, ...]:
    return (*pmf, *(0.0,) * (most - len(pmf)))


class KeptLinks(Sequence[NodeLink]):
    """The links of one node, made from a table when somebody first looks at them."""

    __slots__ = ("_kept", "_made", "_node")

    def __init__(self, kept: "KeptUnit", node: int):
        self._kept, self._node = kept, node
        self._made: tuple[NodeLink, ...] | None = None

    @property
    def _links(self) -> tuple[NodeLink, ...]:
        if self._made is None:
            self._made = self._kept.links_of(self._node)
        return self._made

    def __len__(self) -> int:
        starts = self._kept.table.starts
        return int(starts[self._node + 1] - starts[self._node])

    def __getitem__(self, place: Any) -> Any:
        return self._links[place]

    def __iter__(self) -> Iterator[NodeLink]:
        return iter(self._links)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Sequence) and self._links == tuple(other)

    def __hash__(self) -> int:
        return hash(self._links)


class KeptUnit(Value, frozen=True, eq=False):
    """The links of all states and findings of one unit, written out before.

    Args:
        table: of the states, flattened, then the findings; all parents have two grades.
        marks: file, line and column of each link, shape (n_links, 3); files: names.
        parents: causes, then states.
        sizes: grades of each node.
    """

    table: LinkTable
    marks: np.ndarray
    files: tuple[str, ...]
    parents: tuple[str, ...]
    sizes: tuple[int, ...]

    def links_of(self, node: int) -> tuple[NodeLink, ...]:
        """Make the links of one node."""
        table, size = self.table, self.sizes[node]
        own = slice(table.starts[node], table.starts[node + 1])
        columns = (one[own].tolist() for one in (table.parent, table.rows[:, :size], table.weights, self.marks))
        sound = (1.0, *(0.0,) * (size - 1))
        return tuple(
            NodeLink(self.parents[parent], (sound, tuple(row)), weight, Mark(self.files[file], line, column))
            for parent, row, weight, (file, line, column) in zip(*columns, strict=True)
        )

    def lay_on(self, bare: Expansion) -> Expansion:
        """Give a unit that was written out without its lines the links and leaks that were kept."""
        leaks = [tuple(leak[:size]) for leak, size in zip(self.table.leaks.tolist(), self.sizes, strict=True)]

        def fill(nodes: Mapping[str, ExpandedNode], first: int) -> dict[str, ExpandedNode]:
            return {
                key: node.vary(leak=leaks[i], links=KeptLinks(self, i))
                for i, (key, node) in enumerate(nodes.items(), first)
            }

        return bare.vary(states=fill(bare.states, 0), findings=fill(bare.findings, len(bare.states)))


def tabulate_unit(expansion: Expansion) -> LinkTable:
    """Write all links of a unit into arrays."""
    return tabulate((*expansion.states.values(), *expansion.findings.values()), (*expansion.causes, *expansion.states))


def keep_unit(expansion: Expansion, table: LinkTable) -> bytes | None:
    """Write what a sheet says to the rules, and the links of its unit; None where a parent has more than two grades."""
    nodes = (*expansion.states.values(), *expansion.findings.values())
    links = [link for node in nodes for link in node.links]
    if any(len(link.rows) != 2 for link in links):
        return None
    files = {name: i for i, name in enumerate(dict.fromkeys(link.mark.file for link in links))}
    marks = [(files[link.mark.file], link.mark.line, link.mark.column) for link in links]
    stream = BytesIO()
    arrays = {name: getattr(table, name) for name in LinkTable.__struct_fields__}
    arrays |= {"marks": np.array(marks, dtype=np.int32).reshape(len(links), 3), "files": np.array([*files])}
    np.savez(stream, facts=np.frombuffer(encode_record(expansion.facts), np.uint8), **arrays)
    return stream.getvalue()


def restore_unit(knowledge: Knowledge, body: bytes) -> tuple[Expansion, LinkTable]:
    """Read what `keep_unit` wrote: the unit as it was written out.

    Args:
        knowledge: the rules that it was written out from.
    Raises: ValueError, TypeError, KeyError, IndexError, OSError, BadZipFile: it is something else, or of another unit.
    """
    with np.load(BytesIO(body), allow_pickle=False) as stored:
        facts = decode_record(UnitFacts, stored["facts"].tobytes())
        table = LinkTable(**{name: stored[name] for name in LinkTable.__struct_fields__})
        marks, files = stored["marks"], tuple(map(str, stored["files"]))
    bare = expand_knowledge(knowledge, facts, lines=False)
    nodes = (*bare.states.values(), *bare.findings.values())
    parents, sizes = (*bare.causes, *bare.states), tuple(len(node.grades) for node in nodes)
    n_links, most = len(table.parent), max(sizes, default=2)
    shapes = {one: getattr(table, one).shape for one in ("starts", "rows", "weights", "leaks")}
    wanted = {"starts": (len(nodes) + 1,), "rows": (n_links, most), "weights": (n_links,), "leaks": (len(nodes), most)}
    ends = (0, n_links) == (table.starts[0], table.starts[-1]) and (np.diff(table.starts) >= 0).all()
    if shapes != wanted or not ends or marks.shape != (n_links, 3):
        raise ValueError("tables of another unit")
    for numbers, beyond in ((table.parent, len(parents)), (marks[:, 0], len(files))):
        if numbers.size and not 0 <= numbers.min() <= numbers.max() < beyond:
            raise ValueError("links of another unit")
    chances = (table.rows, table.leaks)
    if not (table.weights > 0).all() or not all(((one >= 0) & (one <= 1)).all() for one in chances):
        raise ValueError("numbers of no unit")
    return KeptUnit(table, marks, files, parents, sizes).lay_on(bare), table


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
    numbers = (raise_leaks(arrays, lived, backgrounds), *(links.rows for links in arrays.links))
    return _assemble(arrays, *(one[None] for one in numbers), prior=prior, names=names)


def draw_tables(
    arrays: GateArrays,
    lived: Lived,
    backgrounds: Mapping[str, Background],
    names: tuple[str, ...],
    *,
    rng: "np.random.Generator",
    n_draws: int,
) -> HubTables:
    """Build tables from `n_draws` draws of the rules' numbers, side by side: leaks and links are Dirichlet around their means.

    Args: as `build_tables`; the prior of each is left even.
    """
    leaks = _draw_rows(raise_leaks(arrays, lived, backgrounds), arrays.leak_weights, rng, n_draws)
    drawn = [_draw_rows(links.rows, links.weights, rng, n_draws) for links in arrays.links]
    return _assemble(arrays, leaks, *drawn, prior=np.full(len(names) * n_draws, 1 / len(names)), names=names)


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
    """Cumulate leaks and links, shape (n_draws, n_rows, most_grades) each.

    Source: noisy-MAX, Diez 1993: cumulative distributions multiply.
    """
    n_draws, n_root = len(leaks), arrays.n_causes + 1
    cum_leaks, cum_causes, cum_states, cum_weak = (
        np.moveaxis(cumulate_rows(one), 0, 2) for one in (leaks, cause_rows, state_rows, weak_rows)
    )
    table = np.repeat(cum_leaks[..., None], n_root, axis=3)
    links, weak = arrays.from_causes, arrays.from_states_weakly
    table[links.node, :, :, links.parent + 1] *= cum_causes
    n_hidden, below, gates = arrays.n_hidden, arrays.from_states, {}
    p_states, p_shown = 1 - table[: arrays.n_states, 0], 1 - cum_weak
    every = np.arange(len(arrays.nodes) + 1)
    first, first_weak = np.searchsorted(below.node, every), np.searchsorted(weak.node, every)
    for i, node in enumerate(arrays.nodes[arrays.n_states :], arrays.n_states):
        own, size = slice(first[i], first[i + 1]), len(node.grades)
        for link in range(first_weak[i], first_weak[i + 1]):
            table[i, : size - 1] *= 1 - p_shown[link, : size - 1, :, None] * p_states[weak.parent[link]]
        parents = tuple(below.parent[own].tolist())
        table[i, size - 1], cum_states[own, size - 1] = 1.0, 1.0
        cum_hidden = cum_states[own, :size]
        cum_hidden = cum_hidden[..., 0] if n_draws == 1 else np.repeat(cum_hidden, n_root, axis=2)
        gates[node.id] = GateTable(node.id, size, table[i, :size].reshape(size, n_draws * n_root), parents, cum_hidden)
    return HubTables(
        ROOT,
        names,
        prior,
        hidden=tuple(node.id for node in arrays.nodes[:n_hidden]),
        p_hidden=p_states[:n_hidden].reshape(n_hidden, n_draws * n_root),
        gates=gates,
        n_draws=n_draws,
    )


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


def _draw_rows(means: FloatArray, weights: FloatArray, rng: "np.random.Generator", n_draws: int) -> FloatArray:
    """Draw pmfs around their means: shape (n_draws, n_rows, n_grades); an infinite weight keeps the mean."""
    if not len(means):
        return np.zeros((n_draws, *means.shape))
    finite = np.where(np.isfinite(weights), weights, 1.0)[:, None]
    shapes = np.where(means > 0, np.maximum(means * finite, SMALLEST_SHAPE), 0.0)
    drawn = rng.standard_gamma(shapes, size=(n_draws, *means.shape))
    totals = drawn.sum(axis=-1, keepdims=True)
    drawn = np.where(totals > 0, drawn / np.where(totals > 0, totals, 1.0), means)
    return np.where(np.isfinite(weights)[:, None], drawn, means)
