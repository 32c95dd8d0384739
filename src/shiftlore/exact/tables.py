"""Networks with one many-state root: the tables of a network in which, given the root, hidden variables are independent.

Shape of such a network: a root; yes/no hidden variables that only the root bears on; findings (leaky noisy-OR or
noisy-MAX) that the root and hidden variables bear on. Given a state of the root everything but the findings' gates
is a product, so all root states can be worked out side by side as the last axis of every array.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

FloatArray = np.ndarray


@dataclass(frozen=True, eq=False)
class GateTable:
    """A finding's gate.

    Args:
        n_states: states of the finding.
        cum_root: shape (n_states, n_root): P(contribution of root and leak <= j | root state); last row 1.
        hidden: positions of the hidden parents.
        cum_hidden: shape (n_hidden_parents, n_states): P(contribution <= j) of each hidden parent when present.
    """

    id: str
    n_states: int
    cum_root: FloatArray
    hidden: tuple[int, ...]
    cum_hidden: FloatArray


@dataclass(frozen=True, eq=False)
class HubTables:
    """All tables of one network, the root's states along the last axis.

    Args:
        prior: shape (n_root,).
        hidden: ids of the hidden variables.
        p_hidden: shape (n_hidden, n_root): P(hidden present | root state).
        gates: finding -> its gate.
    """

    root: str
    root_states: tuple[str, ...]
    prior: FloatArray
    hidden: tuple[str, ...]
    p_hidden: FloatArray
    gates: Mapping[str, GateTable]

    @property
    def n_root(self) -> int:
        """Count the root's states."""
        return len(self.root_states)

    @cached_property
    def stack(self) -> "Stack":
        """All gates in one table, for what is asked of many findings at once."""
        return stack_gates(self.gates)


@dataclass(frozen=True, eq=False)
class Stack:
    """The gates of many findings one under the other; the last state of each, always 1, is left out.

    Args:
        start: finding -> its first row.
        cum_root: shape (n_rows, n_root).
        row, hidden, factor: one entry per row and hidden parent that lessens it: row, parent, P(contribution <= j);
            in the order of rows.
    """

    start: Mapping[str, int]
    cum_root: FloatArray
    row: np.ndarray
    hidden: np.ndarray
    factor: FloatArray


def stack_gates(gates: Mapping[str, GateTable]) -> Stack:
    """Lay gates one under the other."""
    start, rows, entries = {}, [], []
    n_rows = 0
    for key, gate in gates.items():
        start[key] = n_rows
        rows.append(gate.cum_root[:-1])
        for parent, table in zip(gate.hidden, gate.cum_hidden, strict=True):
            entries += [(n_rows + j, parent, float(table[j])) for j in range(gate.n_states - 1) if table[j] < 1.0]
        n_rows += gate.n_states - 1
    entries.sort()
    columns = list(zip(*entries, strict=True)) or [(), (), ()]
    return Stack(
        start, np.concatenate(rows) if rows else np.zeros((0, 1)),
        np.array(columns[0], dtype=np.intp), np.array(columns[1], dtype=np.intp), np.array(columns[2], dtype=float),
    )


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
    result = np.ones((n_groups, *values.shape[1:]))
    if len(groups):
        first = np.flatnonzero(np.r_[True, groups[1:] != groups[:-1]])
        result[groups[first]] = np.multiply.reduceat(values, first, axis=0)
    return result


def join_columns(tables: HubTables, members: Sequence[Sequence[int]], prior: FloatArray, names: Sequence[str]) -> HubTables:
    """Give tables in which root states stand together for sets of single ones: each brings about what it would alone.

    Args:
        tables: of single root states; state 0 is the one without any cause.
        members: per new root state the positions of its single states in `tables`; empty for none.
        prior: of the new states.
        names: of the new states.
    Source: noisy-OR and noisy-MAX, Diez 1993: cumulative distributions of independent contributions multiply.
    """
    longest = max((len(member) for member in members), default=0)
    columns = np.zeros((longest, len(members)), dtype=np.intp)
    for i, member in enumerate(members):
        columns[: len(member), i] = member

    def spread(cumulated: FloatArray) -> FloatArray:
        with np.errstate(divide="ignore", invalid="ignore"):
            relative = np.where(cumulated > 0, cumulated / cumulated[:, :1], 0.0)
        joined = np.repeat(cumulated[:, :1], len(members), axis=1)
        for row in columns:
            joined *= relative[:, row]
        if longest:
            single = np.array([len(member) == 1 for member in members])
            joined[:, single] = cumulated[:, columns[0, single]]
        return joined

    stacked = np.concatenate([gate.cum_root for gate in tables.gates.values()])
    joined, gates, row = spread(stacked), {}, 0
    for key, gate in tables.gates.items():
        gates[key] = GateTable(key, gate.n_states, joined[row : row + gate.n_states], gate.hidden, gate.cum_hidden)
        row += gate.n_states
    return HubTables(tables.root, tuple(names), prior, tables.hidden, 1 - spread(1 - tables.p_hidden), gates)
