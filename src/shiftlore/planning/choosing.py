"""Choose the next step: a check, some checks in one go, or jobs, whichever costs the owner least."""

import math
from collections.abc import Iterable, Sequence
from functools import cached_property

import numpy as np

from shiftlore.basics.structs import Value
from shiftlore.planning.beginnings import list_beginnings, try_small_batches
from shiftlore.planning.costs import Situation
from shiftlore.planning.ordering import bound_known_fault
from shiftlore.planning.outlook import Bench, Outlook, PlanBook, start_bench, write_book
from shiftlore.planning.plans import JobPlan, describe_plan, plan_jobs, plan_otherwise, tidy_plan
from shiftlore.planning.readings import Oracle, join_likelihoods
from shiftlore.planning.waiting import NEARLY, NO_GAIN, Urgency, weigh_urgency

AHEAD = ((80, 24), (80, 24), (40, 0))
"""Beliefs after one answer, two and three for which a quick plan is written, those that move most, weighed with their
chance; and from how many of them it looks on. Whoever looks one step ahead needs the first alone."""

DEAR = 8.0
"""Whatever costs so many times as much as a look with which a careful visit begins waits for it (common practice): for the
first of them, the codes, always, and for others where they can change it. Rules know less than a vehicle."""

RARE, NEAR, SELDOM = 0.035, 0.8, 0.05
"""What changes in fewer vehicles hardly ever does. What most likely proves the fault goes before checks of more than this share
of its price, and must save this share of it by a change of the first work to be made at all: judgement."""


class LookAhead(Value, frozen=True):
    """How far and how broadly to think.

    Args:
        depth: steps ahead at most; 1 prices each check alone.
        small: with at most this many outcomes of all checks together, look three steps further still, to the end.
        broad_checks, broad_jobs: how many first checks and first batches are followed further.
        second_checks: how many checks are considered behind them.
        bundle_outcomes: most joint outcomes of checks priced in one go.
        nearly: share of the total within which what opens less comes first, and that a check must save at least.
        at_once: a check that is best by itself and opens little is proposed without looking further. Whoever compares
            prices of several steps, as practice does, looks further all the same.
    """

    depth: int = 2
    small: int = 16
    broad_checks: int = 10
    broad_jobs: int = 4
    second_checks: int = 16
    bundle_outcomes: int = 64
    nearly: float = NEARLY
    at_once: bool = True


class StepCost(Value, frozen=True):
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


class Step(Value, frozen=True):
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
    p_cured: float = 0.0
    gross: float = 0.0

    @property
    def expected_total(self) -> float:
        """Cost of the step and everything expected after it."""
        return self.cost.total + self.expected_total_after


class Stop(Value, frozen=True):
    """Whether to stop checking, and why, as a code and its numbers.

    Args:
        advised: no check saves more than it costs by what the planner can tell.
        reason: ``check_pays``, ``look_first`` (before dear work), ``job_pays_more`` (than any check), ``no_check_pays``,
            ``no_check_matters`` (whatever it shows, the same would be done), ``no_check_left``.
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


class Decision(Value, frozen=True, eq=False):
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


def choose_step(situation: Situation, oracle: Oracle, look: LookAhead | None = None) -> Decision:
    """Price every check, bundle and batch of jobs, and put the cheapest way on first.

    A check that is best by itself and opens little is made at once; only before something is opened or repaired it
    is worth knowing what could follow.

    Args:
        oracle: belief and outcomes given everything known so far.
        look: how far to think; two steps by default.
    Returns: steps best first, of nearly equal ones those that open less, the looks of a careful visit before dear work, what
        is made for a told sign before all; checks that can wait until the first work has failed, do not pay, or save no
        more than can be told, are left out. So is work that does not fit the belief (`PricedJob.least`): a plan may end
        with it; where one would begin, the situation of the outlook is without it.
    """
    choice, unfit = _choose_any(situation, oracle, look), situation.list_unfit(oracle.belief)
    if not unfit.isdisjoint((*choice.stop.jobs, *(job for batch in choice.plan.batches[:1] for job in batch))):
        fit = situation.vary(jobs=tuple(job for job in situation.jobs if job.id not in unfit))
        return _choose_any(fit, oracle, look)
    return choice.vary(steps=tuple(step for step in choice.steps if step.kind != "job" or unfit.isdisjoint(step.ids)))


def _choose_any(situation: Situation, oracle: Oracle, look: LookAhead | None) -> Decision:
    belief = np.asarray(oracle.belief, dtype=float)
    likelihoods = tuple(oracle.likelihoods(check.id) for check in situation.checks)
    look, plan = look or LookAhead(), plan_jobs(situation, belief)
    if look.depth > 1 and sum(map(len, likelihoods)) <= look.small:
        look = look.vary(depth=look.depth + 3, broad_jobs=2 * look.broad_jobs, nearly=0.0)
    elif look.depth > 1 and look.at_once:
        choice = _choose(situation, belief, likelihoods, plan, look.vary(depth=1))
        first = choice.steps[0] if choice.steps else None
        if first is not None and first.kind == "check" and _opening(situation, first) <= first.cost.own:
            return choice
    return _choose(situation, belief, likelihoods, plan, look)


def _choose(
    situation: Situation, belief: np.ndarray, likelihoods: tuple[np.ndarray, ...], plan: JobPlan, look: LookAhead
) -> Decision:
    """Choose with all that is looked at so far."""
    beliefs = _beliefs_ahead(belief, likelihoods, AHEAD[: look.depth])
    book = write_book(situation, beliefs, plan, plan_otherwise(situation, belief, plan))
    plan = tidy_plan(situation, belief, _best_affordable(situation, belief, book, plan))
    outlook = Outlook(situation, book, likelihoods, list_beginnings(situation, book, belief, look.broad_jobs))
    if look.depth > LookAhead().depth and likelihoods:
        outlook = try_small_batches(outlook, beliefs, look.broad_jobs)
    pricing = _Pricing(situation=situation, outlook=outlook, belief=belief, look=look, plan=plan)
    steps = [*pricing.check_steps(), *pricing.bundle_steps(), *pricing.job_steps]
    steps.sort(key=lambda step: (step.expected_total, step.kind == "job"))
    best = min([pricing.now, *(step.expected_total for step in steps)])
    steps = pricing.look_first(_open_late(situation, steps, look.nearly))
    return Decision(
        steps=tuple(steps),
        expected_total_now=pricing.now,
        plan=plan,
        lower_bound=min(best, bound_known_fault(situation, belief)),
        upper_bound=best,
        stop=pricing.advise_stop(steps),
        outlook=outlook,
    )


def _open_late(situation: Situation, steps: list[Step], nearly: float) -> list[Step]:
    """Put first what opens less among the best step and the checks that cost nearly as little in the end."""
    limit = (1.0 + nearly) * steps[0].expected_total if steps else 0.0
    equals = [step for step in steps if step is steps[0] or (step.kind != "job" and step.expected_total <= limit)]
    rest = [step for step in steps if step not in equals]
    return sorted(equals, key=lambda step: step.expected_total + _opening(situation, step)) + rest


def _opening(situation: Situation, step: Step) -> float:
    """Give the cost of opening, and of closing again, what a step opens."""
    if step.kind == "job":
        mask = situation.batch_mask(tuple(map(situation.job_index, step.ids)))
    else:
        mask = int(np.bitwise_or.reduce([situation.check_masks[situation.check_index(each)] for each in step.ids]))
    return float(situation.access.round_trip(mask & ~situation.opened))


def _price(step: Step) -> float:
    return step.cost.total + step.cost.closing_later


def _beliefs_ahead(
    belief: np.ndarray, likelihoods: Sequence[np.ndarray], ahead_kept: Sequence[tuple[int, int]]
) -> np.ndarray:
    """The belief now and those some answers ahead that move most, unnormalised, shape (k, n_hypotheses).

    What the second of two checks shows is worth nothing to a book that holds no plan for it.
    """
    found, tips = [belief[None]], belief[None]
    tables = np.concatenate([np.zeros((0, len(belief))), *likelihoods])
    owners = np.repeat(np.arange(len(likelihoods)), [len(table) for table in likelihoods])
    made = np.zeros((1, len(likelihoods)), dtype=bool)
    telling = np.arange(len(tables))
    for most, tips_kept in ahead_kept:
        ahead = tips[:, None, :] * tables[telling]
        moved = np.abs(
            ahead - ahead.sum(axis=2, keepdims=True) * (tips / tips.sum(axis=1, keepdims=True))[:, None]
        ).sum(axis=2)
        moved[made[:, owners[telling]]] = -1.0
        order = np.argsort(-moved, axis=None, kind="stable")[:most]
        order = order[moved.reshape(-1)[order] > 0.0]
        rows, columns = np.unravel_index(order, moved.shape)
        found.append(ahead[rows, columns])
        kept = slice(0, tips_kept)
        made = made[rows[kept]].copy()
        made[np.arange(len(made)), owners[telling[columns[kept]]]] = True
        tips = ahead[rows[kept], columns[kept]]
        telling = np.unique(telling[columns], return_index=True)[0]  # without an index it loads numpy's masked arrays
        if not len(tips):
            break
    return np.concatenate(found)


def _best_affordable(situation: Situation, belief: np.ndarray, book: PlanBook, plan: JobPlan) -> JobPlan:
    """Where there is a budget, the best plan of the book that it buys, if that is better than the plan cut off by it."""
    if situation.budget is None:
        return plan
    prices = book.price_each(belief[None], situation.opened, None, situation.budget)[0]
    best = int(np.argmin(prices))
    return describe_plan(situation, belief, book.plans[best], "cut") if prices[best] < plan.expected_total else plan


class _Pricing(Value, frozen=True, eq=False, dict=True):
    """Everything needed to price the steps of one situation; what several steps need is worked out once."""

    situation: Situation
    outlook: Outlook
    belief: np.ndarray
    look: LookAhead
    plan: JobPlan

    @cached_property
    def bench(self) -> Bench:
        """The bench as it stands now."""
        return start_bench(self.situation)

    @cached_property
    def now(self) -> float:
        """Expected total by jobs alone."""
        return min(self.plan.expected_total, float(self.outlook.price_jobs(self.belief[None], self.bench)[0]))

    @cached_property
    def one_step(self) -> np.ndarray:
        """Expected total of each check followed by jobs alone, shape (n_checks,)."""
        if not self.situation.checks:
            return np.zeros(0)
        return self.outlook.price_checks(self.belief[None], self.bench)[0]

    @cached_property
    def second(self) -> tuple[int, ...]:
        """The checks that are considered behind a first step."""
        return tuple(sorted(map(int, np.argsort(self.one_step, kind="stable")[: self.look.second_checks])))

    @cached_property
    def urgency(self) -> Urgency:
        """What the checks save, and which can wait until the first work has failed."""
        return weigh_urgency(self.outlook, self.belief, self.bench, self.one_step)

    @property
    def gross(self) -> np.ndarray:
        """What each check's answers save before its cost, against reaching the same access without them."""
        return self.urgency.gross

    @cached_property
    def before_work(self) -> tuple[int, ...]:
        """Those of them that may be made before the first work; where it is looked to the end, all."""
        can_wait = self.urgency.can_wait & (self.gross > NO_GAIN) & (self.look.depth <= LookAhead().depth)
        return tuple(check for check in self.second if not can_wait[check])

    def check_steps(self) -> list[Step]:
        """Every check that pays, with its price."""
        totals = self.one_step.copy()
        if self.look.depth > 1:
            for check in np.argsort(self.one_step, kind="stable")[: self.look.broad_checks]:
                bench = self.bench.vary(checks=tuple(sorted({int(check), *self.before_work})))
                deep = self.outlook.price_check(self.belief[None], bench, int(check), self.look.depth)[0]
                totals[check] = min(totals[check], float(deep))
        return [
            self._informing("check", (check,), float(totals[check]), float(self.gross[check]))
            for check in range(len(totals))
            if self._pays(check, float(totals[check]))
        ]

    def bundle_steps(self) -> list[Step]:
        """Checks that share an opening and are worth more together than any of them alone."""
        steps, seen = [], set()
        for mask in sorted({mask for mask in self.situation.check_masks if mask & ~self.situation.opened}):
            chosen, total = self._grow_bundle(mask)
            can_wait = self.urgency.saves[[*chosen]].sum() <= self._p_cured(self.urgency.first) * self._reach(chosen)[0]
            if len(chosen) > 1 and not can_wait and total < self.now - self._least(chosen) and chosen not in seen:
                seen.add(chosen)
                steps.append(self._informing("bundle", chosen, total))
        return steps

    @cached_property
    def job_steps(self) -> list[Step]:
        """The batches of jobs worth beginning with."""
        bench, row = self.bench.vary(checks=self.second), self.belief[None]
        depth, price = self.look.depth if self.situation.checks else 1, self.outlook.price_batch
        totals = {batch: float(price(row, bench, batch, min(depth, 2))[0]) for batch in self.outlook.batches}
        for batch in totals if depth > 2 else ():  # only what may be the best is followed to the end
            best = min(self.now, *totals.values())
            deep = float(price(row, bench, batch, depth, most=np.array([best]))[0])
            totals[batch] = deep if deep < best - NO_GAIN else totals[batch]
        return [self._job_step(batch, total) for batch, total in totals.items() if np.isfinite(total)]

    def price_looks(self, checks: Iterable[int], steps: Iterable[Step]) -> list[Step]:
        """Price checks whether or not they save their cost; those that are steps already stay as they are."""
        priced = {step.ids: step for step in steps}
        return [
            priced.get((self.situation.checks[check].id,))
            or self._informing("check", (check,), float(self.one_step[check]), float(self.gross[check]))
            for check in checks
        ]

    def look_first(self, steps: Sequence[Step]) -> list[Step]:
        """Put what is made for a told sign before all work, and the looks with which a careful visit begins before dear work.

        What begins a visit and is made for the sign goes before all else; of several looks with one place the cheapest is
        made. None is made where it cannot change the first work, but what most likely proves, or is owed to, work.
        """
        checks, first = self.situation.checks, _price(steps[0]) if steps else 0.0
        enough = self.outlook.leave_enough(self.belief, self.bench) if checks else ()
        unfit = self.situation.list_unfit(self.belief)
        at = next((i for i, step in enumerate(steps) if step.kind == "job" and unfit.isdisjoint(step.ids)), len(steps))
        work, ahead = {*steps[at].ids} if at < len(steps) else set(), {one for step in steps[:at] for one in step.ids}
        owed = {c for c, check in enumerate(checks) if check.before & work and check.id not in ahead}
        fits = [c for c in range(len(checks)) if enough[c] and (checks[c].early or checks[c].made_for or c in owed)]
        looks = dict(zip(fits, self.price_looks(fits, steps), strict=True))
        looks = {c: look for c, look in looks.items() if c in owed or self._is_look(c)}
        dear = {c for c, look in looks.items() if DEAR * look.cost.total <= first and self._is_look(c)}
        begin = {c: look for c, look in looks.items() if checks[c].early and (checks[c].made_for or c in dear)}
        places = {checks[c].early: c for c in sorted(begin, key=lambda c: -_price(begin[c]))}
        near = {c: look for c, look in looks.items() if c not in begin and (c in owed or not checks[c].early)}
        begun = [begin[c] for c in sorted(places.values(), key=lambda c: (not checks[c].made_for, checks[c].early))]
        rest = [step for step in steps if step not in near.values() and step not in begin.values()]
        for c, look in sorted(near.items(), key=lambda item: (checks[item[0]].proves, -_price(item[1]))):
            least, among = _price(look) * (NEAR if checks[c].proves else 1.0), [*near.values()]
            among = rest if checks[c].made_for else among
            dearer = (i for i, one in enumerate(rest) if one.kind == "job" or (one in among and _price(one) >= least))
            rest.insert(next(dearer, len(rest)), look)
        return [*begun, *rest]

    def advise_stop(self, steps: Sequence[Step]) -> Stop:
        """Say whether checking should stop, and which numbers say so."""
        first = self.plan.batches[0] if self.plan.batches else ()
        if first and steps and steps[0].kind == "job":
            first = steps[0].ids
        checks = [step for step in steps if step.kind != "job"]
        name, saving = None, 0.0
        if not self.situation.checks:
            reason = "no_check_left"
        elif checks and steps[0].kind != "job":
            name, saving = checks[0].ids[0], checks[0].expected_saving
            reason = "check_pays" if saving > 0.0 else "look_first"
        else:
            can_wait = self.urgency.saves <= NO_GAIN
            best = int(np.argmin(self.one_step + np.where(can_wait, self.now, 0.0)))
            name, saving = self.situation.checks[best].id, self.now - float(self.one_step[best])
            matters = not can_wait.all()
            reason = "job_pays_more" if checks else "no_check_pays" if matters else "no_check_matters"
        return Stop(
            advised=reason not in ("check_pays", "look_first"),
            reason=reason,
            jobs=first,
            p_cured=self._p_cured(tuple(map(self.situation.job_index, first))),
            expected_total=self.now,
            best_check=name,
            best_check_saving=saving,
        )

    def _pays(self, check: int, total: float) -> bool:
        """Whether a check saves more than it costs by what can be told, by itself or as the first of two."""
        least = self._least((check,))
        if self.one_step[check] < self.now - least:
            by_work = min([self.now, *(step.expected_total for step in self.job_steps)])
            return bool(not self.urgency.can_wait[check] or total < by_work - least)
        if total >= self.now - least:
            return False
        others = self.bench.vary(checks=tuple(other for other in self.before_work if other != check))
        return total < float(self.outlook.price(self.belief[None], others, self.look.depth - 1)[0]) - least

    def _is_look(self, check: int) -> bool:
        """Whether what is made for a sign, or begins a visit, can change the first work, or is owed to it."""
        look, first = self.situation.checks[check], self.urgency.first
        price = self.situation.batch_cost(first) if first else 0.0
        if look.early:
            is_owed = look.early == 1 and DEAR * look.cost <= price
            return bool(is_owed or not self.urgency.can_wait[check] or self.urgency.changes[check] > RARE)
        return bool((look.proves and DEAR * look.cost <= price) or self.urgency.saves[check] > SELDOM * look.cost)

    def _least(self, checks: tuple[int, ...]) -> float:
        """Give what checks must save to be proposed; early looks may save as little as they like."""
        early = all(self.situation.checks[check].early and self._is_look(check) for check in checks)
        return NO_GAIN + (0.0 if early else self.look.nearly * self.now)

    def _grow_bundle(self, mask: int) -> tuple[tuple[int, ...], float]:
        """Add checks that an opening serves, best first, while the total falls."""
        reach = mask | self.situation.opened
        fits = [
            c
            for c, need in enumerate(self.situation.check_masks)
            if need
            and not need & ~reach
            and not self.situation.checks[c].needs_closed
            and self.urgency.saves[c] > NO_GAIN
        ]
        fits = sorted(fits, key=lambda c: -self.gross[c])[: self.look.broad_checks]
        chosen, best, few = tuple[int, ...](), np.inf, self.look.bundle_outcomes
        while True:
            trials = [(*chosen, c) for c in fits if c not in chosen]
            trials = [each for each in trials if math.prod(len(self.outlook.likelihoods[c]) for c in each) <= few]
            totals = [self._price_bundle(trial) for trial in trials]
            if not trials or min(totals) >= best - NO_GAIN:
                return chosen, best
            best = min(totals)
            chosen = trials[int(np.argmin(totals))]

    def _price_bundle(self, checks: tuple[int, ...]) -> float:
        cost, _, opened = self._reach(checks)
        if not self.bench.affords(cost):
            return float("inf")
        after = self.bench.vary(opened=opened, checks=(), budget=self.bench.spend(cost))
        joint = join_likelihoods([self.outlook.likelihoods[c] for c in checks]) * self.belief
        return cost + float(self.outlook.price_jobs(joint, after).sum())

    def _reach(self, checks: tuple[int, ...]) -> tuple[float, float, int]:
        """Cost and minutes of making checks in one go, and what is open afterwards."""
        cost, minutes, opened = 0.0, 0.0, self.situation.opened
        for check in checks:
            more, longer, opened = self.situation.reach_check(check, opened)
            cost, minutes = cost + more, minutes + longer
        return cost, minutes, opened

    def _informing(self, kind: str, checks: tuple[int, ...], total: float, gross: float | None = None) -> Step:
        cost, minutes, opened = self._reach(checks)
        own = sum(self.situation.checks[check].cost for check in checks)
        closing = float(self.situation.access.close_costs[opened])
        price = StepCost(cost, minutes, own=own, access=cost - own, test=0.0, closing_later=closing)
        ids, saving = tuple(self.situation.checks[check].id for check in checks), self.now - total
        return Step(kind, ids, price, total - cost, saving, gross=saving + cost if gross is None else gross)

    def _job_step(self, batch: tuple[int, ...], total: float) -> Step:
        opened = self.situation.opened
        cost, minutes = self.situation.batch_cost(batch, opened), self.situation.batch_minutes(batch, opened)
        access = self.situation.access_cost(self.situation.batch_mask(batch), opened)
        own = cost - access - self.situation.test_cost
        price = StepCost(cost, minutes, own=own, access=access, test=self.situation.test_cost, closing_later=0.0)
        ids = tuple(self.situation.jobs[job].id for job in batch)
        return Step("job", ids, price, total - cost, self.now - total, p_cured=self._p_cured(batch))

    def _p_cured(self, batch: tuple[int, ...]) -> float:
        return max(0.0, 1.0 - float(self.belief @ self.situation.hypotheses.uncured(self.situation.missed_by(batch))))
