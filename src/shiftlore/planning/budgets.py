"""What a budget leaves of the next steps, what it pays of the way without it, and what is paid in the end."""

from collections.abc import Callable, Mapping
from itertools import takewhile

import numpy as np

from shiftlore.planning.choosing import DEAR, Decision, Step
from shiftlore.planning.outlook import Outlook, bind_plans, start_bench
from shiftlore.planning.waiting import NEARLY, NO_GAIN

MOST_BEFORE_WORK = 2
"""Checks of the way without a budget that are put before the work that it buys: what it buys should be seen too."""

HARDLY = 0.25
"""Work that cures more seldom need not be left enough money for: it is a guess, and a check is no dearer (judgement)."""

A_LITTLE = 1e-3
"""Share by which a charge is moved to see how much of a total it is: the way chosen stays the same."""


def look_beyond(choice: Decision, free: Decision, belief: np.ndarray) -> Decision | None:
    """Give the choice without a budget where it has something to say: where the budget alone makes leaving the vehicle best,
    or where it begins with a check that the budget pays too and the choice within it does not.

    Args:
        choice, free: within the budget and without one; belief: weights, shape (n_hypotheses,).
    """
    if choice.outlook.situation.budget is None:
        return None
    if not choice.plan.batches:
        return free if free.plan.batches else None
    first = [step.ids for step in free.steps[:1]]
    is_same = first == [step.ids for step in choice.steps[:1]]
    return (
        free if not is_same and first and first == [it.ids for it in _list_telling(choice, free, belief)[:1]] else None
    )


def leaves_for_budget(choice: Decision, beyond: Decision | None) -> bool:
    """Tell whether the budget alone makes leaving the vehicle best; `beyond` as `look_beyond` gives it."""
    return beyond is not None and not choice.plan.batches


def list_steps(choice: Decision, beyond: Decision | None, belief: np.ndarray) -> list[tuple[Decision, Step]]:
    """List the steps, each with the choice that it comes from; work that costs more than leaving the vehicle is none.

    Where the budget pays no repair and no check for one, the checks that it does pay go first: they tell what more
    money would be for. So do those of the way without a budget that leave enough for what it buys best, if that is more
    than a guess, and before a check that pays the cheap ones alone: what is looked at first does not hang on the purse.

    Args:
        beyond: as `look_beyond` gives it.
        belief: weights, shape (n_hypotheses,).
    """
    situation = choice.outlook.situation
    leaving = situation.uncured_cost + float(situation.access.close_costs[situation.opened]) + NO_GAIN
    steps = [(choice, step) for step in choice.steps if step.kind != "job" or step.expected_total <= leaving]
    if beyond is None:
        return steps
    paying = {step.ids: step for step in choice.steps if step.kind != "job" and step.expected_saving > NO_GAIN}
    telling = _list_telling(choice, beyond, belief)
    first = [(choice, paying[it.ids]) if it.ids in paying else (beyond, it) for it in telling]
    return [*first, *((source, step) for source, step in steps if all(step.ids != it.ids for it in telling))]


def _list_telling(choice: Decision, beyond: Decision, belief: np.ndarray) -> list[Step]:
    """List the checks of the way without a budget that the budget pays, and that leave enough where it buys what may help."""
    situation = choice.outlook.situation
    bench = start_bench(situation)
    telling = [step for step in beyond.steps if step.kind != "job" and bench.affords(step.cost.total)]
    pays = bool(choice.steps) and choice.steps[0].kind != "job" and choice.steps[0].expected_saving > NO_GAIN
    if not (choice.plan.batches or pays):
        return telling
    if not pays and choice.stop.p_cured < HARDLY:
        return telling[:MOST_BEFORE_WORK]
    enough = choice.outlook.leave_enough(np.asarray(belief), bench, NEARLY)
    open_now = {check.id: bool(fits) for check, fits in zip(situation.checks, enough, strict=True)}
    telling = [step for step in telling if all(open_now.get(check) for check in step.ids)]
    if pays:
        telling = [
            step for step in takewhile(lambda it: bench.affords(DEAR * it.cost.total), beyond.steps) if step in telling
        ]
    return telling[:MOST_BEFORE_WORK]


def split_total(
    outlook: Outlook, price: Callable[[Outlook], float], unpaid: Mapping[str, float]
) -> tuple[float, float]:
    """Split an expected total into what is paid by the owner on average, and how often the problem is then left.

    A total is the paid, and what is counted for vehicles that come back or leave uncured: linear in these charges as long
    as the same way is best, so what it grows by when they grow a little tells how much of it they are.

    Args:
        price: gives the total of a way from an outlook.
        unpaid: check -> what of its cost stands on no bill.
    Returns: what is paid, and p that the problem is left.
    """
    situation = outlook.situation
    counted = {
        "uncured_cost": situation.uncured_cost * (1.0 + A_LITTLE),
        "comeback_cost": situation.comeback_cost * (1.0 + A_LITTLE),
        "checks": tuple(it.vary(cost=it.cost + A_LITTLE * unpaid.get(it.id, 0.0)) for it in situation.checks),
    }
    total = price(_charge(outlook))
    left = price(_charge(outlook, uncured_cost=counted["uncured_cost"])) - total
    paid = total - (price(_charge(outlook, **counted)) - total) / A_LITTLE
    return max(paid, 0.0), min(max(left / (A_LITTLE * situation.uncured_cost), 0.0), 1.0)


def _charge(outlook: Outlook, **charges: object) -> Outlook:
    """The same outlook with other charges, all plans of its book priced anew."""
    situation = outlook.situation.vary(**charges)
    return outlook.vary(situation=situation, book=bind_plans(situation, outlook.book.plans))
