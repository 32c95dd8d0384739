"""Choose the next step: a check, some checks in one go, or jobs, whichever costs the owner least."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from shiftlore.planning.bounds import bound_known_fault
from shiftlore.planning.costs import Situation
from shiftlore.planning.oracles import Oracle, Outcomes, join_outcomes
from shiftlore.planning.outlook import Bench, Outlook
from shiftlore.planning.planbook import PlanBook, write_book
from shiftlore.planning.plans import JobPlan, plan_jobs

MOST_BELIEFS = 120
"""Beliefs after one check for which a quick plan is written: those that move most, weighed with their chance."""

NO_GAIN = 1e-9
"""A saving below this is rounding, not worth proposing anything for."""


@dataclass(frozen=True, slots=True)
class LookAhead:
    """How far and how broadly to think.

    Args:
        depth: steps ahead at most; 1 prices each check alone.
        always: look that far even where one step gives a clear answer; else only where one step says that
            nothing pays, or the best two are close.
        close: how near the best two must be, as a share of the total now, to count as close.
        small: with at most this many outcomes of all checks together, look one step further still.
        broad_checks, broad_jobs: how many first checks and first batches are followed further.
        second_checks: how many checks are considered behind them.
        confirm: how many leading checks are priced again with the oracle's own later outcomes.
        bundle_outcomes: most joint outcomes of checks priced in one go.
    """

    depth: int = 2
    always: bool = True
    close: float = 0.02
    small: int = 16
    broad_checks: int = 10
    broad_jobs: int = 4
    second_checks: int = 16
    confirm: int = 0
    bundle_outcomes: int = 64


@dataclass(frozen=True, slots=True)
class StepCost:
    """What a step costs by itself, from what is open now.

    Args:
        total: to be paid for the step: access, own work and, for jobs, closing and road test.
        labour_minutes: all labour of the step.
        own: the check or the jobs at their level.
        access: opening (and closing, where the step includes it).
        test: closing road test and relearn.
        closing_later: closing of what the step leaves open; part of the expected total after.
    """

    total: float
    labour_minutes: float
    own: float
    access: float
    test: float
    closing_later: float


@dataclass(frozen=True, slots=True)
class Step:
    """One thing to do next, with its price and what is expected after it.

    Args:
        kind: ``check``, ``bundle`` (checks in one go) or ``job`` (jobs in one go).
        ids: what to do, in order.
        cost: of the step alone.
        expected_total_after: expected further cost once it is done.
        expected_saving: total now by jobs alone, minus cost, minus expected total after.
        p_cured: probability that it ends the problem (0 for checks).
        gross: for checks, what the answers save before the check's cost.
    """

    kind: str
    ids: tuple[str, ...]
    cost: StepCost
    expected_total_after: float
    expected_saving: float
    p_cured: float
    gross: float

    @property
    def expected_total(self) -> float:
        """Cost of the step and everything expected after it."""
        return self.cost.total + self.expected_total_after


@dataclass(frozen=True, slots=True)
class Stop:
    """Whether to stop checking, and why, as a code and its numbers.

    Args:
        advised: no check saves more than it costs.
        reason: ``check_pays``, ``job_pays_more`` (than any check), ``no_check_pays``, ``no_check_matters`` (whatever
            it shows, the same would be done), ``no_check_left``.
        jobs: what to do instead; empty where leaving it costs less than any job.
        p_cured: probability that this batch ends the problem.
        expected_total: of that plan.
        best_check: the check that came nearest to paying, or None.
        best_check_saving: its saving; negative where it costs more than it saves.
    """

    advised: bool
    reason: str
    jobs: tuple[str, ...]
    p_cured: float
    expected_total: float
    best_check: str | None
    best_check_saving: float


@dataclass(frozen=True, slots=True, eq=False)
class Choice:
    """What to do next, best first, with the plan of jobs and bounds.

    Args:
        steps: checks that pay and batches of jobs, best first.
        expected_total_now: the best plan of jobs without any further check.
        plan: that plan.
        lower_bound: no way of going on, with or without checks, is expected to cost less.
        upper_bound: the way found costs no more.
        stop: whether to stop checking.
        outlook: the prices behind it, for explaining.
    """

    steps: tuple[Step, ...]
    expected_total_now: float
    plan: JobPlan
    lower_bound: float
    upper_bound: float
    stop: Stop
    outlook: Outlook


def choose_step(
    situation: Situation, oracle: Oracle, look: LookAhead | None = None, book: PlanBook | None = None
) -> Choice:
    """Price every check, bundle and batch of jobs, and put the cheapest way on first.

    Args:
        oracle: belief and outcomes given everything known so far.
        look: how far to think; two steps where one is not clear by default.
        book: plans written earlier for the same jobs, to save time; None writes them.
    Returns: steps best first; checks that cannot change what is done, or do not pay, are left out.
    """
    belief = np.asarray(oracle.belief, dtype=float)
    tables = [oracle.outcomes(check.id) for check in situation.checks]
    likelihoods = tuple(table.likelihoods for table in tables)
    look = _look_further(look or LookAhead(), likelihoods)
    plan = plan_jobs(situation, belief)
    book = book or write_book(situation, _beliefs_ahead(belief, likelihoods), plan)
    outlook = Outlook(situation, book, likelihoods, _first_batches(situation, book, belief, look.broad_jobs))
    pricing = _Pricing(situation, oracle, outlook, belief, look, min(plan.expected_total, _now(outlook, belief)))
    steps = [*pricing.check_steps(), *pricing.bundle_steps(tables), *pricing.job_steps()]
    steps.sort(key=lambda step: (step.expected_total, step.kind == "job"))
    best = min([pricing.now, *(step.expected_total for step in steps)])
    lower = min(best, bound_known_fault(situation, belief))
    stop = pricing.advise_stop(steps, plan)
    return Choice(tuple(steps), pricing.now, plan, lower, best, stop, outlook)


def start_bench(situation: Situation) -> Bench:
    """The bench as it stands now: everything in the situation still to do."""
    checks = tuple(range(len(situation.checks)))
    return Bench(situation.opened, checks, np.zeros(len(situation.jobs), dtype=bool), situation.budget)


def _look_further(look: LookAhead, likelihoods: Sequence[np.ndarray]) -> LookAhead:
    """One step more where there is little to look at."""
    is_small = sum(len(table) for table in likelihoods) <= look.small
    return replace(look, depth=look.depth + 1) if look.depth > 1 and is_small else look


def _now(outlook: Outlook, belief: np.ndarray) -> float:
    return float(outlook.price_jobs(belief[None], start_bench(outlook.situation))[0])


def _beliefs_ahead(belief: np.ndarray, likelihoods: Sequence[np.ndarray]) -> np.ndarray:
    """The belief now and the beliefs one check ahead that move most, unnormalised, shape (k, n_hypotheses)."""
    ahead = np.concatenate([np.zeros((0, len(belief))), *(table * belief for table in likelihoods)])
    moved = np.abs(ahead - ahead.sum(axis=1, keepdims=True) * belief).sum(axis=1)
    most = np.sort(np.argsort(-moved, kind="stable")[:MOST_BELIEFS])
    return np.concatenate([belief[None], ahead[most]])


def _first_batches(
    situation: Situation, book: PlanBook, belief: np.ndarray, count: int
) -> tuple[tuple[int, ...], ...]:
    """First batches of the cheapest plans in the book, each once."""
    prices = book.price_each(belief[None], situation.opened, None, situation.budget)[0]
    found: dict[tuple[int, ...], None] = {}
    for row in np.argsort(prices, kind="stable"):
        plan = book.plans[int(row)]
        if plan and np.isfinite(prices[row]) and not situation.jobs[plan[0][0]].gives_up:
            found.setdefault(tuple(sorted(plan[0])))
        if len(found) == count:
            break
    return tuple(found)


@dataclass(frozen=True, slots=True, eq=False)
class _Pricing:
    """Everything needed to price the steps of one situation."""

    situation: Situation
    oracle: Oracle
    outlook: Outlook
    belief: np.ndarray
    look: LookAhead
    now: float

    def check_steps(self) -> list[Step]:
        """Every check that pays, with its price."""
        checks = range(len(self.situation.checks))
        if not checks:
            return []
        one_step = self._one_step()
        totals = one_step.copy()
        if self._needs_depth(one_step):
            for check in np.argsort(one_step, kind="stable")[: self.look.broad_checks]:
                totals[check] = min(totals[check], self._price_deep(int(check), one_step))
            for check in np.argsort(totals, kind="stable")[: self.look.confirm]:
                totals[check] = self._confirm(int(check))
        return [self._check_step(check, float(totals[check])) for check in checks
                if self._pays(check, float(one_step[check]), float(totals[check]))]

    def bundle_steps(self, tables: Sequence[Outcomes]) -> list[Step]:
        """Checks that share an opening and are worth more together than any of them alone."""
        steps, seen = [], set()
        for mask in sorted({mask for mask in self.situation.check_masks if mask & ~self.situation.opened}):
            chosen, total = self._grow_bundle(mask, tables)
            if len(chosen) > 1 and total < self.now - NO_GAIN and chosen not in seen:
                seen.add(chosen)
                steps.append(self._bundle_step(chosen, total))
        return steps

    def job_steps(self) -> list[Step]:
        """The batches of jobs worth beginning with, and the give-up jobs."""
        bench, row = start_bench(self.situation), self.belief[None]
        depth = self.look.depth if self.situation.checks else 1
        if self.situation.checks:
            second = np.argsort(self._one_step(), kind="stable")[: self.look.second_checks]
            bench = replace(bench, checks=tuple(sorted(map(int, second))))
        steps = []
        for batch in self.outlook.batches:
            total = float(self.outlook.price_batch(row, bench, batch, depth)[0])
            if np.isfinite(total):
                steps.append(self._job_step(batch, total))
        for job in self.situation.last_resorts:
            cost = self.situation.batch_cost((job,), self.situation.opened)
            if bench.affords(cost):
                left = float(self.belief @ self.situation.hypotheses.uncured(self.situation.missed_by((job,))))
                loss = self.situation.comeback_cost + self.situation.uncured_cost
                steps.append(self._job_step((job,), cost + loss * left))
        return steps

    def advise_stop(self, steps: Sequence[Step], plan: JobPlan) -> Stop:
        """Say whether checking should stop, and which numbers say so."""
        first = plan.places[0] if plan.places else ()
        if steps and steps[0].kind == "job" and plan.places:
            first = tuple(self.situation.job_index(job) for job in steps[0].ids)
        p_cured = self._p_cured(first)
        if not self.situation.checks:
            return Stop(True, "no_check_left", _ids(self.situation, first), p_cured, self.now, None, 0.0)
        one_step = self._one_step()
        best = int(np.argmin(one_step))
        name, saving = self.situation.checks[best].id, self.now - float(one_step[best])
        checks = [step for step in steps if step.kind != "job"]
        if steps and checks and steps[0].kind != "job":
            return Stop(False, "check_pays", _ids(self.situation, first), p_cured, self.now, checks[0].ids[0],
                        checks[0].expected_saving)
        matters = any(self._gross(check) > NO_GAIN for check in range(len(self.situation.checks)))
        reason = "job_pays_more" if checks else "no_check_pays" if matters else "no_check_matters"
        return Stop(True, reason, _ids(self.situation, first), p_cured, self.now, name, saving)

    def _one_step(self) -> np.ndarray:
        return self.outlook.price_checks(self.belief[None], start_bench(self.situation))[0]

    def _needs_depth(self, one_step: np.ndarray) -> bool:
        """One step says that nothing pays, or the best two are close."""
        if self.look.depth < 2 or len(one_step) < 2:
            return self.look.depth > 1 and self.look.always
        best, second = np.sort(one_step)[:2]
        return bool(
            self.look.always or best >= self.now - NO_GAIN or second - best <= self.look.close * abs(self.now)
        )

    def _price_deep(self, check: int, one_step: np.ndarray) -> float:
        second = np.argsort(one_step, kind="stable")[: self.look.second_checks]
        bench = replace(start_bench(self.situation), checks=tuple(sorted({check, *map(int, second)})))
        return float(self.outlook.price_check(self.belief[None], bench, check, self.look.depth)[0])

    def _confirm(self, check: int) -> float:
        """Price a check again, its second steps with the oracle's own outcomes given the first answer."""
        cost, _, opened = self.situation.reach_check(check, self.situation.opened)
        rest = self.situation.without(checks=(check,))
        bench = start_bench(rest)
        bench = Bench(opened, bench.checks, bench.done, bench.spend(cost))
        total = cost
        for outcome, p in enumerate(self.outlook.likelihoods[check] @ self.belief):
            if p > NO_GAIN:
                later = self.oracle.after(self.situation.checks[check].id, outcome)
                tables = tuple(later.outcomes(act.id).likelihoods for act in rest.checks)
                outlook = Outlook(rest, self.outlook.book, tables, self.outlook.batches)
                total += float(p) * float(outlook.price(np.asarray(later.belief)[None], bench, 1)[0])
        return total

    def _gross(self, check: int) -> float:
        """What a check's answers save before its cost, against reaching the same access without them."""
        bench = start_bench(self.situation)
        cost, _, opened = self.situation.reach_check(check, bench.opened)
        spent = Bench(opened, (), bench.done, bench.spend(cost))
        blind = self.outlook.price_jobs(self.belief[None], spent)[0]
        seen = self.outlook.price_jobs(self.outlook.likelihoods[check] * self.belief, spent).sum()
        return float(blind - seen)

    def _pays(self, check: int, one_step: float, total: float) -> bool:
        """Whether a check saves more than it costs, by itself or as the first of two."""
        if one_step < self.now - NO_GAIN:
            return self._gross(check) > NO_GAIN
        if total >= self.now - NO_GAIN:
            return False
        bench = start_bench(self.situation)
        second = np.argsort(self._one_step(), kind="stable")[: self.look.second_checks]
        others = replace(bench, checks=tuple(int(other) for other in np.sort(second) if other != check))
        return total < float(self.outlook.price(self.belief[None], others, self.look.depth - 1)[0]) - NO_GAIN

    def _grow_bundle(self, mask: int, tables: Sequence[Outcomes]) -> tuple[tuple[int, ...], float]:
        """Add checks that an opening serves, best first, while the total falls."""
        reach = mask | self.situation.opened
        fits = [c for c, need in enumerate(self.situation.check_masks) if need and not need & ~reach
                and not self.situation.checks[c].needs_closed and self._gross(c) > NO_GAIN]
        fits = sorted(fits, key=self._gross, reverse=True)[: self.look.broad_checks]
        chosen: tuple[int, ...] = ()
        best = np.inf
        while True:
            trials = [(*chosen, c) for c in fits if c not in chosen and self._outcome_count((*chosen, c), tables)]
            totals = [self._price_bundle(trial, tables) for trial in trials]
            if not trials or min(totals) >= best - NO_GAIN:
                return chosen, best
            best = min(totals)
            chosen = trials[int(np.argmin(totals))]

    def _outcome_count(self, checks: tuple[int, ...], tables: Sequence[Outcomes]) -> bool:
        return int(np.prod([len(tables[c].labels) for c in checks])) <= self.look.bundle_outcomes

    def _price_bundle(self, checks: tuple[int, ...], tables: Sequence[Outcomes]) -> float:
        cost, _, opened = self._reach_bundle(checks)
        bench = start_bench(self.situation)
        if not bench.affords(cost):
            return float("inf")
        after = Bench(opened, (), bench.done, bench.spend(cost))
        joint = join_outcomes([tables[c] for c in checks]).likelihoods * self.belief
        return cost + float(self.outlook.price_jobs(joint, after).sum())

    def _reach_bundle(self, checks: tuple[int, ...]) -> tuple[float, float, int]:
        cost, minutes, opened = 0.0, 0.0, self.situation.opened
        for check in checks:
            more, longer, opened = self.situation.reach_check(check, opened)
            cost, minutes = cost + more, minutes + longer
        return cost, minutes, opened

    def _check_step(self, check: int, total: float) -> Step:
        cost, minutes, opened = self.situation.reach_check(check, self.situation.opened)
        return self._informing("check", (check,), cost, minutes, opened, total, self._gross(check))

    def _bundle_step(self, checks: tuple[int, ...], total: float) -> Step:
        cost, minutes, opened = self._reach_bundle(checks)
        return self._informing("bundle", checks, cost, minutes, opened, total, self.now - total + cost)

    def _informing(
        self, kind: str, checks: tuple[int, ...], cost: float, minutes: float, opened: int, total: float, gross: float
    ) -> Step:
        own = sum(self.situation.checks[check].cost for check in checks)
        later = float(self.situation.access.close_costs[opened])
        price = StepCost(cost, minutes, own, cost - own, 0.0, later)
        ids = tuple(self.situation.checks[check].id for check in checks)
        return Step(kind, ids, price, total - cost, self.now - total, 0.0, gross)

    def _job_step(self, batch: tuple[int, ...], total: float) -> Step:
        cost = self.situation.batch_cost(batch, self.situation.opened)
        own = float(sum(self.situation.job_costs[job] for job in batch))
        access = self.situation.access_cost(self.situation.batch_mask(batch), self.situation.opened)
        minutes = self.situation.batch_minutes(batch, self.situation.opened)
        price = StepCost(cost, minutes, own, access, self.situation.test_cost, 0.0)
        ids, p_cured = _ids(self.situation, batch), self._p_cured(batch)
        return Step("job", ids, price, total - cost, self.now - total, p_cured, 0.0)

    def _p_cured(self, batch: tuple[int, ...]) -> float:
        left = self.situation.hypotheses.uncured(self.situation.missed_by(batch))
        return max(0.0, 1.0 - float(self.belief @ left))


def _ids(situation: Situation, batch: tuple[int, ...]) -> tuple[str, ...]:
    return tuple(situation.jobs[job].id for job in batch)
