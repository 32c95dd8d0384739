"""Likelihoods of one case for single causes and for any sets of them, with the columns that are alike worked out once.

Telling answers that share hidden states form a group. Within it a sum over all hidden configurations is taken as a sum over
sets of gates that stay silent (inclusion and exclusion), each term a product over the hidden states; so a group is a few
array operations, whatever its states. Differences lose digits where a group's answers are hardly ever all there: `is_sharp`
tells whether that can matter, and then the engine that loses none is asked instead.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache

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

    def silent(self, weights: FloatArray) -> tuple[list[np.ndarray], FloatArray, FloatArray]:
        """Lay out every set of gates.

        Args:
            weights: factor of each hidden state of the case when present.
        Returns: which sets hold each gate; the sign of each set; and the factor of each hidden state when present where the
            gates of the set stay silent, shape (n_sets, n_rows).
        """
        inside, sign = _list_sets(len(self.pieces))
        kept = np.repeat(weights[self.rows][None], len(sign), axis=0)
        for own, misses in zip(inside, self.misses, strict=True):
            kept[own] *= misses
        return inside, sign, kept


@lru_cache(16)
def _list_sets(n: int) -> tuple[list[np.ndarray], FloatArray]:
    """List all sets of n gates: which sets hold each gate, and the sign of each set."""
    inside = (np.arange(1 << n)[:, None] >> np.arange(n)) & 1
    return [np.flatnonzero(column) for column in inside.T], 1.0 - 2.0 * (inside.sum(axis=1) % 2)


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
        self.q = 1 - self.p
        self.log_root, self.most, self.least = self.log_root[self.first], self.most[self.first], self.least[self.first]
        self.none = int(self.kind[0])
        if not np.isfinite(self.log_root[self.none]):
            raise TooHard
        self.groups = self._group()
        bare = [g for g, gate in enumerate(self.gates) if not len(gate.gate_hidden)]
        self.bare = self.root_misses[bare]
        inside = np.zeros(len(self.hidden), dtype=bool)
        for group in self.groups:
            inside[group.rows] = True
        self.outside = np.flatnonzero(~inside)
        work = sum(len(group.rows) << len(group.pieces) for group in self.groups)
        if work > MOST_WORK or any(len(group.pieces) > MOST_GATES for group in self.groups):
            raise TooHard
        self.work = work
        self._of_groups: dict[Group, tuple[FloatArray, FloatArray, FloatArray]] = {}

    def _group(self) -> list[Group]:
        """Group gates that share hidden states, directly or through others; those that have none stand in no group."""
        groups: list[tuple[set[int], list[int]]] = []
        for g, gate in enumerate(self.gates):
            hidden, members, rest = set(gate.gate_hidden.tolist()), [g], []
            if not hidden:
                continue
            for own, others in groups:
                if hidden & own:
                    hidden |= own
                    members += others
                else:
                    rest.append((own, others))
            groups = [*rest, (hidden, members)]
        return [self._close_group(sorted(members), hidden) for hidden, members in groups]

    def _close_group(self, members: list[int], hidden: set[int]) -> Group:
        rows = self.place[sorted(hidden)]
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
        weights = self.weights[self.outside, None]
        with np.errstate(divide="ignore"):
            log_p = self.log_root + np.log((weights + (1 - weights) * self.q[self.outside]).prod(axis=0))
            log_p += np.log((1 - self.bare).prod(axis=0))
            left = np.ones(len(self.first))
            for group in self.groups:
                _, total, free = self.of_group(group)
                log_p += np.log(np.maximum(total, 0.0))[group.kind]
                left = np.minimum(left, (total / np.maximum(free, TINY))[group.kind])
        return log_p, left

    def sum_group(self, group: Group, absent: FloatArray, root_misses: FloatArray) -> FloatArray:
        """Give P(these gates stay silent, products) for every set of a group's gates, shape (n_sets, n_columns).

        Args:
            absent: P(hidden absent), shape (n_rows, n_columns); root_misses: shape (n_gates, n_columns).
        """
        inside, _, kept = group.silent(self.weights)
        if len(group.pieces) == 1:
            terms = np.empty((2, absent.shape[1]))
            for term, own in zip(terms, kept, strict=True):
                factors = absent * (1 - own)[:, None]
                factors += own[:, None]
                factors.prod(axis=0, out=term)
        else:
            terms = np.ones((len(kept), absent.shape[1]))
            for column, row in zip(kept.T, absent, strict=True):
                terms *= column[:, None] + (1 - column)[:, None] * row
        for g, row in enumerate(root_misses):
            terms[inside[g]] *= row
        return terms

    def absent(self, group: Group) -> FloatArray:
        """Give P(each hidden state absent | one cause, answers), shape (n_rows, n_kinds of the group)."""
        _, sign, kept = group.silent(self.weights)
        absent = self.q[group.rows][:, group.first]
        terms, total, _ = self.of_group(group)
        without = np.zeros_like(absent)
        for one, own, term in zip(sign, kept, terms, strict=True):
            without += one * term / np.maximum(own[:, None] + (1 - own)[:, None] * absent, TINY)
        without *= absent
        without /= np.maximum(total, TINY)
        return np.clip(without, 0.0, 1.0, out=without)

    def of_group(self, group: Group) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Give the terms of a group for each kind of single cause, their sum, and the products alone."""
        if group not in self._of_groups:
            columns = self.root_misses[list(group.pieces)][:, group.first]
            terms = self.sum_group(group, self.q[group.rows][:, group.first], columns)
            self._of_groups[group] = (terms, group.silent(self.weights)[1] @ terms, terms[0])
        return self._of_groups[group]

    def weigh(self, members: np.ndarray) -> FloatArray:
        """Give ln P(answers | set) for sets of columns that stand together, shape (n_sets,).

        Args:
            members: root states of each set, filled up with 0, shape (largest, n_sets).
        """
        kinds, back = gather_sets(self.kind[members], len(self.first))
        more = len(kinds) - 1
        log_p = self.log_root[kinds].sum(axis=0) - more * self.log_root[self.none]
        with np.errstate(divide="ignore", invalid="ignore"):
            for piece in self.pieces:
                if piece.doubted:
                    top, seen = piece.doubted
                    joined = join(top[self.first][None], kinds, self.none)[0]
                    apart = np.log(1 - seen * (1 - top[self.first]))
                    log_p += np.log(1 - seen * (1 - joined)) - apart[kinds].sum(axis=0) + more * apart[self.none]
            weights = self.weights[self.outside, None]
            factors = join(self.q[self.outside], kinds, self.none, 1 - weights)
            factors += weights
            log_p += np.log(factors.prod(axis=0))
            log_p += np.log((1 - join(self.bare, kinds, self.none)).prod(axis=0))
            for group in self.groups:
                log_p += np.log(np.maximum(self._sum_sets(group, kinds), 0.0))
        return np.nan_to_num(log_p, nan=-np.inf, neginf=-np.inf)[back]

    def _sum_sets(self, group: Group, kinds: np.ndarray) -> FloatArray:
        """Sum a group for sets, each kind of set once, shape (n_sets,)."""
        own, back = gather_sets(group.kind[kinds], len(group.first))
        columns, none = group.first[own], self.none
        absent = join(self.q[group.rows], columns, none)
        misses = join(self.root_misses[list(group.pieces)], columns, none)
        total: FloatArray = group.silent(self.weights)[1] @ self.sum_group(group, absent, misses)
        return total[back]


def join(cumulated: FloatArray, kinds: np.ndarray, none: int, scale: FloatArray | float = 1.0) -> FloatArray:
    """Multiply what single columns add to the one without any, shape (n_rows, n_sets), as `exact.tables.join_states`.

    Args:
        scale: what else each row is multiplied by.
    """
    relative = cumulated / np.maximum(cumulated[:, none, None], TINY)
    joined = (cumulated * scale).take(kinds[0], axis=1)
    for row in kinds[1:]:
        joined *= relative.take(row, axis=1)
    return joined


def find_kinds(rows: FloatArray) -> tuple[np.ndarray, np.ndarray]:
    """Find the columns that differ: a column of each kind, and the kind of each column."""
    signs = np.rint(_list_signs(len(rows)) @ rows / SAME_SIGN)
    order = signs.argsort(kind="stable")
    ranked = signs[order]
    begins = np.empty(len(order), dtype=bool)
    begins[0] = True
    np.not_equal(ranked[1:], ranked[:-1], out=begins[1:])
    kind = np.empty(len(order), dtype=np.intp)
    kind[order] = np.cumsum(begins) - 1
    return order[begins], kind


@lru_cache(512)
def _list_signs(n: int) -> FloatArray:
    """Give numbers by which rows are told apart once they are added up."""
    signs: FloatArray = 2 + np.sin(np.arange(1, n + 1))
    return signs


def gather_sets(kinds: np.ndarray, n: int) -> tuple[np.ndarray, np.ndarray]:
    """Find the sets that differ, whatever the order of their members.

    Args:
        kinds: the kind of each member of each set, below n, shape (largest, n_sets).
    Returns: the members of each kind of set, shape (largest, n_kinds), and the kind of each set.
    """
    if len(kinds) == 2:
        low, high = np.minimum(*kinds), np.maximum(*kinds)
        code = low * n + high
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
