"""The sets of faults of one case, chosen as `compiling.opening` chooses them, with less work.

The same bounds in the same order, but: columns that are alike are bounded once; what a group of answers makes of a pair
depends on the kinds of both in that group alone; no logarithms are taken and undone; and what pairs hold that are not opened
is added up along the causes in the order of what they explain for what they cost, where the better of two comes first.
"""

from functools import cached_property, lru_cache

import numpy as np

from shiftlore.compiling import Chances
from shiftlore.compiling.faults import P_BROUGHT_ON
from shiftlore.compiling.opening import (
    BASES_OF_THIRDS,
    EASY_CELLS,
    MOST_SETS,
    MOST_THIRDS,
    MOST_TRIED,
    MOST_TRIED_HARD,
    PAIRS_LEAD,
    SMALL_REST,
    TIED,
    choose_most,
    rank_sets,
)
from shiftlore.exact import FloatArray
from shiftlore.exact.chains import plan_clusters
from shiftlore.exact.tables import SAME, reduce_groups
from shiftlore.fleet.sums import CaseSums, Group

TINY, MOST = 1e-300, 1e260
SURELY_EASY = 600
"""Work of all groups up to which as many pairs are tried as are ever tried."""


class PairChances:
    """The chance of every pair, without laying all of them out.

    Args:
        chances: of sets of causes.
    """

    def __init__(self, chances: Chances):
        self.chances, self.weights = chances, chances.weights
        self.first, self.second = np.array([*chances.brought_on], int).reshape(-1, 2).T
        total, squares = float(self.weights.sum()), float(self.weights @ self.weights)
        more = float(self.weights[self.first] @ self.weights[self.second]) * (P_BROUGHT_ON - 1)
        self.scale = chances.p_two / max((total * total - squares) / 2 + more, TINY)

    def of(self, first: np.ndarray, second: np.ndarray) -> FloatArray:
        """Give the chance of pairs; the first cause stands before the second."""
        joined = self.weights[first] * self.weights[second] * self.scale
        more: FloatArray = _list_factors(len(self.weights), self.chances.brought_on)[first, second]
        return joined * more


@lru_cache(16)
def _list_factors(n: int, brought_on: frozenset[tuple[int, int]]) -> FloatArray:
    """Give by how much likelier each pair is than by chance, the first cause before the second, shape (n, n)."""
    factors = np.ones((n, n))
    for first, second in brought_on:
        factors[first, second] = P_BROUGHT_ON
    return factors


@lru_cache(16)
def list_pairs(n: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """List every pair of n causes: the first, the second, and where each pair stands, shape (n, n)."""
    first, second = np.triu_indices(n, 1)
    place = np.zeros((n, n), dtype=np.intp)
    place[first, second] = np.arange(len(first))
    return first, second, place


class Search:
    """The search for sets, as `compiling.opening._Search`; kinds stand for causes as long as that can be.

    Args:
        sums: the answers; likelihood: of them by the root state over exp(scale), shape (n_root,).
    """

    def __init__(self, sums: CaseSums, chances: Chances, log_single: FloatArray, scale: float):
        self.sums, self.chances, self.scale = sums, chances, scale
        self.pairs = PairChances(chances)
        self.alone_of = np.exp(log_single - scale)
        self.kind = sums.kind[1:]
        self.alone = self.alone_of[sums.kind][1:]
        self.added = 1 - (1 - sums.p) / np.maximum(1 - sums.p[:, sums.none, None], TINY)
        self.added[self.added <= SAME] = 0.0
        dear = np.maximum(1 - self.added * (1 - sums.weights[:, None]), TINY).prod(axis=0)
        self.cost_of = np.exp(sums.most) * dear
        self.cost = self.cost_of[self.kind]
        self.worth = self.alone / np.maximum(self.cost, TINY)
        none = float(self.alone_of[sums.none])
        self.known = float(chances.p_one * (chances.weights @ self.alone)) + chances.p_none * none
        self.weights: dict[tuple[int, ...], float] = {}
        work = sums.work
        if work > SURELY_EASY:
            parents = tuple(tuple(sums.place[gate.gate_hidden].tolist()) for gate in sums.gates)
            work = sum(cluster.work for cluster in plan_clusters(parents))
        self.most_tried = min(MOST_TRIED, max(MOST_TRIED_HARD, EASY_CELLS // (work + 1)))

    @cached_property
    def _held(self) -> tuple[FloatArray, FloatArray]:
        """What each cause holds as the better of all pairs with it: chance times likelihood, and the same over its own.

        The better of two is the one that explains more for what it costs: by its alone over its cost.
        """
        weights, cost = self.pairs.weights, self.cost
        order = np.argsort(-self.worth, kind="stable")
        ranked = self.worth[order]
        dear = (weights * cost)[order]
        begins = np.r_[True, ranked[1:] < ranked[:-1] * (1 - TIED)]
        group = np.cumsum(begins) - 1
        of_groups = np.bincount(group, dear)
        worse = of_groups.sum() - np.cumsum(of_groups)
        beside = np.empty_like(dear)
        beside[order] = (worse[group] + (of_groups[group] - dear) / 2) * weights[order] * self.pairs.scale
        first, second = self.pairs.first, self.pairs.second
        more = (P_BROUGHT_ON - 1) * self.pairs.scale * weights[first] * weights[second]
        self._share_out(beside, first, second, more)
        held = beside * self.alone
        return held, held / np.maximum(self.alone, TINY)

    def _share_out(self, beside: FloatArray, first: np.ndarray, second: np.ndarray, chances: FloatArray) -> None:
        """Add the chance of pairs to the better of the two, for what the other costs; half to each where neither is."""
        worth, other = self.worth[first], self.worth[second]
        leads = (worth > other * (1 + TIED)) + 0.5 * (np.abs(worth - other) <= other * TIED)
        np.add.at(beside, first, chances * leads * self.cost[second])
        np.add.at(beside, second, chances * (1 - leads) * self.cost[first])

    def open_pairs(self) -> tuple[list[tuple[int, ...]], float]:
        """Try pairs, those that may add most first, and open those that do add most; as `compiling.opening`."""
        gains = self._bound_gains()
        whole = float(gains.sum())
        if whole <= SMALL_REST * self.known:
            return [], whole
        if gains.size > self.most_tried:
            order = np.argpartition(gains, gains.size - self.most_tried)[-self.most_tried :]
        else:
            order = np.arange(gains.size)
        order = order[np.lexsort((order, -gains[order]))]
        own = gains[order]
        n_tried = int(np.count_nonzero(whole - np.cumsum(own) > SMALL_REST * self.known)) + 1
        order = order[: min(n_tried, int(np.count_nonzero(gains)))]
        if not len(order):
            return [], whole
        first, second, _ = list_pairs(len(self.kind))
        members = np.array([first[order], second[order]])
        chances = self.pairs.of(*members)
        better = np.maximum(
            self.alone[members[0]] * self.cost[members[1]], self.alone[members[1]] * self.cost[members[0]]
        )
        weights = chances * self._weigh(members)
        added = np.maximum(weights - chances * better, 0.0)
        kept = choose_most(added, weights, order, MOST_SETS)
        self.weights = {tuple(members[:, i].tolist()): float(weights[i]) for i in kept}
        self.known += float(added[kept].sum()) + float(self._held[0].sum())
        return list(self.weights), max(0.0, whole - float(gains[order].sum())) + float(added.sum() - added[kept].sum())

    def _weigh(self, members: np.ndarray) -> FloatArray:
        return np.exp(np.minimum(self.sums.weigh(members + 1) - self.scale, 300.0))

    def open_thirds(self) -> tuple[list[tuple[int, ...]], float]:
        """Try every third cause beside the pairs that explain most; as `compiling.opening`."""
        if sum(self.weights.values()) < PAIRS_LEAD * self.known:
            return [], 0.0
        bases = rank_sets(self.weights)[:BASES_OF_THIRDS]
        bases = [member for member in bases if self.weights[member] > SMALL_REST * self.known]
        n = len(self.kind)
        bases = bases[: self.most_tried // n]
        if not bases:
            return [], 0.0
        members = np.concatenate([np.array([[first] * n, [second] * n, range(n)]) for first, second in bases], axis=1)
        chances = np.concatenate([self.chances.beside(member) for member in bases])
        of_bases = self.pairs.of(*np.array(bases).T)
        idle = [self.weights[member] / max(p, TINY) for member, p in zip(bases, of_bases.tolist(), strict=True)]
        weights = chances * self._weigh(members)
        added = np.maximum(weights - chances * np.repeat(idle, n) * np.tile(self.cost, len(bases)), 0.0)
        worth = SMALL_REST * self.known / MOST_THIRDS
        kept = [i for i in choose_most(added, weights, np.arange(len(added)), MOST_THIRDS) if added[i] > worth]
        self.known += float(weights[kept].sum())
        found = {tuple(sorted(members[:, i].tolist())) for i in kept}
        return sorted(found), float(added.sum() - added[kept].sum())

    def absorb(self, sets: list[tuple[int, ...]]) -> FloatArray:
        """Give the chance of pairs that are not opened to the likelier of the two, shape (n_causes,)."""
        absorbed = self._held[1].copy()
        pairs = [member for member in sets if len(member) == 2]
        if pairs:
            first, second = np.array(pairs).T
            self._share_out(absorbed, first, second, -self.pairs.of(first, second))
        return np.maximum(absorbed, 0.0)

    def _bound_gains(self) -> FloatArray:
        """Bound what each pair adds beside the better of its causes at most, shape (n_pairs,)."""
        sums = self.sums
        worth = self._bound_worth()
        worth *= self.alone_of
        worth *= np.exp(sums.least)[:, None]
        low = np.outer(self.cost_of, self.alone_of)
        gain = np.minimum(worth, worth.T)
        gain -= np.maximum(low, low.T)
        np.maximum(gain, 0.0, out=gain)
        n = len(self.kind)
        first, second, place = list_pairs(n)
        weights = self.pairs.weights * self.pairs.scale
        wide = gain.take(self.kind, axis=1)
        wide *= self.pairs.weights
        wide = wide.take(self.kind, axis=0)
        wide *= weights[:, None]
        gains = wide.ravel().take(first * n + second)
        gains[place[self.pairs.first, self.pairs.second]] *= P_BROUGHT_ON
        return gains

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
        worth = multiply_shares(added, cost)
        for group in sums.groups:
            own = self._bound_group(group, apart)
            worth *= own.take(group.kind, axis=0).take(group.kind, axis=1)
        return worth

    def _bound_group(self, group: Group, apart: FloatArray) -> FloatArray:
        """Bound what joining makes of one group of telling answers, shape (n_kinds, n_kinds) of the group: added, base."""
        sums = self.sums
        first, rows = group.first, group.rows
        apart, weights, added = apart[rows][:, first], sums.weights[rows], self.added[rows][:, first]
        root_misses = sums.root_misses[list(group.pieces)]
        reliefs, own_misses = [], []
        for misses, root in zip(group.misses, root_misses, strict=True):
            missed = (1 - apart * (1 - misses)[:, None]).prod(axis=0)
            reliefs.append(1 / np.maximum(1 - root[first] * missed, TINY))
            own = root[first] / max(float(root[sums.none]), TINY)
            own_misses.append(np.where(own < 1 - SAME, own, 1.0))
        n = len(first)
        worth = np.ones_like(apart)
        for misses, relief in zip(group.misses, reliefs, strict=True):
            worth *= misses[:, None] + (1 - misses[:, None]) * relief
        news = weights[:, None] * (1 - apart) * worth
        gained = multiply_shares(added, news)
        missed = np.ones(n)
        for own, relief in zip(own_misses, reliefs, strict=True):
            gained *= own[:, None] + (1 - own[:, None]) * relief
            missed *= own
        state, row = np.nonzero(added.T)
        gone = sums.absent(group).take(row, axis=0)
        gone *= added[row, state][:, None]
        spoilt = reduce_groups(np.maximum, gone, state, np.zeros((n, n)))
        spoilt *= missed[:, None]
        gained = np.maximum(np.minimum(gained, MOST) - spoilt, TINY)
        _, total, free = sums.of_group(group)
        return np.minimum(gained, np.maximum(free, TINY) / np.maximum(total, TINY))


def multiply_shares(added: FloatArray, worth: FloatArray) -> FloatArray:
    """Multiply 1 + what a column adds to each row times what that is worth beside each column, shape (added, base).

    Args:
        added, worth: shape (n_rows, n_columns) each; most of `added` is 0.
    """
    state, row = np.nonzero(added.T)
    factors = worth.take(row, axis=0)
    factors *= added[row, state][:, None]
    factors += 1
    return reduce_groups(np.multiply, factors, state, np.ones((added.shape[1], worth.shape[1])))
