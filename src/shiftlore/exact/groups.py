"""Telling answers that share hidden states, summed together by kinds of columns.

Where there are few of them the sum over all hidden states is taken in a few array operations, in the shorter of two ways: over
the hidden states' ways, each with the chance that all gates show; or over sets of gates that stay silent (inclusion and
exclusion), each a product over the hidden states. The second takes differences, which lose digits where the answers are hardly
ever all there: `left` tells how much is left. More of them are summed along chains (`exact.sums`), if that can be done at all.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache

import numpy as np

from shiftlore.exact.answers import Gate
from shiftlore.exact.chains import Cluster
from shiftlore.exact.kinds import gather_sets
from shiftlore.exact.sums import Change, ClusterSum
from shiftlore.exact.tables import FloatArray, join_states

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
        cluster: in which order it is summed along chains; None where it is summed in a few operations.
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
    cluster: Cluster | None = None

    @property
    def work(self) -> int:
        """Count the terms of the sum, times what each is a product of."""
        return count_work(len(self.gates), len(self.rows)) if self.cluster is None else self.cluster.work

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

    def _chain(self, absent: FloatArray, root_misses: FloatArray) -> ClusterSum:
        """Sum along chains: its gates and hidden states by their places in the group."""
        assert self.cluster is not None
        gates = [
            Gate("", tuple(np.flatnonzero(own < 1.0).tolist()), own[own < 1.0], root)
            for own, root in zip(self.misses, root_misses, strict=True)
        ]
        return ClusterSum(self.cluster, gates, 1 - absent, self.weights)

    @cached_property
    def _chains(self) -> ClusterSum:
        return self._chain(self.absent, self.root_misses)

    @cached_property
    def _own(self) -> FloatArray:
        return self._terms(self.absent, self.root_misses)

    @cached_property
    def total(self) -> FloatArray:
        """P(all gates show, products | kind of column), shape (n_kinds,)."""
        return self._chains.total if self.cluster else np.maximum(self._add(self._own), 0.0)

    @cached_property
    def free(self) -> FloatArray:
        """P(products alone | kind of column), shape (n_kinds,)."""
        weights = self.weights[:, None]
        free: FloatArray = (weights + (1 - weights) * self.absent).prod(axis=0)
        return free

    @property
    def left(self) -> FloatArray:
        """Tell how much of the products is left where differences are taken, shape (n_kinds,)."""
        if self.cluster or self._over_hidden:
            return np.ones_like(self.total)
        return self.total / np.maximum(self.free, TINY)

    def p_absent(self) -> FloatArray:
        """Give P(each hidden state absent | kind of column, answers), shape (n_rows, n_kinds)."""
        if self.cluster:
            return np.minimum(self._chains.ask([Change(((h, 0.0),)) for h in range(len(self.rows))]), 1.0)
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
        absent = join_states(self.absent, own, self.none)
        root_misses = join_states(self.root_misses, own, self.none)
        if self.cluster:
            return self._chain(absent, root_misses).total[back]
        return np.maximum(self._add(self._terms(absent, root_misses)), 0.0)[back]


def count_work(n_gates: int, n_rows: int) -> int:
    """Count the terms of the shorter way, times what each is a product of."""
    return min(n_gates << n_rows, n_rows << n_gates)


def join_groups(parents: Sequence[Sequence[int]]) -> list[tuple[list[int], list[int]]]:
    """Put gates together that share hidden states, directly or through others; those that have none stand in no group.

    Args:
        parents: hidden states of each gate.
    Returns: positions of the gates, and the hidden states, of each group.
    """
    groups: list[tuple[set[int], list[int]]] = []
    for g, own in enumerate(parents):
        hidden, members, rest = set(own), [g], []
        if not hidden:
            continue
        for theirs, others in groups:
            if hidden & theirs:
                hidden |= theirs
                members += others
            else:
                rest.append((theirs, others))
        groups = [*rest, (hidden, members)]
    return [(sorted(members), sorted(hidden)) for hidden, members in groups]


@lru_cache(32)
def list_subsets(n: int) -> tuple[list[np.ndarray], FloatArray]:
    """List all sets of n: which sets hold each member, and the sign of each set."""
    inside = (np.arange(1 << n)[:, None] >> np.arange(n)) & 1
    return [np.flatnonzero(column) for column in inside.T], 1.0 - 2.0 * (inside.sum(axis=1) % 2)
