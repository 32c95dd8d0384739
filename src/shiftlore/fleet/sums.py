"""Likelihoods of one case for single causes and for any sets of them, with the columns that are alike worked out once.

Telling answers that share hidden states form a group. Within it a sum over all hidden configurations is taken as a sum over
sets of gates that stay silent (inclusion and exclusion), each term a product over the hidden states; so a group is a few
array operations, whatever its states. Differences lose digits where a group's answers are hardly ever all there: `is_sharp`
tells whether that can matter, and then the engine that loses none is asked instead.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from shiftlore.exact import FloatArray
from shiftlore.fleet.grounds import Ground, Piece

MOST_GATES = 5
"""Gates of a group; more are left to the engine."""
MOST_WORK = 4000
"""Hidden states of all groups, times two to the number of their gates; more is left to the engine."""
SAME_SIGN = 1e-13
"""Columns whose signs differ by less are one kind, as in `exact.sums`."""
SHARP = 1e-6
"""Part of a product that must be left of it in a column that matters."""
TINY = 1e-300
LOWEST = -1e6


class TooHard(Exception):
    """The case is left to the engine."""


@dataclass(frozen=True, eq=False)
class Group:
    """Gates that share hidden states.

    Args:
        pieces: positions of its gates among those of the case.
        rows: positions of its hidden states among those of the case.
        misses: P(a hidden state does not set off a gate), shape (n_gates, n_rows).
        first: a column of each kind; kind: the kind of each column.
    """

    pieces: tuple[int, ...]
    rows: np.ndarray
    misses: FloatArray
    first: np.ndarray
    kind: np.ndarray

    @cached_property
    def silent(self) -> tuple[np.ndarray, FloatArray, FloatArray]:
        """Every set of its gates: which are in it, shape (n_sets, n_gates); its sign; and its misses, (n_sets, n_rows)."""
        n = len(self.pieces)
        inside = (np.arange(1 << n)[:, None] >> np.arange(n)) & 1
        misses = np.ones((1 << n, len(self.rows)))
        for g in range(n):
            misses[inside[:, g] > 0] *= self.misses[g]
        return inside, 1.0 - 2.0 * (inside.sum(axis=1) % 2), misses


class CaseSums:
    """The answers of one case.

    Args:
        ground: the tables.
        pieces: the answers, split.
    Raises: TooHard: they hang together too much.
    """

    def __init__(self, ground: Ground, pieces: Sequence[Piece]):
        self.pieces = pieces
        self.gates = [piece for piece in pieces if piece.root_misses is not None]
        weights = np.ones(len(ground.p_hidden))
        for piece in pieces:
            weights[piece.hidden] *= piece.factors
        used = weights != 1.0
        for gate in self.gates:
            used[gate.gate_hidden] = True
        self.hidden = np.flatnonzero(used)
        self.place = np.full(len(weights), -1)
        self.place[self.hidden] = np.arange(len(self.hidden))
        self.weights = weights[self.hidden]
        self.log_root = sum((piece.log_root for piece in pieces), np.zeros(ground.p_hidden.shape[1]))
        self.most = sum((piece.most for piece in pieces), np.zeros_like(self.log_root))
        self.least = sum((piece.least for piece in pieces), np.zeros_like(self.log_root))
        self.p = ground.p_hidden[self.hidden]
        misses = [gate.root_misses for gate in self.gates]
        self.root_misses = np.array(misses) if misses else np.zeros((0, self.p.shape[1]))
        rows = [self.p, self.root_misses, np.maximum(np.stack([self.log_root, self.most, self.least]), LOWEST)]
        rows += [piece.doubted[0][None] for piece in pieces if piece.doubted]
        self.first, self.kind = find_kinds(np.concatenate(rows))
        self.p, self.root_misses = self.p[:, self.first], self.root_misses[:, self.first]
        self.log_root, self.most, self.least = self.log_root[self.first], self.most[self.first], self.least[self.first]
        self.none = int(self.kind[0])
        if not np.isfinite(self.log_root[self.none]):
            raise TooHard
        self.groups = self._group()
        inside = np.zeros(len(self.hidden), dtype=bool)
        for group in self.groups:
            inside[group.rows] = True
        self.outside = np.flatnonzero(~inside)
        work = sum(len(group.rows) << len(group.pieces) for group in self.groups)
        if work > MOST_WORK or any(len(group.pieces) > MOST_GATES for group in self.groups):
            raise TooHard
        self.work = work

    def _group(self) -> list[Group]:
        """Group gates that share hidden states, directly or through others."""
        groups: list[tuple[set[int], list[int]]] = []
        for g, gate in enumerate(self.gates):
            hidden, members, rest = set(gate.gate_hidden.tolist()), [g], []
            for own, others in groups:
                if hidden & own:
                    hidden |= own
                    members += others
                else:
                    rest.append((own, others))
            groups = [*rest, (hidden, members)]
        return [self._close_group(sorted(members), hidden) for hidden, members in groups]

    def _close_group(self, members: list[int], hidden: set[int]) -> Group:
        rows = self.place[sorted(hidden)] if hidden else np.zeros(0, dtype=np.intp)
        place = {h: i for i, h in enumerate(rows.tolist())}
        misses = np.ones((len(members), len(rows)))
        for row, g in zip(misses, members, strict=True):
            gate = self.gates[g]
            row[[place[h] for h in self.place[gate.gate_hidden].tolist()]] = gate.misses
        first, kind = find_kinds(np.concatenate([self.p[rows], self.root_misses[members]]))
        return Group(tuple(members), rows, misses, first, kind)

    @cached_property
    def single(self) -> tuple[FloatArray, FloatArray]:
        """ln P(answers | one cause), and how much of each group's products is left at least, shape (n_kinds,) each."""
        p, weights = self.p[self.outside], self.weights[self.outside, None]
        with np.errstate(divide="ignore"):
            log_p = self.log_root + np.log((1 - p * (1 - weights)).prod(axis=0))
            left = np.ones(len(self.first))
            for group in self.groups:
                total, free = self.sum_group(group, self.p[group.rows][:, group.first], self._misses_of(group))
                log_p += np.log(np.maximum(total, 0.0))[group.kind]
                left = np.minimum(left, (total / np.maximum(free, TINY))[group.kind])
        return log_p, left

    def _misses_of(self, group: Group) -> FloatArray:
        return self.root_misses[list(group.pieces)][:, group.first]

    def sum_group(self, group: Group, p: FloatArray, root_misses: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Sum a group over its hidden states: P(all gates show, products), and the products alone, shape (n_columns,).

        Args:
            p: P(hidden present), shape (n_rows, n_columns); root_misses: shape (n_gates, n_columns).
        """
        weights = self.weights[group.rows]
        if len(group.pieces) == 1:
            free = (1 - p * (1 - weights)[:, None]).prod(axis=0)
            missed = (1 - p * (1 - weights * group.misses[0])[:, None]).prod(axis=0)
            return free - root_misses[0] * missed, free
        terms = self._terms(group, p, root_misses)
        return group.silent[1] @ terms, terms[0]

    def _terms(self, group: Group, p: FloatArray, root_misses: FloatArray) -> FloatArray:
        """Give P(these gates stay silent, products) for every set of gates, shape (n_sets, n_columns)."""
        inside, _, misses = group.silent
        lost = 1 - self.weights[group.rows] * misses
        terms = np.ones((len(lost), p.shape[1]))
        for row, p_row in zip(lost.T, p, strict=True):
            terms *= 1 - row[:, None] * p_row
        for g in range(len(group.pieces)):
            terms[inside[:, g] > 0] *= root_misses[g]
        return terms

    def absent(self, group: Group) -> FloatArray:
        """Give P(each hidden state absent | one cause, answers), shape (n_rows, n_kinds of the group)."""
        p, (_, sign, misses) = self.p[group.rows][:, group.first], group.silent
        lost = 1 - self.weights[group.rows] * misses
        terms = self._terms(group, p, self._misses_of(group))
        total = np.maximum(sign @ terms, TINY)
        each = 1 - lost[:, :, None] * p[None]
        without = np.einsum("s,sk,shk->hk", sign, terms, 1 / np.maximum(each, TINY))
        return np.clip((1 - p) * without / total, 0.0, 1.0)

    def weigh(self, members: np.ndarray) -> FloatArray:
        """Give ln P(answers | set) for sets of columns that stand together, shape (n_sets,).

        Args:
            members: root states of each set, filled up with 0, shape (largest, n_sets).
        """
        kinds = np.sort(self.kind[members], axis=0)
        n = len(self.first)
        code = kinds[0]
        for row in kinds[1:]:
            code = code * n + row
        _, at, back = np.unique(code, return_index=True, return_inverse=True)
        kinds = kinds[:, at]
        more = len(kinds) - 1
        log_p = self.log_root[kinds].sum(axis=0) - more * self.log_root[self.none]
        with np.errstate(divide="ignore", invalid="ignore"):
            for piece in self.pieces:
                if piece.doubted:
                    top, seen = piece.doubted
                    joined = self._join(top[self.first][None], kinds)[0]
                    apart = np.log(1 - seen * (1 - top[self.first]))
                    log_p += np.log(1 - seen * (1 - joined)) - apart[kinds].sum(axis=0) + more * apart[self.none]
            p = 1 - self._join(1 - self.p[self.outside], kinds)
            log_p += np.log((1 - p * (1 - self.weights[self.outside, None])).prod(axis=0))
            for group in self.groups:
                log_p += np.log(np.maximum(self._sum_sets(group, kinds), 0.0))
        return np.nan_to_num(log_p, nan=-np.inf, neginf=-np.inf)[back]

    def _sum_sets(self, group: Group, kinds: np.ndarray) -> FloatArray:
        """Sum a group for sets, each kind of set once, shape (n_sets,)."""
        own = np.sort(group.kind[kinds], axis=0)
        code = own[0]
        for row in own[1:]:
            code = code * len(group.first) + row
        _, at, back = np.unique(code, return_index=True, return_inverse=True)
        columns, none = group.first[own[:, at]], self.none
        p = 1 - join(1 - self.p[group.rows], columns, none)
        misses = join(self.root_misses[list(group.pieces)], columns, none)
        return self.sum_group(group, p, misses)[0][back]

    def _join(self, cumulated: FloatArray, kinds: np.ndarray) -> FloatArray:
        return join(cumulated, kinds, self.none)


def join(cumulated: FloatArray, kinds: np.ndarray, none: int) -> FloatArray:
    """Multiply what single columns add to the one without any, shape (n_rows, n_sets), as `exact.tables.join_states`."""
    relative = cumulated / np.maximum(cumulated[:, none, None], TINY)
    joined = cumulated.take(kinds[0], axis=1)
    for row in kinds[1:]:
        joined *= relative.take(row, axis=1)
    return joined


def find_kinds(rows: FloatArray) -> tuple[np.ndarray, np.ndarray]:
    """Find the columns that differ: a column of each kind, and the kind of each column."""
    signs = np.rint((2 + np.sin(np.arange(1, len(rows) + 1))) @ rows / SAME_SIGN)
    _, first, kind = np.unique(signs, return_index=True, return_inverse=True)
    return first, kind
