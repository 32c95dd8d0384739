"""Choose, for the case at hand, the sets of faults that are worked out one by one.

Every single cause is worked out. Then, for every pair, an upper bound of how well both together explain the answers is
compared with what the better of them does while the other adds nothing (`exact.joining`). Pairs are opened in the
order of what they may add, until what is left can hold next to nothing; the rest count as "one of the two, and another
that shows in nothing". Where two faults explain much, a third is looked for beside the best pairs in the same way.

The better of two causes is the one that explains more for what it costs. So what pairs hold that are not opened is added up
along the causes in that order, and no array over pairs is needed but the one of bounds.
"""

from collections.abc import Mapping, Sequence
from functools import cached_property

import numpy as np

from shiftlore.basics.structs import Value
from shiftlore.compiling.faults import P_BROUGHT_ON, Chances, Faults, close_sets, list_pairs, make_faults
from shiftlore.exact import Evidence, FloatArray, HubEngine, HubTables, PairBounds, join_columns, normalise, pad_sets
from shiftlore.exact.column_sums import EASY_CELLS
from shiftlore.exact.tables import TINY

MOST_SETS = 72
"""Pairs that become hypotheses of their own at most; each makes every later step as much longer as a single cause."""
MOST_TRIED = 1200
"""Pairs whose likelihood is worked out at most."""
MOST_TRIED_HARD = 128
"""Pairs tried where the answers are too much work to be summed exactly."""
MOST_THIRDS = 16
PAIRS_LEAD = 0.25
"""A third fault is looked for where pairs hold so much: one fault alone does not explain the case (judgement)."""
BASES_OF_THIRDS = 3
"""Best pairs beside which a third fault is looked for."""
SMALL_REST = 2e-3
"""What is left may hold so much at most before it is looked at: below what base rates can tell (judgement)."""
SAMPLE, SPARE = 16, 1.3
"""Where too many pairs come up to be tried, each so-manieth tells which are left out at once, with so much to spare."""
TIED = 1e-9
"""Two causes that explain the same for what they cost, but for this part, are held for equally likely members of a pair."""
MOST_LOG = 300.0


class OpenedFaults(Value, frozen=True, eq=False, dict=True):
    """The hypotheses of one case.

    Args:
        faults: none, every single cause, and the sets that were opened.
        single: engine of the single causes.
        left_out: the most probability that pairs not opened can hold beyond the better of their two causes.
        evidence: the answers that they were opened for.
        log_likelihood: ln P(these answers | root state), shape (n_states,); None where it is bounded, or nothing is answered.
    """

    faults: Faults
    single: HubEngine
    left_out: float = 0.0
    evidence: Evidence | None = None
    log_likelihood: FloatArray | None = None

    @cached_property
    def engine(self) -> HubEngine:
        """Likelihoods for these faults."""
        joined = (self.single, pad_sets(_place_sets(self.faults.sets))) if self.faults.sets else None
        return HubEngine(join_faults(self.single.tables, self.faults), joined=joined)

    def is_worked_out(self, evidence: Evidence) -> bool:
        """Tell whether these answers were worked out when the faults were opened; else the engine is asked."""
        return self.log_likelihood is not None and evidence == self.evidence

    def posterior(self, evidence: Evidence) -> tuple[FloatArray, float]:
        """Give P(root state | answers), shape (n_states,), and ln P(answers).

        Raises: ImpossibleEvidence: the answers cannot all be true.
        """
        if not self.is_worked_out(evidence):
            return self.engine.posterior(evidence)
        with np.errstate(divide="ignore"):
            return normalise(np.log(self.faults.prior) + self.log_likelihood)


def open_faults(chances: Chances, single: HubEngine, bounds: PairBounds | None) -> OpenedFaults:
    """Open the sets of faults that matter for some answers.

    Args:
        single: engine of the root states none and every single cause.
        bounds: what pairs make of the answers; None where nothing is answered.
    """
    if bounds is None:
        return OpenedFaults(make_faults(chances, []), single)
    search = _SetSearch(chances, bounds)
    pairs, left = search.open_pairs()
    thirds, left_thirds = search.open_thirds()
    left += left_thirds
    sets = close_sets([*pairs, *thirds])
    sums, log_likelihood = bounds.sums, None
    if not sums.is_hard:
        log_likelihood = np.concatenate([sums.bounds[0][sums.kind], search.weigh_again(sets)])
    return OpenedFaults(
        make_faults(chances, sets, search.absorb(sets)),
        single,
        min(1.0, left / (max(search.known, TINY) + left)),
        sums.evidence,
        log_likelihood,
    )


class _SetSearch:
    """The search for sets, with all weights on one scale: chance times likelihood over exp(scale of the bounds)."""

    def __init__(self, chances: Chances, bounds: PairBounds):
        self.chances, self.bounds, sums = chances, bounds, bounds.sums
        self.kind = sums.kind[1:]
        self.alone, self.cost = bounds.alone[self.kind], bounds.cost[self.kind]
        self.worth = self.alone / np.maximum(self.cost, TINY)
        self.known = float(chances.p_one * (chances.weights @ self.alone))
        self.known += chances.p_none * float(bounds.alone[sums.none])
        self.weights: dict[tuple[int, ...], float] = {}
        self._log_p: dict[tuple[int, ...], float] = {}
        self.most_tried = MOST_TRIED_HARD if sums.is_hard else min(MOST_TRIED, EASY_CELLS // sums.work)

    @cached_property
    def _absorbed(self) -> FloatArray:
        """Give what each cause holds as the better of all pairs with it, over its own likelihood, shape (n_causes,)."""
        weights, scale = self.chances.weights, self.chances.pair_scale
        order = np.argsort(-self.worth, kind="stable")
        ranked, dear = self.worth[order], (weights * self.cost)[order]
        group = np.zeros(len(ranked), dtype=np.intp)
        np.cumsum(ranked[1:] < ranked[:-1] * (1 - TIED), out=group[1:])
        of_groups = np.bincount(group, dear)
        worse = of_groups.sum() - np.cumsum(of_groups)
        absorbed = np.empty_like(dear)
        absorbed[order] = (worse[group] + (of_groups[group] - dear) / 2) * weights[order] * scale
        self._share_out(absorbed, *self.chances.beyond_chance)
        return absorbed

    def _share_out(self, absorbed: FloatArray, first: np.ndarray, second: np.ndarray, chances: FloatArray) -> None:
        """Add the chance of pairs to the better of the two, for what the other costs; half to each where neither is."""
        worth, other = self.worth[first], self.worth[second]
        leads = (worth > other * (1 + TIED)) + 0.5 * (np.abs(worth - other) <= other * TIED)
        np.add.at(absorbed, first, chances * leads * self.cost[second])
        np.add.at(absorbed, second, chances * (1 - leads) * self.cost[first])

    def open_pairs(self) -> tuple[list[tuple[int, ...]], float]:
        """Try pairs, those that may add most first, and open those that do add most.

        Returns: the pairs, and what the others add at most beside the better of their two causes.
        """
        gains = self._bound_gains()
        whole = float(gains.sum(dtype=float))
        if whole <= SMALL_REST * self.known:
            return [], whole
        order = self._choose_tried(gains, whole)
        if not len(order):
            return [], whole
        first, second, *_ = list_pairs(len(self.kind))
        members = np.array([first[order], second[order]])
        chances = self.chances.of_pairs(*members)
        better = np.maximum(
            self.alone[members[0]] * self.cost[members[1]], self.alone[members[1]] * self.cost[members[0]]
        )
        likelihood, log_p = self._weigh(members)
        weights = chances * likelihood
        added = np.maximum(weights - chances * better, 0.0)
        kept = choose_most(added, weights, order, MOST_SETS)
        pairs = [tuple(member) for member in members[:, kept].T.tolist()]
        self.weights = dict(zip(pairs, weights[kept].tolist(), strict=True))
        self._log_p = dict(zip(pairs, log_p[kept].tolist(), strict=True))
        self.known += float(added[kept].sum()) + float(self._absorbed @ self.alone)
        untried = max(0.0, whole - float(gains[order].sum(dtype=float)))
        return list(self.weights), untried + float(added.sum() - added[kept].sum())

    def _bound_gains(self) -> FloatArray:
        """Bound what each pair adds beside the better of its causes at most, shape (n_pairs,)."""
        gain, pairs = self.bounds.gain, list_pairs(len(self.kind))
        own = self.chances.weights.astype(gain.dtype)
        wide = gain.take(self.kind, axis=1)
        wide *= own
        wide = wide.take(self.kind, axis=0)
        wide *= own[:, None]
        gains = wide.ravel().take(pairs.place)
        gains *= gain.dtype.type(self.chances.pair_scale)
        gains[pairs.number[self.chances.beyond_chance[:2]]] *= P_BROUGHT_ON
        return gains

    def _choose_tried(self, gains: FloatArray, whole: float) -> np.ndarray:
        """Choose the pairs to be tried, those that may add most first: until the rest can hold next to nothing."""
        enough = SMALL_REST * self.known
        least = enough / len(gains)  # pairs that add less hold all together less than enough
        sample, spared = gains[::SAMPLE], int(SPARE * self.most_tried / SAMPLE)
        likely = float(np.partition(sample, -spared)[-spared]) if spared < len(sample) else 0.0
        order = np.flatnonzero(gains > max(least, likely))
        if likely > least and len(order) < self.most_tried:
            order = np.flatnonzero(gains > least)
        added = gains[order]
        if len(order) > self.most_tried > 0:
            is_tried = added >= np.partition(added, -self.most_tried)[-self.most_tried]
            order, added = order[is_tried], added[is_tried]
        by_gain = np.argsort(-added, kind="stable")[: self.most_tried]
        rest = whole - np.cumsum(added[by_gain], dtype=float)
        return order[by_gain[: int(np.count_nonzero(rest > enough)) + 1]]  # as many as leave too much, and the next

    def _weigh(self, members: np.ndarray) -> tuple[FloatArray, FloatArray]:
        """Work the likelihood of sets out, on the scale of the bounds; and its logarithm; shape (n_sets,) each.

        Args:
            members: positions of the causes of each set, shape (size, n_sets).
        """
        log_p = self.bounds.sums.weigh_sets(members + 1)
        return np.exp(np.minimum(log_p - self.bounds.scale, MOST_LOG)), log_p

    def weigh_again(self, sets: Sequence[tuple[int, ...]]) -> FloatArray:
        """Give ln P(answers | set) of sets, those that were opened from memory, shape (n_sets,)."""
        new = [member for member in sets if member not in self._log_p]
        if new:
            weighed = self.bounds.sums.weigh_sets(pad_sets(_place_sets(new)))
            self._log_p |= zip(new, weighed.tolist(), strict=True)
        return np.array([self._log_p[member] for member in sets])

    def open_thirds(self) -> tuple[list[tuple[int, ...]], float]:
        """Try every third cause beside the pairs that explain most, and open the sets that do add most.

        Returns: the sets, and what the others add beside their pair alone.
        """
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
        of_bases = self.chances.of_pairs(*np.array(bases).T)
        idle = [self.weights[member] / max(p, TINY) for member, p in zip(bases, of_bases.tolist(), strict=True)]
        likelihood, log_p = self._weigh(members)
        weights = chances * likelihood
        added = np.maximum(weights - chances * np.repeat(idle, n) * np.tile(self.cost, len(bases)), 0.0)
        worth = SMALL_REST * self.known / MOST_THIRDS
        kept = [i for i in choose_most(added, weights, np.arange(len(added)), MOST_THIRDS) if added[i] > worth]
        self.known += float(weights[kept].sum())
        found = {tuple(sorted(members[:, i].tolist())): float(log_p[i]) for i in kept}
        self._log_p |= found
        return sorted(found), float(added.sum() - added[kept].sum())

    def absorb(self, sets: list[tuple[int, ...]]) -> FloatArray:
        """Give the chance of pairs that are not opened to the likelier of the two: the other shows in nothing.

        Where neither is, as of two that show in nothing, each takes half: else the last digit would choose one of them.
        What such a pair explains beyond that is not added, or a cause that explains little by itself would get a prior
        many times its own, and answers taken back or given later would be weighed with it; it counts as left out.
        """
        absorbed = self._absorbed.copy()
        pairs = [member for member in sets if len(member) == 2]
        if pairs:
            first, second = np.array(pairs).T
            self._share_out(absorbed, first, second, -self.chances.of_pairs(first, second))
        return np.maximum(absorbed, 0.0)


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
    return join_columns(single, _place_sets(faults.sets), faults.prior, faults.names)


def _place_sets(sets: Sequence[tuple[int, ...]]) -> list[tuple[int, ...]]:
    """Give sets of causes by the places of their single root states."""
    return [tuple(i + 1 for i in member) for member in sets]
