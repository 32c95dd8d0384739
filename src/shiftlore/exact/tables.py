"""Networks with one many-state root: the tables of a network in which, given the root, hidden variables are independent.

Shape of such a network: a root; yes/no hidden variables that only the root bears on; findings (leaky noisy-OR or
noisy-MAX) that the root and hidden variables bear on. Given a state of the root everything but the findings' gates
is a product, so all root states can be worked out side by side as the last axis of every array.
"""

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from functools import cached_property, lru_cache

import numpy as np

from shiftlore.basics.structs import Value

FloatArray = np.ndarray
TINY = 1e-300
"""What is divided by is this at least."""
SAME = 1e-12
"""Entries that differ by less are taken as equal: a state adds nothing there."""
ONE_KIND, SAME_SIGN = 1e-15, 1e-13
"""Columns that differ by less are one kind: probabilities made as 1 - product hold no more digits."""


class GateTable(Value, frozen=True, eq=False):
    """A finding's gate.

    Args:
        n_states: states of the finding.
        cum_root: shape (n_states, n_root): P(contribution of root and leak <= j | root state); last row 1.
        hidden: positions of the hidden parents.
        cum_hidden: shape (n_hidden_parents, n_states): P(contribution <= j) of each hidden parent when present; in
            tables that hold several draws side by side, shape (n_hidden_parents, n_states, n_root).
    """

    id: str
    n_states: int
    cum_root: FloatArray
    hidden: tuple[int, ...]
    cum_hidden: FloatArray


class LateGates(Mapping[str, GateTable]):
    """Gates that are written when they are asked for: a case speaks of few of them.

    Args:
        write: writes the gate of a finding.
    """

    def __init__(self, keys: Iterable[str], write: Callable[[str], GateTable]):
        self._keys, self._write, self._written = tuple(keys), write, dict[str, GateTable]()

    def __getitem__(self, key: str) -> GateTable:
        if key not in self._written:
            self._written[key] = self._write(key)
        return self._written[key]

    def __iter__(self) -> Iterator[str]:
        return iter(self._keys)

    def __len__(self) -> int:
        return len(self._keys)


class HubTables(Value, frozen=True, eq=False, dict=True):
    """All tables of one network, the root's states along the last axis.

    Args:
        prior: shape (n_root,).
        hidden: ids of the hidden variables.
        p_hidden: shape (n_hidden, n_root): P(hidden present | root state).
        gates: finding -> its gate.
        n_draws: draws of the numbers that stand side by side, each with all root states.
        late_stack: how all gates come into one table, where that is shorter than to write each of them first.
    """

    root: str
    root_states: tuple[str, ...]
    prior: FloatArray
    hidden: tuple[str, ...]
    p_hidden: FloatArray
    gates: Mapping[str, GateTable]
    n_draws: int = 1
    late_stack: "Callable[[], Stack] | None" = None

    @property
    def n_root(self) -> int:
        """Count the columns: the root's states, in each draw."""
        return self.p_hidden.shape[1]

    @cached_property
    def stack(self) -> "Stack":
        """All gates in one table, for what is asked of many findings at once."""
        return self.late_stack() if self.late_stack else stack_gates(self.gates)


class Stack(Value, frozen=True, eq=False):
    """The gates of many findings one under the other; the last state of each, always 1, is left out.

    Args:
        rows: finding -> its rows.
        cum_root: shape (n_rows, n_root).
        row, hidden, factor: one entry per row and hidden parent that lessens it: row, parent, P(contribution <= j);
            in the order of rows.
    """

    rows: Mapping[str, slice]
    cum_root: FloatArray
    row: np.ndarray
    hidden: np.ndarray
    factor: FloatArray


def stack_gates(gates: Mapping[str, GateTable]) -> Stack:
    """Lay gates one under the other."""
    own, rows, entries = {}, [], []
    n_rows = 0
    for key, gate in gates.items():
        own[key] = slice(n_rows, n_rows + gate.n_states - 1)
        rows.append(gate.cum_root[:-1])
        for parent, table in zip(gate.hidden, gate.cum_hidden, strict=True):
            entries += [(n_rows + j, parent, float(table[j])) for j in range(gate.n_states - 1) if table[j] < 1.0]
        n_rows += gate.n_states - 1
    entries.sort()
    columns = list(zip(*entries, strict=True)) or [(), (), ()]
    return Stack(
        own,
        np.concatenate(rows) if rows else np.zeros((0, 1)),
        np.array(columns[0], dtype=np.intp),
        np.array(columns[1], dtype=np.intp),
        np.array(columns[2], dtype=float),
    )


def cut_columns(tables: HubTables, columns: np.ndarray) -> HubTables:
    """Give tables of some of the root states alone, of one draw; their prior is cut out as it is."""
    assert tables.n_draws == 1, "in several draws every root state has its columns"
    whole = tables.gates
    gates = LateGates(whole, lambda key: whole[key].vary(cum_root=whole[key].cum_root[:, columns]))
    names = tuple(tables.root_states[i] for i in columns.tolist())
    return HubTables(
        tables.root,
        names,
        tables.prior[columns],
        hidden=tables.hidden,
        p_hidden=tables.p_hidden[:, columns],
        gates=gates,
    )


def as_rows(values: FloatArray) -> FloatArray:
    """Give one row per entry, to be held against root states: shape (n, 1) from (n,); others stay as they are."""
    return values[:, None] if values.ndim == 1 else values


def cumulate_rows(rows: FloatArray) -> FloatArray:
    """Add up pmfs along their last axis; the last entry is exactly 1."""
    cumulated = np.cumsum(rows, axis=-1)
    cumulated[..., -1] = 1.0
    return np.minimum(cumulated, 1.0)


def multiply_groups(values: FloatArray, groups: np.ndarray, n_groups: int) -> FloatArray:
    """Multiply rows group by group: shape (n_groups, ...) from (n_rows, ...); 1 for a group without rows.

    Args:
        groups: group of each row, ascending.
    Example:
        >>> multiply_groups(np.array([2.0, 3.0, 5.0]), np.array([0, 0, 2]), 3).tolist()
        [6.0, 1.0, 5.0]
    """
    return reduce_groups(np.multiply, values, groups, np.ones((n_groups, *values.shape[1:])))


def reduce_groups(how: np.ufunc, values: FloatArray, groups: np.ndarray, result: FloatArray) -> FloatArray:
    """Put rows together group by group; a group without rows keeps what stands in the result; groups ascend.

    All first rows at once, then all second ones, the longest groups first: `reduceat` is slow along columns.
    """
    if not len(groups):
        return result
    rows = np.arange(len(groups))
    ends = np.append((groups[1:] != groups[:-1]).nonzero()[0] + 1, len(groups))
    size = ends.copy()
    size[1:] -= ends[:-1]
    first = ends - size
    longest = (-size).argsort(kind="stable")
    rank = np.empty_like(longest)
    rank[longest] = rows[: len(longest)]
    place = rows - first.repeat(size)
    counts = np.bincount(place)
    begins = counts.cumsum() - counts
    order = np.empty_like(place)
    order[begins[place] + rank.repeat(size)] = rows
    values = values.take(order, axis=0)
    reduced = values[: counts[0]]
    for begin, count in zip(begins[1:].tolist(), counts[1:].tolist(), strict=True):
        how(reduced[:count], values[begin : begin + count], out=reduced[:count])
    result[groups[first[longest]]] = reduced
    return result


MOST_LESSENED, LEAST_ALIKE = 0.3, 1e-3
"""Share of the columns that may differ from the first, up to which only these are worked out; and how much of the first must be
left, lest what is divided by it be mere rounding."""


def multiply_lessened(
    table: FloatArray, present: FloatArray, row: np.ndarray, hidden: np.ndarray, factor: FloatArray
) -> FloatArray:
    """Multiply rows by 1 - P(hidden) (1 - factor) of each hidden parent that lessens them, shape (n_rows, n_root).

    Most causes bring a state about as seldom as no cause does: such columns share one product.
    Args:
        present: P(hidden present | root state), shape (n_hidden, n_root).
        row, hidden, factor: as in `Stack`.
    """
    base, n_root = present[:, 0], table.shape[1]
    parents, columns = np.nonzero(np.abs(present - base[:, None]) > ONE_KIND)
    alike = 1 - base[hidden] * (1 - factor)
    if len(columns) > MOST_LESSENED * present.size or alike.min(initial=1.0) < LEAST_ALIKE:
        kept = present[hidden]
        kept *= factor[:, None] - 1
        kept += 1
        return table * multiply_groups(kept, row, len(table))
    result = table * multiply_groups(alike, row, len(table))[:, None]
    first = np.searchsorted(parents, np.arange(len(present) + 1))
    count = np.diff(first)[hidden]
    entry = np.repeat(np.arange(len(hidden)), count)
    place = np.arange(len(entry)) + np.repeat(first[hidden] - np.cumsum(count) + count, count)
    lessened = 1 - present[parents[place], columns[place]] * (1 - factor[entry])
    np.multiply.at(result.reshape(-1), row[entry] * n_root + columns[place], lessened / alike[entry])
    return result


def join_columns(
    tables: HubTables, sets: Sequence[Sequence[int]], prior: FloatArray, names: Sequence[str]
) -> HubTables:
    """Give tables with further root states that stand for sets of single ones: each brings about what it would alone.

    Args:
        tables: of single root states; state 0 is the one without any cause.
        sets: per further root state the positions of its single states in `tables`.
        prior, names: of all states, the single ones first.
    Source: noisy-OR and noisy-MAX, Diez 1993: cumulative distributions of independent contributions multiply.
    """
    if not sets:
        return tables.vary(prior=prior, root_states=tuple(names))
    columns, single = pad_sets(sets), tables.gates
    p_hidden = np.concatenate([tables.p_hidden, 1 - join_states(1 - tables.p_hidden, columns)], axis=1)

    def write(key: str) -> GateTable:
        gate = single[key]
        cum_root = np.concatenate([gate.cum_root, join_states(gate.cum_root, columns)], axis=1)
        return gate.vary(cum_root=cum_root)

    def join_stack() -> Stack:
        stack = tables.stack
        return stack.vary(cum_root=np.concatenate([stack.cum_root, join_states(stack.cum_root, columns)], axis=1))

    gates = LateGates(single, write)
    return HubTables(
        tables.root, tuple(names), prior, hidden=tables.hidden, p_hidden=p_hidden, gates=gates, late_stack=join_stack
    )


def take_sets(tables: HubTables, columns: np.ndarray, findings: Iterable[str]) -> HubTables:
    """Give tables of sets of states alone, for these findings alone, with an even prior.

    Args:
        tables: of single root states, in one draw or several; state 0 is the one without any cause.
        columns: positions of the states of each set, filled up with 0, shape (largest, n_sets).
    """
    n, n_draws, own = columns.shape[1], tables.n_draws, [tables.gates[key] for key in findings]

    def join(rows: FloatArray) -> FloatArray:
        """Join the states of each draw."""
        n_root = tables.n_root // n_draws
        return join_states(rows.reshape(len(rows) * n_draws, n_root), columns).reshape(len(rows), n * n_draws)

    joined = join(np.concatenate([gate.cum_root for gate in own])) if own else np.zeros((0, 0))
    ends, gates = np.cumsum([gate.n_states for gate in own], dtype=np.intp), {}
    for gate, end in zip(own, ends.tolist(), strict=True):
        cum_hidden = gate.cum_hidden
        if n_draws > 1:  # a draw's numbers are the same in all its columns
            cum_hidden = np.repeat(cum_hidden[..., :: tables.n_root // n_draws], n, axis=-1)
        cum_root = joined[end - gate.n_states : end]
        gates[gate.id] = GateTable(gate.id, gate.n_states, cum_root, gate.hidden, cum_hidden)
    return HubTables(
        tables.root,
        tuple(map(str, range(n))),
        np.full(n * n_draws, 1 / n),
        hidden=tables.hidden,
        p_hidden=1 - join(1 - tables.p_hidden),
        gates=gates,
        n_draws=n_draws,
    )


def join_states(
    cumulated: FloatArray, columns: np.ndarray, none: int = 0, scale: FloatArray | float = 1.0
) -> FloatArray:
    """Multiply what single states add to the state without any, shape (n_rows, n_sets).

    Args:
        cumulated: shape (n_rows, n_root).
        columns: positions of the states of each set, filled up with `none`, the state without any; (largest, n_sets).
        scale: what else each row is multiplied by.
    """
    if not len(cumulated):
        return np.zeros((0, columns.shape[1]))
    relative = cumulated / np.maximum(cumulated[:, none, None], TINY)
    joined = (cumulated * scale).take(columns[0], axis=1)
    for row in columns[1:]:
        joined *= relative.take(row, axis=1)
    return joined


def pad_sets(sets: Sequence[Sequence[int]]) -> np.ndarray:
    """Lay sets of unlike size out side by side, filled up with state 0, shape (largest, n_sets)."""
    longest = max([1, *(len(member) for member in sets)])
    return (
        np.array([[*member, *(0,) * (longest - len(member))] for member in sets], dtype=np.intp).reshape(-1, longest).T
    )


def find_kinds(rows: FloatArray, n_draws: int = 1) -> tuple[np.ndarray, np.ndarray]:
    """Find the columns that differ: the first of each kind, and each column's kind.

    Args:
        n_draws: draws that stand side by side; columns that are equal in the first three are equal in all of them.
    """
    n = rows.shape[1] // n_draws
    taken = rows if n_draws == 1 else np.concatenate([rows[:, i * n : i * n + n] for i in range(min(n_draws, 3))])
    first, inverse = _rank_signs(np.rint(_row_weights(len(taken)) @ taken / SAME_SIGN))
    again = np.flatnonzero(first[inverse] != np.arange(n))
    if np.abs(taken[:, again] - taken[:, first[inverse[again]]]).max(initial=0.0) > ONE_KIND:
        _, first, inverse = np.unique(taken, axis=1, return_index=True, return_inverse=True)
    draws = np.arange(n_draws)[:, None]
    return (draws * n + first).ravel(), (draws * len(first) + inverse.ravel()).ravel()


def _rank_signs(signs: FloatArray) -> tuple[np.ndarray, np.ndarray]:
    """Give where each different number stands first, smallest number first, and which of them each one is."""
    order = signs.argsort(kind="stable")
    ranked = signs[order]
    begins = np.ones(len(order), dtype=bool)
    np.not_equal(ranked[1:], ranked[:-1], out=begins[1:])
    inverse = np.empty(len(order), dtype=np.intp)
    inverse[order] = np.cumsum(begins) - 1
    return order[begins], inverse


@lru_cache(512)
def _row_weights(n: int) -> FloatArray:
    """Give numbers by which rows are told apart once they are added up, shape (n,)."""
    weights: FloatArray = 2 + np.sin(np.arange(1, n + 1))
    return weights


def gather_sets(kinds: np.ndarray, n: int) -> tuple[np.ndarray, np.ndarray]:
    """Find the sets that differ, whatever the order of their members.

    Args:
        kinds: the kind of each member of each set, below n, shape (largest, n_sets).
    Returns: the members of each kind of set, shape (largest, n_kinds), and the kind of each set.
    """
    if len(kinds) == 2:
        code = np.minimum(*kinds) * n + np.maximum(*kinds)
        seen = np.zeros(n * n, dtype=bool)
        seen[code] = True
        codes = np.flatnonzero(seen)
        place = np.empty(n * n, dtype=np.intp)
        place[codes] = np.arange(len(codes))
        return np.array(np.divmod(codes, n)), place[code]
    kinds = np.sort(kinds, axis=0)
    code = kinds[0]
    for row in kinds[1:]:
        code = code * n + row
    _, at, back = np.unique(code, return_index=True, return_inverse=True)
    return kinds[:, at], back


def normalise(log_joint: FloatArray) -> tuple[FloatArray, float]:
    """Turn ln of a joint into probabilities that add up to 1, and ln of their sum."""
    highest = float(np.max(log_joint))
    unscaled = np.exp(log_joint - highest)
    total = float(unscaled.sum())
    return unscaled / total, highest + float(np.log(total))
