"""Telling answers that share hidden states, summed together in a few array operations.

The sum over all hidden states is taken in the shorter of two ways: over the hidden states' ways, each with the chance that
all gates show; or over sets of gates that stay silent (inclusion and exclusion), each a product over the hidden states. The
second takes differences, which lose digits where the answers are hardly ever all there: `left` tells how much is left.
"""

from dataclasses import dataclass
from functools import cached_property, lru_cache

import numpy as np

from shiftlore.exact import FloatArray

TINY = 1e-300


@dataclass(frozen=True, eq=False)
class GateGroup:
    """Gates that share hidden states.

    Args:
        gates: positions of its gates among those of the case.
        rows: positions of its hidden states among those of the case.
        weights: factor of each hidden state when present, shape (n_rows,).
        misses: P(a hidden state does not set off a gate), shape (n_gates, n_rows).
        absent: P(hidden absent | kind of column), shape (n_rows, n_kinds); root_misses: shape (n_gates, n_kinds).
        first: a column of the case of each kind; kind: the kind of each column; none: the kind of the one without any cause.
    """

    gates: tuple[int, ...]
    rows: np.ndarray
    weights: FloatArray
    misses: FloatArray
    absent: FloatArray
    root_misses: FloatArray
    first: np.ndarray
    kind: np.ndarray
    none: int

    @property
    def work(self) -> int:
        """Count the terms of the shorter way, times what each is a product of."""
        return min(len(self.gates) << len(self.rows), len(self.rows) << len(self.gates))

    @property
    def _over_hidden(self) -> bool:
        return len(self.gates) << len(self.rows) <= len(self.rows) << len(self.gates)

    @cached_property
    def _ways(self) -> tuple[list[np.ndarray], FloatArray]:
        """Where each hidden state is present among all of their ways, and P(its gates are missed), shape (n_gates, n_ways)."""
        present, _ = list_subsets(len(self.rows))
        missed = np.ones((len(self.gates), 1 << len(self.rows)))
        for on, misses in zip(present, self.misses.T, strict=True):
            missed[:, on] *= misses[:, None]
        return present, missed

    @cached_property
    def _silent(self) -> tuple[list[np.ndarray], FloatArray, FloatArray]:
        """Which sets of gates hold each gate, the sign of each set, and what is left of each hidden state when present."""
        inside, sign = list_subsets(len(self.gates))
        kept = np.repeat(self.weights[None], len(sign), axis=0)
        for own, misses in zip(inside, self.misses, strict=True):
            kept[own] *= misses
        return inside, sign, kept

    def _terms(self, absent: FloatArray, root_misses: FloatArray) -> FloatArray:
        """Give the terms of the sum, signs left out, shape (n_terms, n_columns)."""
        if self._over_hidden:
            present, missed = self._ways
            terms = np.ones((missed.shape[1], absent.shape[1]))
            for on, weight, row in zip(present, self.weights.tolist(), absent, strict=True):
                off = np.ones(len(terms), dtype=bool)
                off[on] = False
                terms[on] *= weight * (1 - row)
                terms[off] *= row
            for own, root in zip(missed, root_misses, strict=True):
                terms *= 1 - own[:, None] * root
            return terms
        inside, _, kept = self._silent
        if len(self.gates) == 1:
            terms = np.empty((2, absent.shape[1]))
            for term, own in zip(terms, kept, strict=True):
                factors = absent * (1 - own)[:, None]
                factors += own[:, None]
                factors.prod(axis=0, out=term)
        else:
            terms = np.ones((len(kept), absent.shape[1]))
            for column, row in zip(kept.T, absent, strict=True):
                terms *= column[:, None] + (1 - column)[:, None] * row
        for own, root in zip(inside, root_misses, strict=True):
            terms[own] *= root
        return terms

    def _add(self, terms: FloatArray) -> FloatArray:
        total: FloatArray = terms.sum(axis=0) if self._over_hidden else self._silent[1] @ terms
        return total

    @cached_property
    def _own(self) -> FloatArray:
        return self._terms(self.absent, self.root_misses)

    @cached_property
    def total(self) -> FloatArray:
        """P(all gates show, products | kind of column), shape (n_kinds,)."""
        return np.maximum(self._add(self._own), 0.0)

    @cached_property
    def free(self) -> FloatArray:
        """P(products alone | kind of column), shape (n_kinds,)."""
        weights = self.weights[:, None]
        free: FloatArray = (weights + (1 - weights) * self.absent).prod(axis=0)
        return free

    @property
    def left(self) -> FloatArray:
        """Tell how much of the products is left where differences are taken, shape (n_kinds,)."""
        return np.ones_like(self.total) if self._over_hidden else self.total / np.maximum(self.free, TINY)

    def p_absent(self) -> FloatArray:
        """Give P(each hidden state absent | kind of column, answers), shape (n_rows, n_kinds)."""
        without = np.zeros_like(self.absent)
        if self._over_hidden:
            for row, on in zip(without, self._ways[0], strict=True):
                row += self.total - self._own[on].sum(axis=0)
        else:
            for sign, kept, term in zip(*self._silent[1:], self._own, strict=True):
                without += sign * term / np.maximum(kept[:, None] + (1 - kept)[:, None] * self.absent, TINY)
            without *= self.absent
        without /= np.maximum(self.total, TINY)
        return np.clip(without, 0.0, 1.0, out=without)

    def sum_sets(self, kinds: np.ndarray) -> FloatArray:
        """Sum for sets of columns that stand together, shape (n_sets,).

        Args:
            kinds: columns of the case, shape (largest, n_sets).
        """
        own, back = gather_sets(self.kind[kinds], self.absent.shape[1])
        absent = join(self.absent, own, self.none)
        total: FloatArray = self._add(self._terms(absent, join(self.root_misses, own, self.none)))
        return np.maximum(total, 0.0)[back]


@lru_cache(32)
def list_subsets(n: int) -> tuple[list[np.ndarray], FloatArray]:
    """List all sets of n: which sets hold each member, and the sign of each set."""
    inside = (np.arange(1 << n)[:, None] >> np.arange(n)) & 1
    return [np.flatnonzero(column) for column in inside.T], 1.0 - 2.0 * (inside.sum(axis=1) % 2)


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
