"""How much more likely the answers become when another cause stands beside one: bounds for all pairs at once.

Let a be a root state and b another that joins it. What b adds, directly or through hidden variables that it brings
about, is independent of what a does. So

- at least: the answers are as likely as under a alone, times what b is sure to cost in sound answers;
- at most: where b sets gates off, a need not. Given a, telling answers support each other (Harris), so P(all) is at
  least P(the others) times the product of P(each that b takes over); relieving a of a gate f is worth at most
  1 / P(f | a), and relieving it of a whole group at most 1 / P(group | a).

Both are sums and products over the few parents that b bears on, taken for kinds of columns: what a group of answers makes of a
pair depends on the kinds of both in that group alone. Bounds need few digits, so they are worked out in single precision where
their range allows it: it is what is opened that is weighed with all of them.
Source: Harris 1960, "A lower bound for the critical probability in a certain percolation process", lemma 4.1.
"""

from functools import cached_property

import numpy as np

from shiftlore.exact.column_sums import ColumnSums, GateGroup
from shiftlore.exact.tables import SAME, TINY, FloatArray, reduce_groups

MOST = 1e260
MOST_SHORT, WIDEST_SHORT = 1e30, 50.0
"""Most that joining is worth in single precision, and how far apart likelihoods may lie (ln) for it."""


class PairBounds:
    """What pairs of states make of the answers; all likelihoods are over exp(scale), all arrays by kinds of columns.

    Args:
        sums: the answers.
    Attributes:
        alone: likelihood of one state, at least where it is bounded, shape (n_kinds,).
        cost: by what a state that adds nothing else lessens the likelihood of another at most, shape (n_kinds,).
    Raises: ImpossibleEvidence: no root state allows all of the answers; names a smallest clash.
    """

    def __init__(self, sums: ColumnSums):
        self.sums = sums
        log_low, log_high = sums.bounds
        self.scale = float(log_high.max())
        self.alone, self._most_alone = np.exp(log_low - self.scale), np.exp(log_high - self.scale)
        self.added = _clear(1 - sums.q / np.maximum(sums.q[:, sums.none, None], TINY))
        dear = np.maximum(1 - self.added * (1 - sums.weights[:, None]), TINY).prod(axis=0)
        self.cost = np.exp(sums.most) * dear
        is_short = self.scale - float(log_low.min()) < WIDEST_SHORT and not sums.is_hard
        self.kind: type[np.floating] = np.float32 if is_short else np.float64
        self.largest = MOST_SHORT if is_short else MOST

    @property
    def low(self) -> FloatArray:
        """What each pair makes of the answers at least, shape (n_kinds, n_kinds): the better one, for what the other costs."""
        low = np.outer(self.cost.astype(self.kind), self.alone.astype(self.kind))
        return np.maximum(low, low.T)

    @cached_property
    def gain(self) -> FloatArray:
        """What each pair is worth at most beyond `low`, shape (n_kinds, n_kinds)."""
        worth = self._bound_worth()
        worth *= self._most_alone.astype(self.kind)
        worth *= np.exp(self.sums.least).astype(self.kind)[:, None]
        gain = np.minimum(worth, worth.T)
        gain -= self.low
        return np.maximum(gain, 0.0, out=gain)

    def _bound_worth(self) -> FloatArray:
        """Bound what joining makes of the answers, hidden states and gates alike, shape (added kinds, base kinds)."""
        sums, weights = self.sums, self.sums.weights[:, None]
        apart = sums.p * weights
        apart /= np.maximum(1 - sums.p + apart, TINY)
        cost = (1 - apart) * (weights - 1)
        if sums.is_hard:
            return self._bound_hard(apart, cost)
        taken_over = _clear(1 - sums.bare / np.maximum(sums.bare[:, sums.none, None], TINY))
        added = np.concatenate([self.added[sums.outside], taken_over])
        worth = self._multiply(added, np.concatenate([cost[sums.outside], 1 / np.maximum(1 - sums.bare, TINY) - 1]))
        for group in sums.groups:
            own = self._bound_group(group, apart[group.rows][:, group.first])
            worth *= own.take(group.kind, axis=0).take(group.kind, axis=1)
        return worth

    def _bound_hard(self, apart: FloatArray, cost: FloatArray) -> FloatArray:
        """Bound the same where no group can be summed: each gate by itself."""
        sums, weights = self.sums, self.sums.weights[:, None]
        worth, inside = np.ones_like(apart), np.ones(len(apart), dtype=bool)
        inside[sums.outside] = False
        reliefs = []
        for gate, root in zip(sums.gates, sums.root_misses, strict=True):
            rows, misses = sums.place(gate.hidden), gate.misses[:, None]
            relief = 1 / np.maximum(1 - root * (1 - apart[rows] * (1 - misses)).prod(axis=0), TINY)
            worth[rows] *= misses + (1 - misses) * relief
            reliefs.append(relief - 1)
        cost = np.where(inside[:, None], weights * (1 - apart) * worth, cost)
        taken_over = _clear(1 - sums.root_misses / np.maximum(sums.root_misses[:, sums.none, None], TINY))
        return self._multiply(
            np.concatenate([self.added, taken_over]), np.concatenate([cost, *(r[None] for r in reliefs)])
        )

    def _bound_group(self, group: GateGroup, apart: FloatArray) -> FloatArray:
        """Bound what joining makes of one group of telling answers, shape (n_kinds, n_kinds) of the group: added, base.

        The added state takes over some gates directly (worth D), brings about hidden variables that were absent (worth H),
        or does neither: that last part, of weight Q, keeps only where the base has all that the added state would bring
        about. Together D H - (1 - V) Q, and never more than what the group costs the base.
        Args:
            apart: P(hidden present | kind, products), shape (n_rows, n_kinds).
        """
        added, n = self.added[group.rows][:, group.first], len(group.first)
        roots = group.root_misses
        missed = (1 - apart * (1 - group.misses[:, :, None])).prod(axis=1)
        reliefs = 1 / np.maximum(1 - roots * missed, TINY)
        own = roots / np.maximum(roots[:, group.none, None], TINY)
        own[own >= 1 - SAME] = 1.0
        worth = (group.misses[:, :, None] + (1 - group.misses[:, :, None]) * reliefs[:, None]).prod(axis=0)
        news = group.weights[:, None] * (1 - apart) * worth
        gained = self._multiply(np.concatenate([added, 1 - own]), np.concatenate([news, reliefs - 1]))
        state, row = np.nonzero(added.T)
        gone = group.p_absent().astype(self.kind).take(row, axis=0)
        gone *= added[row, state].astype(self.kind)[:, None]
        spoilt = reduce_groups(np.maximum, gone, state, np.zeros((n, n), self.kind))
        spoilt *= own.prod(axis=0).astype(self.kind)[:, None]
        gained = np.maximum(np.minimum(gained, self.largest) - spoilt, 0.0)
        most = np.minimum(np.maximum(group.free, TINY) / np.maximum(group.total, TINY), self.largest)
        return np.minimum(gained, most.astype(self.kind))

    def _multiply(self, added: FloatArray, worth: FloatArray) -> FloatArray:
        """Multiply 1 + what a column adds to each row times what that is worth beside each column, shape (added, base).

        Args:
            added, worth: shape (n_rows, n_columns) each; most of `added` is 0.
        """
        state, row = np.nonzero(added.T)
        worth = np.minimum(worth, self.largest).astype(self.kind)
        factors = worth.take(row, axis=0)
        factors *= added[row, state].astype(self.kind)[:, None]
        factors += 1
        ones = np.ones((added.shape[1], worth.shape[1]), self.kind)
        with np.errstate(over="ignore"):
            product = reduce_groups(np.multiply, factors, state, ones)
        return np.minimum(product, self.largest, out=product)


def _clear(added: FloatArray) -> FloatArray:
    """Take what differs in rounding alone for nothing."""
    added[added <= SAME] = 0.0
    return added
