"""Choose, for the case at hand, the sets of faults that are worked out one by one.

Every single cause is worked out. Then, for every pair, an upper bound of how well both together explain the answers is
compared with what the better of them does while the other adds nothing (`exact.bound_joins`). Pairs are opened in the
order of what they may add, until what is left can hold next to nothing; the rest count as "one of the two, and another
that shows in nothing". Where two faults explain much, a third is looked for beside the best pairs in the same way.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from shiftlore.compiling.faults import Chances, Faults, close_sets, make_faults
from shiftlore.exact import Evidence, HubEngine, HubTables, bound_joins, join_columns

MOST_SETS = 72
"""Pairs that become hypotheses of their own at most; each makes every later step as much longer as a single cause."""
MOST_TRIED = 1500
"""Pairs whose likelihood is worked out at most."""
EASY_CELLS = 1 << 20
"""Pairs tried times work up to which they are tried exactly: some hundredths of a second; beyond, by bounds."""
MOST_TRIED_HARD = 128
"""Pairs tried where the answers are too much work to be summed exactly."""
MOST_THIRDS = 16
PAIRS_LEAD = 0.25
"""A third fault is looked for where pairs hold so much: one fault alone does not explain the case (judgement)."""
BASES_OF_THIRDS = 3
"""Best pairs beside which a third fault is looked for."""
SMALL_REST = 2e-3
"""What is left may hold so much at most before it is looked at: below what base rates can tell (judgement)."""
TIED = 1e-9
"""Two causes that explain the same for what they cost, but for this part, are held for equally likely members of a pair."""
TINY = 1e-300
MOST_LOG = 300.0


@dataclass(frozen=True, eq=False)
class OpenedFaults:
    """The hypotheses of one case.

    Args:
        faults: none, every single cause, and the sets that were opened.
        tables: the tables of their root states.
        left_out: the most probability that pairs not opened can hold beyond the better of their two causes.
    """

    faults: Faults
    tables: HubTables
    left_out: float


def open_faults(chances: Chances, single: HubEngine, evidence: Evidence) -> OpenedFaults:
    """Open the sets of faults that matter for these answers.

    Args:
        single: engine of the root states none and every single cause.
        evidence: the answers.
    Raises: ImpossibleEvidence: no single cause allows all of the answers.
    """
    if not evidence:
        faults = make_faults(chances, [])
        return OpenedFaults(faults, join_faults(single.tables, faults), 0.0)
    standing = single.stand(evidence)
    search = _SetSearch(chances, single, evidence, float(np.max(standing.log_high)))
    pairs, left = search.open_pairs()
    thirds, left_thirds = search.open_thirds()
    sets = close_sets([*pairs, *thirds])
    faults = make_faults(chances, sets, search.absorb(sets))
    total = max(search.known, TINY)
    return OpenedFaults(
        faults, join_faults(single.tables, faults), min(1.0, (left + left_thirds) / (total + left + left_thirds))
    )


class _SetSearch:
    """The search for sets, with all weights on one scale: chance times likelihood over exp(scale)."""

    def __init__(self, chances: Chances, single: HubEngine, evidence: Evidence, scale: float):
        self.chances, self.single, self.evidence, self.scale = chances, single, evidence, scale
        standing = single.stand(evidence)
        bounds = bound_joins(single, evidence, single)
        alone = self.alone = np.exp(standing.log_low[1:] - scale)
        self.cost = np.exp(bounds.log_cost[1:])
        self.of_pairs = np.triu(chances.of_pairs)
        self.low = alone[:, None] * self.cost
        worth = alone / np.maximum(self.cost, TINY)
        self.better = (worth[:, None] > worth * (1 + TIED)) + 0.5 * (np.abs(worth[:, None] - worth) <= worth * TIED)
        high = np.exp(np.minimum(np.minimum(bounds.log_high, bounds.log_high.T)[1:, 1:] - scale, MOST_LOG))
        self.gain = np.maximum(high - np.maximum(self.low, self.low.T), 0.0) * self.of_pairs
        self.known = float(chances.p_one * (chances.weights @ alone))
        self.known += chances.p_none * float(np.exp(standing.log_low[0] - scale))
        self.weights: dict[tuple[int, ...], float] = {}
        work = sum(part.cluster.work for part in standing.sums) + 1
        self.most_tried = min(MOST_TRIED, max(MOST_TRIED_HARD, EASY_CELLS // work))

    def open_pairs(self) -> tuple[list[tuple[int, ...]], float]:
        """Try pairs, those that may add most first, and open those that do add most.

        Returns: the pairs, and what the others add at most beside the better of their two causes.
        """
        gains, whole = self.gain.ravel(), float(self.gain.sum())
        order = np.arange(gains.size) if gains.size <= self.most_tried else np.argpartition(-gains, self.most_tried)
        order = order[: self.most_tried]
        order = order[np.lexsort((order, -gains[order]))]
        rest = whole - np.cumsum(gains[order])
        n_tried = int(np.count_nonzero(rest > SMALL_REST * self.known)) + 1 if whole > SMALL_REST * self.known else 0
        order = order[: min(n_tried, int(np.count_nonzero(gains)))]
        if not len(order):
            return [], whole
        members = np.array(np.unravel_index(order, self.gain.shape))
        chances, better = self.of_pairs.ravel()[order], np.maximum(self.low, self.low.T).ravel()[order]
        weights = chances * self._weigh(members)
        added = np.maximum(weights - chances * better, 0.0)
        kept = choose_most(added, weights, order, MOST_SETS)
        self.weights = {tuple(members[:, i].tolist()): float(weights[i]) for i in kept}
        self.known += float(added[kept].sum() + (self.of_pairs * np.maximum(self.low, self.low.T)).sum())
        return list(self.weights), max(0.0, whole - float(gains[order].sum())) + float(added.sum() - added[kept].sum())

    def _weigh(self, members: np.ndarray) -> np.ndarray:
        """Work the likelihood of sets out, shape (n_sets,).

        Args:
            members: positions of the causes of each set, shape (size, n_sets).
        """
        log_p = self.single.weigh_sets(self.evidence, members + 1, EASY_CELLS) - self.scale
        return np.exp(np.minimum(log_p, MOST_LOG))

    def open_thirds(self) -> tuple[list[tuple[int, ...]], float]:
        """Try every third cause beside the pairs that explain most, and open the sets that do add most.

        Returns: the sets, and what the others add beside their pair alone.
        """
        if sum(self.weights.values()) < PAIRS_LEAD * self.known:
            return [], 0.0
        bases = rank_sets(self.weights)[:BASES_OF_THIRDS]
        bases = [member for member in bases if self.weights[member] > SMALL_REST * self.known]
        n = len(self.chances.causes)
        bases = bases[: self.most_tried // n]
        if not bases:
            return [], 0.0
        members = np.concatenate([np.array([[first] * n, [second] * n, range(n)]) for first, second in bases], axis=1)
        chances = np.concatenate([self.chances.beside(member) for member in bases])
        idle = np.repeat([self.weights[member] / max(float(self.of_pairs[member]), TINY) for member in bases], n)
        weights = chances * self._weigh(members)
        added = np.maximum(weights - chances * idle * np.tile(self.cost, len(bases)), 0.0)
        worth = SMALL_REST * self.known / MOST_THIRDS
        kept = [i for i in choose_most(added, weights, np.arange(len(added)), MOST_THIRDS) if added[i] > worth]
        self.known += float(weights[kept].sum())
        found = {tuple(sorted(members[:, i].tolist())) for i in kept}
        return sorted(found), float(added.sum() - added[kept].sum())

    def absorb(self, sets: list[tuple[int, ...]]) -> np.ndarray:
        """Give the chance of pairs that are not opened to the likelier of the two: the other shows in nothing.

        Where neither is, as of two that show in nothing, each takes half: else the last digit would choose one of them.
        What such a pair explains beyond that is not added, or a cause that explains little by itself would get a prior
        many times its own, and answers taken back or given later would be weighed with it; it counts as left out.
        """
        left = self.of_pairs.copy()
        for member in sets:
            if len(member) == 2:
                left[member] = 0.0
        worth = left * np.maximum(self.low, self.low.T)
        to_first = (worth * self.better).sum(axis=1) / np.maximum(self.alone, TINY)
        to_second = (worth * (1 - self.better)).sum(axis=0) / np.maximum(self.alone, TINY)
        return to_first + to_second


def choose_most(added: np.ndarray, weights: np.ndarray, places: np.ndarray, most: int) -> list[int]:
    """Choose the sets that add most, best first; of those that add the same, the one that stands first.

    Like parts of a unit make sets that differ in the last digit at most: that digit chooses nothing, and opens nothing.
    Args:
        added, weights: what each adds, and what it holds in all, shape (n,); places: where each stands, shape (n,).
    """
    close = np.arange(len(added))
    if len(added) > most > 0:
        least = np.partition(added, len(added) - most)[-most]
        close = np.flatnonzero(added >= least * (1 - 4 * TIED))
    order = close[np.lexsort((places[close], -_rank_alike(added[close])))][:most]
    return [i for i in order.tolist() if added[i] > TIED * weights[i]]


def rank_sets(weights: Mapping[tuple[int, ...], float]) -> list[tuple[int, ...]]:
    """Order sets by what they hold, most first; of those that hold the same, the one that stands first."""
    alike = dict(zip(weights, _rank_alike(np.array([*weights.values()])).tolist(), strict=True))
    return sorted(weights, key=lambda member: (-alike[member], member))


def _rank_alike(values: np.ndarray) -> np.ndarray:
    return np.rint(np.log(np.maximum(values, TINY)) / TIED)


def join_faults(single: HubTables, faults: Faults) -> HubTables:
    """Give the tables of all root states, from those of single causes."""
    return join_columns(single, [tuple(i + 1 for i in member) for member in faults.sets], faults.prior, faults.names)
