"""Ways of working to compare the planner with: the fixed habits of shops."""

from collections.abc import Callable

import numpy as np

from shiftlore.simulating.unit_bench import LEAVE, Action, UnitBench, WorkState, choose_on_bench

WORTH_TRYING = 0.1
"""Probability of helping below which no shop tries a job but offers the last resort: judgement."""

SURE_ENOUGH = 0.8
"""Probability from which the habits that follow checks stop checking and do the job: judgement."""

MOST_CHECKS = 12
"""Checks after which a shop that works by habit stops checking and does something: judgement."""

Habit = Callable[[UnitBench, WorkState], Action]
"""Given what is known and what can be done, what to do next."""


def list_habits(bench: UnitBench) -> dict[str, Habit]:
    """The planner and four habits: cheapest check, likeliest cause, a fixed order, straight to overhaul."""
    order = _usual_order(bench)
    return {
        "planner": plan_and_persist,
        "cheapest_check": lambda at, state: _check_until_sure(at, state, np.argsort(at.check_costs, kind="stable")),
        "likeliest_cause": do_likeliest,
        "fixed_order": lambda at, state: _check_until_sure(at, state, order),
        "overhaul": _overhaul_first,
    }


def plan_and_persist(bench: UnitBench, state: WorkState) -> Action:
    """The planner; where it would let the vehicle go uncured, it goes on as the habits do.

    No shop sends a customer away while a job may still help, so that the ways of working are compared at the same
    end: without this the planner is cheaper still, and cures fewer.
    """
    action = choose_on_bench(bench, state)
    return do_likeliest(bench, state) if action.kind == "leave" else action


def do_likeliest(bench: UnitBench, state: WorkState) -> Action:
    """Check nothing; do the job that most probably helps, at last the cheapest exchange."""
    job, p = _surest_job(bench, state)
    if p >= WORTH_TRYING:
        return Action("job", (bench.situation.jobs[job].id,))
    ways_out = [out for out in bench.situation.last_resorts if not state.done[out]]
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
    p = bench.touches @ state.belief
    p[list(bench.situation.last_resorts)] = -1.0
    p[state.done] = -1.0
    best = int(np.argmax(p))
    return best, float(p[best])
