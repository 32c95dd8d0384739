"""What each ingredient of the planner is worth: the same vehicles, worked on by the planner with one of them left out.

Run: python tests/benchmarks/bench_ingredients.py [unit] [vehicles] [seed]
"""

import os
import sys
from dataclasses import replace

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

from shiftlore.compiling import compile_unit
from shiftlore.knowledge import load_knowledge
from shiftlore.planning import LookAhead, choose_step
from shiftlore.simulating import (
    UnitBench,
    WorkState,
    decide_next,
    plan_and_persist,
    prepare_work,
    simulate_unit,
    take_first,
)
from shiftlore.simulating.habits import Habit, do_best_value, do_cheapest_for_likeliest


def without_ranking(bench: UnitBench, state: WorkState):
    """Jobs by probability over cost, as if nothing were known but how common faults are, and what was done in vain."""
    works = tuple(work.vary(found={}) for work in state.compiled.works)
    unread = replace(state, compiled=state.compiled.vary(evidence={}, works=works))
    return do_best_value(bench, bench.believe(unread))


def without_checks(bench: UnitBench, state: WorkState):
    """The best plan of jobs, on what the owner says alone."""
    prepared = prepare_work(bench, state)
    return take_first(bench, state, choose_step(prepared.situation.vary(checks=()), prepared.oracle).steps)


def without_value(bench: UnitBench, state: WorkState):
    """The planner's checks; where it comes to work, the cheapest job for the likeliest cause."""
    action = plan_and_persist(bench, state)
    return action if action.kind == "check" else do_cheapest_for_likeliest(bench, state)


def without_access(bench: UnitBench, state: WorkState):
    """The planner as if everything were opened and closed anew for each check and job."""
    prepared = prepare_work(bench, state)
    situation, tree = prepared.situation, prepared.situation.access
    root = next(node.id for node in tree.nodes if node.parent is None)
    price = lambda act: act.cost + float(tree.round_trip(tree.path_mask(act.access)))  # noqa: E731
    checks, jobs = (
        tuple(act.vary(cost=price(act), access=root) for act in acts) for acts in (situation.checks, situation.jobs)
    )
    flat = situation.vary(checks=checks, jobs=jobs, opened=0)
    return take_first(bench, state, choose_step(flat, prepared.oracle).steps)


def with_one_step(bench: UnitBench, state: WorkState):
    """The planner looking one step ahead instead of two."""
    return take_first(bench, state, decide_next(bench, state, LookAhead(depth=1)).steps)


WAYS: dict[str, Habit] = {
    "planner": plan_and_persist,
    "one step ahead": with_one_step,
    "access not shared": without_access,
    "likeliest cause, not p over cost": without_value,
    "no checks": without_checks,
    "no checks, base rates for ranking": without_ranking,
}


def compare_ways(unit_id="long5", vehicles=200, seed=23):
    """Print what each way costs more than the planner on the same vehicles, with its 95 % interval."""
    result = simulate_unit(compile_unit(load_knowledge(), unit_id), vehicles, seed, policies=WAYS)
    print(f"{vehicles} vehicles of {unit_id}, seed {seed}, {result.seconds:.0f} s")
    for one in result.policies:
        about = f"{one.dearer:+8,.0f} +- {one.dearer - one.dearer_low:,.0f}"
        print(f"{one.policy:34s}{one.mean_total:8,.0f}{about:>20s}{100 * one.share_cured:6.0f} %{one.mean_checks:6.1f}")


if __name__ == "__main__":
    unit, *numbers = sys.argv[1:] or ["long5"]
    compare_ways(unit, *map(int, numbers))
