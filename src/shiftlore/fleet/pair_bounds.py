"""What a second cause makes of the answers at most, for all pairs of kinds of columns: the bounds of `exact.joining`.

They depend on the answers and the vehicle's life alone, not on its distance. What a group of answers makes of a pair depends
on the kinds of both in that group; no logarithms are taken and undone. Bounds need few digits, so they are worked out
in single precision where their range allows it: it is what is opened that is weighed with all of them.
"""

from functools import cached_property

import numpy as np

from shiftlore.exact import FloatArray
from shiftlore.exact.tables import SAME
from shiftlore.fleet.column_sums import CaseSums, TooHard
from shiftlore.fleet.groups import GateGroup

TINY, MOST = 1e-300, 1e260
MOST_SHORT, WIDEST_SHORT = 1e30, 50.0
"""Most that joining is worth in single precision, and how far apart likelihoods may lie (ln) for it."""


class Bounds:
    """Bounds for the answers of one case.

    Args:
        sums: the answers.
    Raises: TooHard: no single cause allows them.
    """

    def __init__(self, sums: CaseSums):
        self.sums = sums
        log_single = sums.single[0]
        self.scale = float(log_single.max())
        if not np.isfinite(self.scale):
            raise TooHard
        self.alone = np.exp(log_single - self.scale)
        self.added = 1 - sums.q / np.maximum(sums.q[:, sums.none, None], TINY)
        self.added[self.added <= SAME] = 0.0
        dear = np.maximum(1 - self.added * (1 - sums.weights[:, None]), TINY).prod(axis=0)
        self.cost = np.exp(sums.most) * dear
        is_short = self.scale - float(log_single.min()) < WIDEST_SHORT
        self.kind: type[np.floating] = np.float32 if is_short else np.float64
        self.largest = MOST_SHORT if is_short else MOST

    @cached_property
    def gain(self) -> FloatArray:
        """What both of a pair are worth at most beyond the better one, shape (n_kinds, n_kinds)."""
        worth = self._bound_worth()
        worth *= self.alone.astype(self.kind)
        worth *= np.exp(self.sums.least).astype(self.kind)[:, None]
        low = np.outer(self.cost.astype(self.kind), self.alone.astype(self.kind))
        gain = np.minimum(worth, worth.T)
        gain -= np.maximum(low, low.T)
        return np.maximum(gain, 0.0, out=gain)

    def _bound_worth(self) -> FloatArray:
        """Bound what joining makes of the answers, hidden states and gates alike, shape (added kinds, base kinds)."""
        sums = self.sums
        apart = sums.p * sums.weights[:, None]
        apart /= np.maximum(1 - sums.p + apart, TINY)
        cost = (1 - apart) * (sums.weights[:, None] - 1)
        taken_over = 1 - sums.bare / np.maximum(sums.bare[:, sums.none, None], TINY)
        taken_over[taken_over <= SAME] = 0.0
        added = np.concatenate([self.added[sums.outside], taken_over])
        cost = np.concatenate([cost[sums.outside], 1 / np.maximum(1 - sums.bare, TINY) - 1])
        worth = self._multiply(added, cost)
        for group in sums.groups:
            own = self._bound_group(group, apart)
            worth *= own.take(group.kind, axis=0).take(group.kind, axis=1)
        return worth

    def _bound_group(self, group: GateGroup, apart: FloatArray) -> FloatArray:
        """Bound what joining makes of one group of telling answers, shape (n_kinds, n_kinds) of the group: added, base."""
        first, rows = group.first, group.rows
        apart, weights, added = apart[rows][:, first], group.weights, self.added[rows][:, first]
        reliefs, own_misses = [], []
        for misses, root in zip(group.misses, group.root_misses, strict=True):
            missed = (1 - apart * (1 - misses)[:, None]).prod(axis=0)
            reliefs.append(1 / np.maximum(1 - root * missed, TINY))
            own = root / max(float(root[group.none]), TINY)
            own_misses.append(np.where(own < 1 - SAME, own, 1.0))
        n = len(first)
        worth = np.ones_like(apart)
        for misses, relief in zip(group.misses, reliefs, strict=True):
            worth *= misses[:, None] + (1 - misses[:, None]) * relief
        news = weights[:, None] * (1 - apart) * worth
        gained = self._multiply(added, news)
        missed = np.ones(n)
        for own, relief in zip(own_misses, reliefs, strict=True):
            gained *= (own[:, None] + (1 - own[:, None]) * relief).astype(self.kind)
            missed *= own
        state, row = np.nonzero(added.T)
        gone = group.p_absent().astype(self.kind).take(row, axis=0)
        gone *= added[row, state].astype(self.kind)[:, None]
        spoilt = _reduce(np.maximum, gone, state, np.zeros((n, n), self.kind))
        spoilt *= missed.astype(self.kind)[:, None]
        gained = np.maximum(np.minimum(gained, self.largest) - spoilt, 0.0)
        most = np.minimum(np.maximum(group.free, TINY) / np.maximum(group.total, TINY), self.largest)
        return np.minimum(gained, most.astype(self.kind))

    def _multiply(self, added: FloatArray, worth: FloatArray) -> FloatArray:
        """Multiply 1 + what a column adds to each row times what that is worth beside each column, shape (added, base).

        Args:
            added, worth: shape (n_rows, n_columns) each; most of `added` is 0.
        """
        state, row = np.nonzero(added.T)
        factors = np.minimum(worth, self.largest).astype(self.kind).take(row, axis=0)
        factors *= added[row, state].astype(self.kind)[:, None]
        factors += 1
        ones = np.ones((added.shape[1], worth.shape[1]), self.kind)
        with np.errstate(over="ignore"):
            return _reduce(np.multiply, factors, state, ones)


def _reduce(how: np.ufunc, values: FloatArray, groups: np.ndarray, result: FloatArray) -> FloatArray:
    """Put rows together group by group, as `exact.tables.reduce_groups`; groups ascend."""
    if len(groups):
        first = np.append(0, np.flatnonzero(groups[1:] != groups[:-1]) + 1)
        result[groups[first]] = how.reduceat(values, first, axis=0)
    return result
