"""Which jobs and bundles could be offered, the chance that they end the complaint, and the few worth an owner's time.

A complaint is gone when no cause that can bring it about is left. Each cause is put right by a set of jobs with
1 minus the product of what each job leaves; of several causes all must be put right. Where nothing known is wrong
there is nothing to put right, so that part counts as not cured.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import partial
from itertools import permutations

import numpy as np

from shiftlore.advising.job_cures import cures_of, is_meant, keep_in_vain
from shiftlore.advising.pricing import OptionCost, Pricer
from shiftlore.advising.situations import WHOLE_UNIT, least_cure
from shiftlore.compiling import CompiledCase, Faults
from shiftlore.network import join_kept, number_kinds
from shiftlore.ranking import DRAW_SEED, N_DRAWS, draw_faults, measure_spread

SMALLEST_SHAPE = 1e-3
"""Shapes of a Beta below this make its draws all 0 or 1; kept just above zero."""


@dataclass(frozen=True, eq=False)
class Cures:
    """What each job puts right on this case, with the spread of the strengths.

    Args:
        p_states: belief over root states now, the failed jobs of this visit counted, shape (n_states,).
        means: job -> p that it puts right each cause, shape (n_causes,).
        drawn_states: belief under draws of the rules' numbers, shape (n_draws, n_states).
        drawn: job -> drawn strengths, shape (n_draws, n_causes).
        offered: the jobs that may be offered now; others may come after a check alone.
        kinds: job -> what stands for its kind, "" for a kind of its own (see `network.join_kept`).
    """

    faults: Faults
    p_states: np.ndarray
    means: Mapping[str, np.ndarray]
    drawn_states: np.ndarray
    drawn: Mapping[str, np.ndarray]
    offered: tuple[str, ...] = ()
    kinds: Mapping[str, str] = field(default_factory=dict)

    def missed_by(self, jobs: Sequence[str]) -> np.ndarray:
        """P that each cause survives the jobs, shape (n_causes,)."""
        return (
            join_kept(1.0 - np.array([self.means[job] for job in jobs]), self._kinds_of(jobs))
            if jobs
            else np.ones(len(self.faults.causes))
        )

    def missed_in_draws(self, jobs: Sequence[str]) -> np.ndarray:
        """P that each cause survives the jobs under each draw of the rules' numbers, shape (n_draws, n_causes)."""
        return join_kept(1.0 - np.stack([self.drawn[job] for job in jobs], axis=1), self._kinds_of(jobs))

    def repeats(self, jobs: Sequence[str]) -> bool:
        """Tell whether a job among these cures nothing that another of its kind does not cure as surely."""
        return any(
            (self.means[job] <= self.means[other]).all()
            for job, other in permutations(jobs, 2)
            if self.kinds.get(job) and self.kinds[job] == self.kinds.get(other)
        )

    def _kinds_of(self, jobs: Sequence[str]) -> np.ndarray:
        return number_kinds([self.kinds.get(job, "") for job in jobs])

    def cured_by(self, missed: np.ndarray) -> np.ndarray:
        """Chance of a cure in each root state, shape (..., n_states); 0 where nothing known is wrong.

        Args:
            missed: p that each cause survives the jobs, shape (..., n_causes).
        """
        return 1.0 - self.faults.survival.persists(missed)

    def p_cured(self, jobs: Sequence[str]) -> float:
        """Give the chance that the jobs end the complaint."""
        return float(self.p_states @ self.cured_by(self.missed_by(jobs))) if jobs else 0.0

    def p_reached(self, jobs: Sequence[str]) -> float:
        """Give the chance if each cause were put right by its surest job alone.

        A second job against the same cause adds little at the bench (new seals in a valve body that is exchanged
        anyway), so bundles are grown by this and not by `p_cured`.
        """
        missed = np.min([1.0 - self.means[job] for job in jobs], axis=0)
        return float(self.p_states @ self.cured_by(missed))

    def draw_cured(self, jobs: Sequence[str]) -> np.ndarray:
        """Give the chance of a cure under each draw of the rules' numbers, shape (n_draws,)."""
        if not jobs:
            return np.zeros(len(self.drawn_states))
        return np.sum(self.drawn_states * self.cured_by(self.missed_in_draws(jobs)), axis=1)

    def spread(self, jobs: Sequence[str]) -> tuple[float, float]:
        """Give the 5th and 95th percentile of the chance, never on the wrong side of the chance itself."""
        p = self.p_cured(jobs)
        low, high = measure_spread(self.draw_cured(jobs))
        return min(float(low), p), max(float(high), p)


def prepare_cures(
    compiled: CompiledCase, offered: Sequence[str], later: Iterable[str] = (), n_draws: int = N_DRAWS
) -> Cures:
    """Tabulate what jobs put right, and draw from every spread that bears on it.

    Args:
        offered: expanded ids that may be offered; later: those that a plan may name once more is known.
        n_draws: how many draws; always the same ones, so that a case is always told the same.
    """
    rng = np.random.default_rng(DRAW_SEED)
    drawn_states, jobs = compiled.carry_over(draw_faults(compiled, rng, n_draws)), [*dict.fromkeys((*offered, *later))]
    means = dict(zip(jobs, cures_of(compiled, jobs), strict=True))
    drawn = {job: 1.0 - keep_in_vain(compiled, job, 1.0 - _draw_strengths(compiled, job, rng, n_draws)) for job in jobs}
    kinds = {job: compiled.knowledge.kind_of_cure(compiled.expansion.job_templates[job]) for job in jobs}
    return Cures(
        compiled.faults, compiled.faults_now, means, drawn_states, drawn=drawn, offered=(*offered,), kinds=kinds
    )


def _draw_strengths(compiled: CompiledCase, job: str, rng: np.random.Generator, n_draws: int) -> np.ndarray:
    """Draw how surely a job puts right each cause, shape (n_draws, n_causes); what it does not touch stays 0.

    One word is one number throughout: causes cured with the same word move together.
    """
    found = np.zeros((n_draws, len(compiled.causes)))
    words: dict[tuple[float, float], np.ndarray] = {}
    for position, cause in enumerate(compiled.causes):
        strength = compiled.expansion.cures[job].get(cause)
        if strength is None:
            continue
        key = (strength.p, strength.weight)
        p, weight = key
        if key not in words and np.isfinite(weight):
            shapes = (max(p * weight, SMALLEST_SHAPE), max((1 - p) * weight, SMALLEST_SHAPE))
            words[key] = rng.beta(*shapes, size=n_draws)
        found[:, position] = words.get(key, p)  # an infinite weight keeps the mean
    return found


LEAST_CURE = 0.01
"""A job with a smaller chance of ending the complaint is not offered by itself: judgement."""

LEAST_ADDED = 0.03
"""A job joins a bundle only if it adds so much to the chance: judgement."""

LEAST_BESIDE = 0.05
"""A job stands in a bundle only if it helps in so many vehicles, by itself or beside the others: one in twenty, judgement."""

MOST_IN_BUNDLE = 4
"""Jobs in one bundle; more is an overhaul by another name."""

LEADING_JOBS = 24
"""Jobs from which bundles are made, likeliest first; the next ones never reached `LEAST_ADDED` (measured)."""

NEAR_CHANCE, NEAR_PRICE = 0.05, 0.15
"""Two options nearer than this in chance, or in price, differ in pennies and not in kind: judgement."""


@dataclass(frozen=True, slots=True)
class Candidate:
    """Jobs in one go, with price and chance.

    Args:
        kind: ``service``, ``job``, ``bundle``, ``overhaul`` or ``exchange``.
    """

    jobs: tuple[str, ...]
    kind: str
    cost: OptionCost
    p_cured: float


def list_candidates(pricer: Pricer, cures: Cures, also: Iterable[tuple[str, ...]] = ()) -> list[Candidate]:
    """List single jobs, and bundles that share an opening, each set once.

    Args:
        also: further sets of jobs to consider, as the planner's.
    """
    found: dict[frozenset[str], Candidate] = {}
    records = pricer.compiled.expansion.jobs
    for job in filter(partial(is_meant, pricer.compiled), cures.offered):
        candidate = make_candidate(pricer, cures, (job,))
        if candidate.p_cured >= max(LEAST_CURE, least_cure(pricer.compiled, job)):
            found[frozenset((job,))] = candidate
    grown = _grow_bundles(pricer, cures, list(found.values()))
    for jobs in (drop_hopeless(cures, bundle) for bundle in (*grown, *also)):
        if jobs and (len(jobs) == 1 or not (any(records[job].alone for job in jobs) or cures.repeats(jobs))):
            found.setdefault(frozenset(jobs), make_candidate(pricer, cures, tuple(jobs)))
    return list(found.values())


def make_candidate(pricer: Pricer, cures: Cures, jobs: tuple[str, ...]) -> Candidate:
    """Price a set of jobs and give its chance."""
    kinds = [pricer.compiled.expansion.jobs[job].kind for job in jobs]
    kind = "bundle" if len(jobs) > 1 else kinds[0] if kinds[0] in (*WHOLE_UNIT, "service") else "job"
    return Candidate(jobs, kind, pricer.price_jobs(jobs), cures.p_cured(jobs))


def _grow_bundles(pricer: Pricer, cures: Cures, singles: Sequence[Candidate]) -> list[tuple[str, ...]]:
    """Grow bundles within each opening: always the job that adds most chance per money."""
    records = pricer.compiled.expansion.jobs
    fit = [one for one in singles if one.kind not in WHOLE_UNIT and not records[one.jobs[0]].alone]
    fit = sorted(fit, key=lambda one: -one.p_cured)[:LEADING_JOBS]
    reach = {one.jobs[0]: frozenset(pricer.knowledge.access_path(records[one.jobs[0]].access)) for one in fit}
    bundles: dict[tuple[str, ...], None] = {}
    for level in dict.fromkeys(reach.values()):
        inside = [one for one in fit if reach[one.jobs[0]] <= level]
        for start in [one for one in inside if reach[one.jobs[0]] == level]:
            for bundle in _grow_from(pricer, cures, start, [one.jobs[0] for one in inside]):
                lean = _drop_idle(cures, bundle)
                if len(lean) > 1:
                    bundles.setdefault(tuple(sorted(lean, key=list(records).index)))
    return list(bundles)


def drop_hopeless(cures: Cures, jobs: tuple[str, ...]) -> tuple[str, ...]:
    """Leave out, the least first, what has no real chance here, neither by itself nor beside the others."""
    while len(jobs) > 1:
        left = {job: cures.p_reached(tuple(other for other in jobs if other != job)) for job in jobs}
        chances = {job: max(cures.p_cured((job,)), cures.p_reached(jobs) - p) for job, p in left.items()}
        least = min(jobs, key=lambda job: chances[job])
        if chances[least] >= LEAST_BESIDE:
            break
        jobs = tuple(job for job in jobs if job != least)
    return jobs


def _drop_idle(cures: Cures, bundle: tuple[str, ...]) -> tuple[str, ...]:
    """Leave out jobs that later ones in the bundle have made superfluous."""
    kept = bundle
    for job in bundle:
        rest = tuple(other for other in kept if other != job)
        if rest and cures.p_reached(kept) - cures.p_reached(rest) < LEAST_ADDED:
            kept = rest
    return kept


def _grow_from(pricer: Pricer, cures: Cures, start: Candidate, inside: Sequence[str]) -> list[tuple[str, ...]]:
    """Give every bundle on the way from one job up."""
    bundle, p, price = start.jobs, cures.p_reached(start.jobs), start.cost.typical
    grown = []
    while len(bundle) < MOST_IN_BUNDLE:
        trials = []
        for job in inside:
            if job not in bundle and (added := cures.p_reached((*bundle, job)) - p) >= LEAST_ADDED:
                more = pricer.price_jobs((*bundle, job)).typical - price
                trials.append((added / max(more, 1.0), job))
        if not trials:
            break
        bundle = (*bundle, max(trials)[1])
        p, price = cures.p_reached(bundle), pricer.price_jobs(bundle).typical
        grown.append(bundle)
    return grown


def keep_frontier(candidates: Iterable[Candidate]) -> list[Candidate]:
    """Keep what nothing else beats: no other costs as little and cures as surely; cheapest first."""
    kept: list[Candidate] = []
    for one in sorted(candidates, key=lambda item: (item.cost.typical, -item.p_cured, len(item.jobs))):
        if one.p_cured > 0 and (not kept or one.p_cured > kept[-1].p_cured):
            kept.append(one)
    return kept


def choose_few(
    frontier: Sequence[Candidate], first: Sequence[Candidate], expected_total: Callable[[Candidate], float], most: int
) -> list[Candidate]:
    """Choose the few that differ in kind and not in pennies, cheapest first.

    Args:
        frontier: what nothing beats.
        first: what must be in, such as the advised one and the plain service.
        expected_total: total of an option and what follows it; breaks ties.
        most: how many at most.
    """
    chosen = list(dict.fromkeys(first))[:most]
    area = _covered_area(chosen, frontier)
    while len(chosen) < most:
        kinds = {one.kind for one in chosen}
        worth = {
            one: (_covered_area([*chosen, one], frontier) * (1.0 + NEAR_CHANCE * (one.kind not in kinds)))
            for one in frontier
            if all(differs(one, other) for other in chosen)
        }
        if not worth:
            break
        best = max(worth, key=lambda one: (worth[one], -expected_total(one)))
        grown = _covered_area([*chosen, best], frontier)
        if grown <= area:
            break
        chosen, area = [*chosen, best], grown
    return sorted(chosen, key=lambda one: one.cost.typical)


def differs(one: Candidate, other: Candidate) -> bool:
    """Tell whether an owner would call two options different: in chance and in price, or in kind of work."""
    dearer = max(one.cost.typical, other.cost.typical, 1.0)
    far_price = abs(one.cost.typical - other.cost.typical) >= NEAR_PRICE * dearer
    return far_price and abs(one.p_cured - other.p_cured) >= NEAR_CHANCE


def _covered_area(chosen: Sequence[Candidate], frontier: Sequence[Candidate]) -> float:
    """Measure what a choice of options covers of price against chance, prices on a logarithmic scale."""
    prices = [max(one.cost.typical, 1.0) for one in (*frontier, *chosen)]
    if not prices:
        return 0.0
    lowest, highest = np.log(min(prices)), np.log(max(prices) * 1.1)
    area = best = 0.0
    for one in sorted(chosen, key=lambda item: item.cost.typical):
        if one.p_cured > best:
            area += (one.p_cured - best) * float(highest - np.log(max(one.cost.typical, 1.0)))
            best = one.p_cured
    return area / float(highest - lowest)
