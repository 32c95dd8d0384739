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
from shiftlore.fleet.pair_bounds import Bounds

TINY = 1e-300
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
    """The search for sets, as `compiling.opening._SetSearch`; kinds stand for causes as long as that can be.

    Args:
        bounds: what pairs make of the answers; chances: of sets of causes, as they are for this case.
    """

    def __init__(self, bounds: Bounds, chances: Chances):
        sums = self.sums = bounds.sums
        self.bounds, self.chances, self.scale = bounds, chances, bounds.scale
        self.pairs = PairChances(chances)
        self.kind = sums.kind[1:]
        self.alone, self.cost = bounds.alone[self.kind], bounds.cost[self.kind]
        self.worth = self.alone / np.maximum(self.cost, TINY)
        none = float(bounds.alone[sums.none])
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
        group = np.zeros(len(ranked), dtype=np.intp)
        np.cumsum(ranked[1:] < ranked[:-1] * (1 - TIED), out=group[1:])
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
        whole = float(gains.sum(dtype=float))
        if whole <= SMALL_REST * self.known:
            return [], whole
        if gains.size > self.most_tried:
            order = np.argpartition(gains, gains.size - self.most_tried)[-self.most_tried :]
        else:
            order = np.arange(gains.size)
        order = order[np.lexsort((order, -gains[order]))]
        own = gains[order]
        n_tried = int(np.count_nonzero(whole - np.cumsum(own, dtype=float) > SMALL_REST * self.known)) + 1
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
        return list(self.weights), max(0.0, whole - float(gains[order].sum(dtype=float))) + float(
            added.sum() - added[kept].sum()
        )

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
        gain = self.bounds.gain
        n = len(self.kind)
        first, second, place = list_pairs(n)
        own = self.pairs.weights.astype(gain.dtype)
        wide = gain.take(self.kind, axis=1)
        wide *= own
        wide = wide.take(self.kind, axis=0)
        wide *= own[:, None]
        gains = wide.ravel().take(first * n + second)
        gains *= gain.dtype.type(self.pairs.scale)
        gains[place[self.pairs.first, self.pairs.second]] *= P_BROUGHT_ON
        return gains
