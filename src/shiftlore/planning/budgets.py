"""What a budget leaves of the next steps: what it pays at all, and what it pays of the way without it."""

import numpy as np

from shiftlore.planning.choosing import Decision, LookAhead, Step, choose_step
from shiftlore.planning.costs import Situation
from shiftlore.planning.outlook import start_bench
from shiftlore.planning.readings import Oracle
from shiftlore.planning.waiting import NEARLY, NO_GAIN

MOST_BEFORE_WORK = 2
"""Checks of the way without a budget that are put before the work that it buys: what it buys should be seen too."""


def look_beyond(
    situation: Situation, oracle: Oracle, choice: Decision, look: LookAhead | None = None
) -> Decision | None:
    """Choose as if there were no budget, where the budget alone makes leaving the vehicle best, or work what pays first.

    Returns: None elsewhere, and where there is nothing better without a budget.
    """
    first = next(iter(choice.steps), None)
    is_check = first is not None and first.kind != "job" and first.expected_saving > NO_GAIN
    if situation.budget is None or (choice.plan.batches and is_check):
        return None
    free = choose_step(situation.vary(budget=None), oracle, look)
    if not choice.plan.batches:
        return free if free.plan.batches else None
    return free if _list_telling(choice, free, oracle.belief)[:1] == list(free.steps[:1]) != [] else None


def leaves_for_budget(choice: Decision, beyond: Decision | None) -> bool:
    """Tell whether the budget alone makes leaving the vehicle best; `beyond` as `look_beyond` gives it."""
    return beyond is not None and not choice.plan.batches


def list_steps(choice: Decision, beyond: Decision | None, belief: np.ndarray) -> list[tuple[Decision, Step]]:
    """List the steps, each with the choice that it comes from; work that costs more than leaving the vehicle is none.

    Where the budget pays no repair and no check for one, the checks that it does pay go first: they tell what more
    money would be for. So do those of the way without a budget that leave enough for what it buys best.

    Args:
        beyond: as `look_beyond` gives it.
        belief: weights, shape (n_hypotheses,).
    """
    situation, first = choice.outlook.situation, next(iter(choice.steps), None)
    leaving = situation.uncured_cost + float(situation.access.close_costs[situation.opened]) + NO_GAIN
    steps = [(choice, step) for step in choice.steps if step.kind != "job" or step.expected_total <= leaving]
    if beyond is None:
        return steps
    if not choice.plan.batches and first and (first.kind != "job" or first.expected_saving > NO_GAIN):
        return steps
    return [*((beyond, step) for step in _list_telling(choice, beyond, belief)), *steps]


def _list_telling(choice: Decision, beyond: Decision, belief: np.ndarray) -> list[Step]:
    """List the checks of the way without a budget that the budget pays, and that leave enough where it buys work."""
    bench = start_bench(choice.outlook.situation)
    telling = [step for step in beyond.steps if step.kind != "job" and step.expected_saving > NO_GAIN]
    telling = [step for step in telling if bench.affords(step.cost.total)]
    if not choice.plan.batches:
        return telling
    situation, enough = choice.outlook.situation, choice.outlook.leave_enough(np.asarray(belief), bench, NEARLY)
    open_now = {check.id: bool(fits) for check, fits in zip(situation.checks, enough, strict=True)}
    return [step for step in telling if all(open_now.get(check) for check in step.ids)][:MOST_BEFORE_WORK]
