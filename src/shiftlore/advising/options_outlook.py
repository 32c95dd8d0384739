"""The planner's view of a case, asked as an owner would: what comes after this option, and after one more check."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from shiftlore.advising.options_candidates import Candidate, Cures, drop_hopeless, prepare_cures
from shiftlore.advising.pricing import NO_COST, OptionCost, Pricer, price_waiting
from shiftlore.advising.reasons import name_cause
from shiftlore.advising.situations import EXCHANGE, WHOLE_UNIT, CaseSituation, choose_for_case
from shiftlore.compiling import TOLD, CompiledCase
from shiftlore.knowledge import Shop
from shiftlore.planning import (
    Bench,
    Decision,
    LookAhead,
    Outcomes,
    Outlook,
    Situation,
    Step,
    join_likelihoods,
    join_outcomes,
    list_steps,
    plan_jobs,
    split_total,
    start_bench,
    tidy_plan,
)
from shiftlore.ranking import measure_spread
from shiftlore.ranking.dangers import P_SHOWN

P_OUTCOME = 0.02
"""Outcomes of a check rarer than this do not widen the price that is told, rarer areas are not named: judgement."""

AREAS_LEFT = 3

LEFT, LEFT_ALONE = "It leaves as it is, so that it may happen again:", 0.5
"""What is said of a cause that work puts right more seldom than not."""

WAYS = ("owner", "history", "scan", "look", "road", "measure", "open")
"""Ways to an answer; of two by which a check gets as much, the later tells how it is made."""

TRIED = "road"
"""What an owner could tell, a check tries out in the vehicle."""

JOBS_ONLY = 1
"""Depth of the planner's price of a batch: what follows a failure is jobs alone."""

STEPS_SHOWN = 2
"""Depth of what is told of every option: what it is, and what follows is jobs, or one more check and jobs."""


@dataclass(frozen=True, slots=True, eq=False)
class CheckFirst:
    """One more check, or none that is left, and what follows it.

    Args:
        first_cost: of the check alone.
        cost: with the job that its outcome leads to: cheapest, expected, dearest.
        drawn: the chance under each draw of the rules' numbers, shape (n_draws,).
        likeliest_jobs: what it leads to most often.
        beyond_budget: whether the budget pays no check with that, so that it is reckoned as if there were none.
    """

    expected_total: float
    drawn: np.ndarray
    checks: tuple[str, ...] = ()
    first_cost: OptionCost = NO_COST
    cost: OptionCost = NO_COST
    p_cured: float = 0.0
    p_cured_low: float = 0.0
    p_cured_high: float = 0.0
    likeliest_jobs: tuple[str, ...] = ()
    beyond_budget: bool = False


@dataclass(frozen=True, slots=True)
class LikelyArea:
    """Where the trouble may lie, and how likely."""

    area: str
    label: str
    probability: float


@dataclass(frozen=True)
class OwnersView:
    """A case prepared: the planner's situation and choice, the pricer, the cures.

    Args:
        free: the choice without a budget; beyond: the same where it has something to say (`planning.look_beyond`).
    """

    prepared: CaseSituation
    choice: Decision
    pricer: Pricer
    cures: Cures
    free: Decision
    beyond: Decision | None = None

    @property
    def steps(self) -> list[tuple[Decision, Step]]:
        """The steps as they are told at the bench, each with the choice that it comes from."""
        return list_steps(self.choice, self.beyond, self.belief)

    @property
    def compiled(self) -> CompiledCase:
        """The case."""
        return self.prepared.compiled

    @property
    def situation(self) -> Situation:
        """What the planner plans with."""
        return self.choice.outlook.situation

    @cached_property
    def belief(self) -> np.ndarray:
        """Weight of each hypothesis now, shape (n_hypotheses,)."""
        return np.asarray(self.prepared.oracle.belief, dtype=float)

    def planned_jobs(self) -> list[tuple[str, ...]]:
        """List the sets of jobs that the planner would begin with."""
        found = [step.ids for step in self.choice.steps if step.kind == "job"]
        return [*found, *self.choice.plan.batches[:1]]

    def expected_total(self, candidate: Candidate) -> float:
        """Expected cost of a set of jobs and of everything after it, at the owner's price for the jobs.

        Within the budget no more than it is paid in all, as the next steps reckon; what is dearer is priced as if the
        owner agreed to pay it.
        """
        batch = tuple(self.situation.job_index(job) for job in candidate.jobs)
        bench, cost = start_bench(self.situation), self.situation.batch_cost(batch, self.situation.opened)
        if bench.budget is not None:
            bench = bench.vary(budget=max(bench.budget, cost) if bench.affords(candidate.cost.typical) else None)
        planned = float(self.choice.outlook.price_batch(self.belief[None], bench, batch, JOBS_ONLY)[0])
        if bench.affords(candidate.cost.typical):
            planned = min(planned, self._next_totals.get(frozenset(candidate.jobs), planned))
        return planned - cost + candidate.cost.typical

    @cached_property
    def _next_totals(self) -> Mapping[frozenset[str], float]:
        """What the next steps expect in all of the jobs that they name, at the planner's price for these."""
        totals = {frozenset(batch): self.choice.expected_total_now for batch in self.choice.plan.batches[:1]}
        for step in self.choice.steps:
            if step.kind == "job":
                totals[frozenset(step.ids)] = min(
                    step.expected_total, totals.get(frozenset(step.ids), step.expected_total)
                )
        return totals

    def after_failure(self, candidate: Candidate) -> tuple[tuple[str, ...], tuple[LikelyArea, ...], float] | None:
        """Say what comes next if these jobs do not help; None if then nothing can be wrong any more.

        Returns: the next jobs, the areas in which the fault then lies, and the chance that these jobs cure it.
        """
        missed = self.cures.missed_by(candidate.jobs)
        if self.cures.p_states @ self.cures.cured_by(missed) >= 1.0:
            return None
        p_states = self.compiled.with_vain(candidate.jobs).faults_now
        left = self.likely_areas(p_states)[:AREAS_LEFT]
        if candidate.kind == EXCHANGE:  # what is left lies outside, and is looked for anew
            return (), left, 0.0
        batch = tuple(self.situation.job_index(job) for job in candidate.jobs)
        closed = self.situation.without(jobs=batch).vary(opened=0, budget=None)
        belief = self.prepared.oracle.weighing.gather(p_states)
        unfit = closed.list_unfit(belief)
        # What only shows that nothing is broken repairs nothing.
        closed = closed.vary(jobs=tuple(job for job in closed.jobs if not job.least and job.id not in unfit))
        plan = tidy_plan(closed, belief, plan_jobs(closed, belief))
        then = replace(self.cures, p_states=p_states)
        following = drop_hopeless(then, plan.batches[0]) if plan.batches else ()
        return following, left, float(p_states @ then.cured_by(then.missed_by(following))) if following else 0.0

    def tell_left(self, candidate: Candidate) -> str:
        """Say which likely causes another unit, or an overhaul, leaves at work: what spoiled this one spoils that one too."""
        if candidate.kind not in WHOLE_UNIT:
            return ""
        p_causes, missed = (
            self.compiled.faults.sum_over_causes(self.cures.p_states),
            self.cures.missed_by(candidate.jobs),
        )
        left = [i for i in np.argsort(-p_causes, kind="stable") if p_causes[i] >= P_SHOWN and missed[i] > LEFT_ALONE]
        named = [f"{name_cause(self.compiled, self.compiled.causes[i])} ({100 * p_causes[i]:.0f} %)" for i in left]
        return f"{LEFT} {'; '.join(named)}." if named else ""

    def likely_areas(self, p_states: np.ndarray) -> tuple[LikelyArea, ...]:
        """List the areas in which the trouble may lie, most probable first."""
        weighed = sorted(self.weigh_areas(p_states).items(), key=lambda item: -item[1])
        areas = self.compiled.knowledge.areas
        return tuple(LikelyArea(area, areas[area].label, p) for area, p in weighed if p >= P_OUTCOME)

    def share_areas(self, p_states: np.ndarray) -> tuple[LikelyArea, ...]:
        """Share the belief out over areas, the largest share first: a set of faults counts in equal parts.

        Args:
            p_states: belief over root states, shape (n_states,); with its first, nothing found, the shares make its sum.
        """
        causes, faults = self.compiled.expansion.causes, self.compiled.faults
        shares: dict[str, float] = {}
        for p, member in zip(p_states.tolist(), faults.members, strict=True):
            areas = {causes[faults.causes[i]].area for i in member}
            for area in areas:
                shares[area] = shares.get(area, 0.0) + p / len(areas)
        named = self.compiled.knowledge.areas
        return tuple(LikelyArea(a, named[a].label, p) for a, p in sorted(shares.items(), key=lambda one: -one[1]))

    def weigh_areas(self, p_states: np.ndarray) -> Mapping[str, float]:
        """Give per area the probability that at least one of its causes is at work."""
        return {area: min(max(1.0 - float(p_states @ spared), 0.0), 1.0) for area, spared in self._spared.items()}

    @cached_property
    def _spared(self) -> Mapping[str, np.ndarray]:
        """Tell of each area in which root states nothing is wrong there: 1 or 0, shape (n_states,)."""
        faults, causes = self.compiled.faults, self.compiled.expansion.causes
        area_of = np.array([causes[cause].area for cause in faults.causes])
        return {
            area: faults.spread_over_states((area_of != area).astype(float)) for area in dict.fromkeys(area_of.tolist())
        }

    def ways_of(self, checks: tuple[str, ...]) -> tuple[str, ...]:
        """Say how checks are made: as most of what each reveals is got, beyond what the owner can tell."""
        expansion = self.compiled.expansion
        found = []
        for check in checks:
            ways = [expansion.finding_records[name].got_by for name in expansion.reveals[check]]
            beyond = [way for way in ways if way not in TOLD] or ways
            found.append(max(beyond, key=lambda way: (beyond.count(way), WAYS.index(way))))
        return tuple(dict.fromkeys(TRIED if way == WAYS[0] else way for way in found))

    def check_first(self) -> CheckFirst:
        """Work out one more check and the jobs that its outcomes lead to: the check that the next steps name first.

        Where they name none, that of the way without a budget, or the one that comes nearest to paying. Where the budget
        pays it with what it leads to most often, all is reckoned within the budget, as for every other option.
        """
        named = [*self.steps, *((self.free, step) for step in self.free.steps)]
        source, step = next(((source, it) for source, it in named if it.kind != "job"), (self.free, None))
        if step is not None and source is self.choice:
            return self._follow(step.ids, step.expected_total, self.situation.budget, self.choice)
        checks, total = (step.ids, step.expected_total) if step is not None else self._find_nearest()
        if not checks:
            none = np.zeros(len(self.cures.drawn_states))
            return CheckFirst(expected_total=self.choice.expected_total_now, drawn=none)
        followed, budget = self._follow(checks, total, None, self.free), self.situation.budget
        if budget is None:
            return followed
        opened = self._opened_by(checks)
        with_repair = followed.first_cost.typical + self.pricer.price_jobs(followed.likeliest_jobs, opened).typical
        if with_repair > budget:
            return replace(followed, beyond_budget=True)
        return self._follow(checks, self._price_checks(self.choice.outlook, checks, budget, 0), budget, self.choice)

    def _find_nearest(self) -> tuple[tuple[str, ...], float]:
        """Find the check that comes nearest to paying as if there were no budget, and its total; none where none is left."""
        if not self.situation.checks:
            return (), 0.0
        bench = start_bench(self.situation).vary(budget=None)
        totals = self.choice.outlook.price_checks(self.belief[None], bench)[0]
        best = int(np.argmin(totals))
        return (self.situation.checks[best].id,), float(totals[best])

    def _opened_by(self, checks: tuple[str, ...]) -> frozenset[str]:
        """Name the levels that are open once checks were made."""
        return self.pricer.opened | self.pricer.levels_of(self.compiled.expansion.checks[check] for check in checks)

    def _price_checks(self, outlook: Outlook, checks: tuple[str, ...], budget: float | None, depth: int) -> float:
        """Expected total of checks in one go and of the best after them, thinking so many steps ahead."""
        bench, paid = _bench_after(outlook.situation, checks, start_bench(outlook.situation).vary(budget=budget))
        places = [outlook.situation.check_index(check) for check in checks]
        parts = join_likelihoods([outlook.likelihoods[place] for place in places]) * self.belief
        left = tuple(check for check in bench.checks if check not in places)
        return paid + float(outlook.price(parts, bench.vary(checks=left), depth).sum())

    def go_on(self, candidate: Candidate) -> tuple[float, float]:
        """Give what is paid on average for jobs and all that follows without a budget, and the chance of a cure then."""
        known = {job.id for job in self.free.outlook.situation.jobs}  # it may lack what does not fit the belief
        rich = self.free.outlook if known.issuperset(candidate.jobs) else self.choice.outlook
        batch = tuple(rich.situation.job_index(job) for job in candidate.jobs)
        cost = rich.situation.batch_cost(batch, rich.situation.opened)

        def price(outlook: Outlook) -> float:
            bench = start_bench(outlook.situation).vary(budget=None)
            return float(outlook.price_batch(self.belief[None], bench, batch, STEPS_SHOWN)[0])

        paid, left = split_total(rich, price, self._waiting)
        return paid - cost + candidate.cost.typical, max(1.0 - left, candidate.p_cured)

    def go_on_after(self, first: CheckFirst) -> tuple[float, float]:
        """Give the same for a check first."""
        if not first.checks:
            return 0.0, 0.0

        def price(outlook: Outlook) -> float:
            return self._price_checks(outlook, first.checks, None, STEPS_SHOWN - 1)

        paid, left = split_total(self.free.outlook, price, self._waiting)
        return paid, max(1.0 - left, first.p_cured)

    @cached_property
    def _waiting(self) -> Mapping[str, float]:
        """What the time that a vehicle waits for each check is worth; it is on no bill."""
        return {name: price_waiting(self.pricer.shop, check) for name, check in self.prepared.checks.items()}

    def _follow(self, checks: tuple[str, ...], total: float, budget: float | None, choice: Decision) -> CheckFirst:
        """Work out what some checks cost and cure with the jobs that their outcomes lead to."""
        outcomes = join_outcomes([self.prepared.oracle.outcomes(check) for check in checks])
        bench = start_bench(choice.outlook.situation).vary(budget=budget)
        batches = self.batches_after(checks, outcomes, bench, choice)
        p_outcomes = outcomes.likelihoods @ self.belief
        first, opened = self.pricer.price_checks(checks), self._opened_by(checks)
        costs = [self.pricer.price_jobs(batch, opened) for batch in batches]
        p, drawn = self.chance_after(outcomes, batches)
        low, high = measure_spread(drawn)
        weights: dict[tuple[str, ...], float] = {}
        for batch, p_outcome in zip(batches, p_outcomes, strict=True):
            weights[batch] = weights.get(batch, 0.0) + float(p_outcome)
        return CheckFirst(
            checks=checks,
            first_cost=first,
            cost=_join_costs(first, costs, p_outcomes),
            p_cured=p,
            p_cured_low=min(float(low), p),
            p_cured_high=max(float(high), p),
            drawn=drawn,
            expected_total=total,
            likeliest_jobs=max(weights, key=lambda batch: weights[batch]),
        )

    def batches_after(
        self, checks: tuple[str, ...], outcomes: Outcomes, bench: Bench, choice: Decision
    ) -> list[tuple[str, ...]]:
        """Give, per outcome of checks, the first batch of the plan that then costs least, within the budget."""
        bench, _ = _bench_after(self.situation, checks, bench)
        book = choice.outlook.book
        prices = book.price_each(outcomes.likelihoods * self.belief, bench.opened, None, bench.budget)
        plans = [book.plans[int(row)] for row in np.argmin(prices, axis=1)]
        jobs = choice.outlook.situation.jobs
        return [tuple(jobs[job].id for job in plan[0]) if plan else () for plan in plans]

    def chance_after(self, outcomes: Outcomes, batches: list[tuple[str, ...]]) -> tuple[float, np.ndarray]:
        """Give the chance of a cure by the job that each outcome leads to, and the chance under each draw."""
        per_state = outcomes.likelihoods[:, self.prepared.oracle.weighing.owner]
        cures = self.cures
        p, drawn = 0.0, np.zeros(len(cures.drawn_states))
        for row, batch in zip(per_state, batches, strict=True):
            if batch:
                p += float((cures.p_states * row) @ cures.cured_by(cures.missed_by(batch)))
                drawn += np.sum(cures.drawn_states * row * cures.cured_by(cures.missed_in_draws(batch)), axis=1)
        return p, drawn


def look_ahead(compiled: CompiledCase, shop: Shop | None = None, look: LookAhead | None = None) -> OwnersView:
    """Prepare a case for its owner."""
    prepared, choice, beyond, _, free = choose_for_case(compiled, shop, look)
    # A choice may lack what does not fit the belief: what a check shows, or another budget, may make it fit.
    cures = prepare_cures(compiled, [job.id for job in choice.outlook.situation.jobs], prepared.jobs)
    return OwnersView(prepared, choice, Pricer(compiled, prepared.shop), cures, free=free, beyond=beyond)


def _bench_after(situation: Situation, checks: tuple[str, ...], bench: Bench) -> tuple[Bench, float]:
    """Give the bench once checks were made, and what they cost."""
    paid = 0.0
    for check in checks:
        cost, _, opened = situation.reach_check(situation.check_index(check), bench.opened)
        bench, paid = bench.vary(opened=opened, budget=bench.spend(cost)), paid + cost
    return bench, paid


def _join_costs(first: OptionCost, costs: list[OptionCost], p_outcomes: np.ndarray) -> OptionCost:
    """Add the price of a check to the cheapest, the expected and the dearest of what it leads to."""
    likely = [cost for cost, p in zip(costs, p_outcomes, strict=True) if p >= P_OUTCOME] or costs
    typical = float(sum(cost.typical * p for cost, p in zip(costs, p_outcomes, strict=True)))
    minutes = float(sum(cost.labour_minutes * p for cost, p in zip(costs, p_outcomes, strict=True)))
    return OptionCost(
        first.low + min(cost.low for cost in likely),
        first.typical + typical,
        first.high + max(cost.high for cost in likely),
        first.labour_minutes + minutes,
        first.lines,
    )
