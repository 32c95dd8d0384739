"""Ways of working to compare the planner with: the fixed habits of shops, and those of a competent mechanic."""

from collections.abc import Callable, Sequence

import numpy as np

from shiftlore.planning import Step
from shiftlore.simulating.unit_bench import LEAVE, Action, UnitBench, WorkState, decide_next, leaving_cost

WORTH_TRYING = 0.1
"""Probability of helping below which no shop tries a job but offers the last resort: judgement."""

SURE_ENOUGH = 0.8
"""Probability from which the habits that follow checks stop checking and do the job: judgement."""

MOST_CHECKS = 12
"""Checks after which a shop that works by habit stops checking and does something: judgement."""

UNSURE = 0.7
"""Probability of the best job below which a careful mechanic looks further: judgement."""

CHECK_SHARE = 0.25
"""Share of a job's price that a careful mechanic spends at most on one check before it: judgement."""

CAREFUL_CHECKS = 10
"""Checks after which a careful mechanic stops looking further before work: judgement."""

LIKELY_CURE = 0.5
"""How surely a job must put the likeliest cause right to be taken for it."""

LEAST_SHIFT = 0.02
"""Belief that a check must be expected to move to be worth making at all."""

Habit = Callable[[UnitBench, WorkState], Action]
"""Given what is known and what can be done, what to do next."""


def list_habits(bench: UnitBench) -> dict[str, Habit]:
    """The planner, three competent habits that know the ranking and the prices, and four habits of shops."""
    order, looks = _usual_order(bench), _first_looks(bench)
    return {
        "planner": plan_and_persist,
        "best_value": lambda at, state: _look_first(at, state, looks) or do_best_value(at, state),
        "careful": lambda at, state: _look_first(at, state, looks) or _look_while_unsure(at, state),
        "likeliest_cheapest": lambda at, state: _look_first(at, state, looks) or do_cheapest_for_likeliest(at, state),
        "cheapest_check": lambda at, state: _check_until_sure(at, state, np.argsort(at.check_costs, kind="stable")),
        "likeliest_cause": do_likeliest,
        "fixed_order": lambda at, state: _check_until_sure(at, state, order),
        "overhaul": _overhaul_first,
    }


def plan_and_persist(bench: UnitBench, state: WorkState) -> Action:
    """What `next` puts first; where it would let the vehicle go uncured, the job of best value that still pays, if any.

    Whoever knows the prices ends alike: with the last job that is worth its price, and then somebody else looks at it.
    """
    return take_first(bench, state, decide_next(bench, state).steps)


def take_first(bench: UnitBench, state: WorkState, steps: Sequence[Step]) -> Action:
    """The first of the steps that `next` gives, or the job of best value where leaving the vehicle would cost less."""
    if not steps or steps[0].expected_total >= leaving_cost(bench, state):
        return do_best_value(bench, state)
    first = steps[0]
    return Action("job", first.ids) if first.kind == "job" else Action("check", first.ids[:1])


def do_best_value(bench: UnitBench, state: WorkState) -> Action:
    """Check nothing; do the job of best probability over cost, a comeback counted, while any is worth its price."""
    job, _ = _best_value(bench, state)
    return LEAVE if job is None else Action("job", (bench.situation.jobs[job].id,))


def do_likeliest(bench: UnitBench, state: WorkState) -> Action:
    """Check nothing; do the job that most probably helps, at last the cheapest exchange."""
    job, p = _surest_job(bench, state)
    if p >= WORTH_TRYING:
        return Action("job", (bench.situation.jobs[job].id,))
    ways_out = [out for out in bench.exchanges if not state.done[out]]
    if not ways_out:
        return LEAVE
    cheapest = min(ways_out, key=lambda out: bench.situation.batch_cost((out,), state.opened))
    return Action("job", (bench.situation.jobs[cheapest].id,))


def _overhaul_first(bench: UnitBench, state: WorkState) -> Action:
    """The job that is done at once by habit, then what is likeliest."""
    records = bench.compiled.expansion.jobs
    for place, job in enumerate(bench.situation.jobs):
        if records[job.id].by_habit and not state.done[place]:
            return Action("job", (job.id,))
    return do_likeliest(bench, state)


def _first_looks(bench: UnitBench) -> list[int]:
    """Checks with which a careful visit begins, in their order."""
    records = bench.compiled.expansion.checks
    orders = {place: records[check.id].visit_order for place, check in enumerate(bench.situation.checks)}
    return sorted((place for place, order in orders.items() if order), key=lambda place: orders[place])


def _look_first(bench: UnitBench, state: WorkState, looks: Sequence[int]) -> Action | None:
    """The first of some checks that was not made and still shows something, if any."""
    fits = bench.can_make(state)
    for place in looks:
        check = bench.situation.checks[place].id
        if fits[place] and not set(bench.reveals[check]) <= set(state.evidence):
            return Action("check", (check,))
    return None


def _look_while_unsure(bench: UnitBench, state: WorkState) -> Action:
    """Before a job that is not sure enough the check that moves most belief per cost; else the job of best value."""
    job, p = _best_value(bench, state)
    if p < UNSURE and state.checked.sum() < CAREFUL_CHECKS:
        costs, moved = bench.reach_costs(state.opened), bench.shift_belief(state.belief)
        otherwise = leaving_cost(bench, state) if job is None else bench.situation.batch_cost((job,), state.opened)
        dearest = CHECK_SHARE * otherwise
        order = bench.list_open(state, np.argsort(-moved / (costs + 1.0), kind="stable"))
        for place in order:
            if costs[place] <= dearest and moved[place] > LEAST_SHIFT:
                return Action("check", (bench.situation.checks[place].id,))
    return do_best_value(bench, state)


def do_cheapest_for_likeliest(bench: UnitBench, state: WorkState) -> Action:
    """The cheapest job that probably puts the likeliest cause right for which there still is one."""
    situation = bench.stand(state)
    p = situation.hypotheses.cause_probabilities(state.belief)[: len(bench.weighing.kept)]
    for cause in np.argsort(-p, kind="stable"):
        jobs = np.flatnonzero((situation.cures[:, cause] >= LIKELY_CURE) & ~state.done)
        if len(jobs):
            best = min(jobs, key=lambda job: situation.batch_cost((int(job),), state.opened))
            return Action("job", (situation.jobs[int(best)].id,))
    return do_best_value(bench, state)


def _check_until_sure(bench: UnitBench, state: WorkState, order: np.ndarray) -> Action:
    """Checks in a given order until one job is sure enough, then the likeliest job."""
    left = bench.list_open(state, order)
    if not left or state.checked.sum() >= MOST_CHECKS or _surest_job(bench, state)[1] >= SURE_ENOUGH:
        return do_likeliest(bench, state)
    return Action("check", (bench.situation.checks[left[0]].id,))


def _usual_order(bench: UnitBench) -> np.ndarray:
    """The checks that stand in the shops' habit in its order, then the rest from the least taken apart to the most."""
    records, masks = bench.compiled.expansion.checks, bench.situation.check_masks

    def rank(place: int) -> tuple[float, int, float]:
        order = records[bench.situation.checks[place].id].habit_order
        return order or np.inf, masks[place].bit_count(), float(bench.check_costs[place])

    return np.array(sorted(range(len(masks)), key=rank), dtype=np.intp)


def _surest_job(bench: UnitBench, state: WorkState) -> tuple[int, float]:
    p = bench.stand(state).touches @ state.belief
    p[bench.exchanges] = -1.0
    p[state.done] = -1.0
    best = int(np.argmax(p))
    return best, float(p[best])


def _best_value(bench: UnitBench, state: WorkState) -> tuple[int | None, float]:
    """The job of best probability over cost from what is open, and its probability.

    None where none is worth its price: what it costs is more than it takes off what an uncured vehicle costs.
    """
    situation = bench.stand(state)
    p = situation.touches @ state.belief
    access = situation.access.round_trip(situation.job_masks, state.opened)
    costs = situation.full_costs + access + situation.test_cost + situation.comeback_cost * (1.0 - p)
    pays = costs + situation.uncured_cost * (1.0 - p) < leaving_cost(bench, state)
    value = np.where(pays & ~state.done, p / costs, -1.0)
    best = int(np.argmax(value))
    return (best, float(p[best])) if value[best] > 0.0 else (None, 0.0)
