"""What a budget buys, told honestly, and whether the dear options are to be weighed against the vehicle's worth."""

from collections.abc import Sequence
from dataclasses import dataclass

from shiftlore.advising.options_candidates import NEAR_CHANCE
from shiftlore.advising.options_outlook import OwnersView
from shiftlore.advising.options_records import NOTHING, Option
from shiftlore.advising.reasons import LITTLE
from shiftlore.advising.situations import WHOLE_UNIT
from shiftlore.planning import leaves_for_budget

CHECK_LABEL = "First a check: "

OLD_KM = 200_000.0
"""Distance from which on a unit may well cost more than its vehicle fetches: judgement."""


CLEARLY = 0.05
"""Share by which less must be paid in the end to be said to cost less: smaller differences cannot be told apart, judgement."""


@dataclass(frozen=True, slots=True)
class BudgetAdvice:
    """What the owner's budget buys at best.

    Args:
        option: id of the best option within it, or `nothing`.
        p_cured: its chance.
        buys_little: whether that is too little to be advised.
        cheaper: id of the option over the budget for which least is paid in the end, where that is less than for what is
            advised and it cures no more seldom.
    """

    amount: float
    option: str
    label: str
    p_cured: float
    buys_little: bool
    says: str
    cheaper: str = ""


def advise_budget(view: OwnersView, budget: float, options: Sequence[Option]) -> BudgetAdvice:
    """Say honestly what a budget buys."""
    currency = view.pricer.shop.currency
    money = f"{currency} {budget:,.0f}"
    fits = [option for option in options if option.p_cured > 0 and option.is_paid]
    best = max(fits, key=lambda option: option.p_cured, default=options[0])  # the first is doing nothing
    check = next((option for option in options if option.kind == "check" and option.checks), None)
    first = ""
    if check is not None and check.first_cost.high <= budget and check.advised and best is not check:
        first = f" Better spent first on the check ({check.label.removeprefix(CHECK_LABEL)})."
    percent = f"{best.p_cured * 100:.0f} %"
    says = f"The best that {money} buys is: {best.label}, with a chance of {percent}.{first}"
    if not fits:
        says = f"{money} buys no repair that could end this complaint.{first}"
    elif best.p_cured < LITTLE:
        says = (
            f"{money} buys little here: the best for it is {best.label}, and even that ends the complaint in only "
            f"{percent} of such vehicles.{first}"
        )
    (advised,) = [option for option in options if option.advised]
    if leaves_for_budget(view.choice, view.beyond) and advised.kind == NOTHING:
        says += " Only because of the budget the advice is to leave it as it is."
    over = [one for one in options if not one.is_paid and _beats_in_the_end(one, advised)]
    cheaper = min(over, key=lambda option: option.paid_in_the_end, default=None)
    if cheaper is not None:
        total = f"{currency} {cheaper.paid_in_the_end:,.0f}"
        says += f" Over the budget, and yet likely to cost less in the end (about {total}): {cheaper.label}."
    return BudgetAdvice(
        cheaper=cheaper.id if cheaper else "",
        amount=budget,
        option=best.id,
        label=best.label,
        p_cured=best.p_cured,
        buys_little=best.p_cured < LITTLE,
        says=says,
    )


def weighs_worth(view: OwnersView, options: Sequence[Option], advised: Option) -> bool:
    """Tell whether another unit or an overhaul is offered for an old vehicle, or where more is needed than will be spent."""
    km, budget = view.compiled.case.odometer_km, view.situation.budget
    is_old = km is not None and km >= OLD_KM
    poor = budget is not None and (advised.kind == NOTHING or advised.paid_in_the_end > budget)
    return (is_old or poor) and any(one.kind in WHOLE_UNIT for one in options)


def _beats_in_the_end(one: Option, advised: Option) -> bool:
    """Tell whether less is paid in the end for an option and it cures no more seldom; doing nothing ends nothing."""
    is_real = one.kind != NOTHING and advised.kind != NOTHING and (one.checks or one.kind != "check")
    return bool(is_real) and (
        one.paid_in_the_end < advised.paid_in_the_end * (1.0 - CLEARLY)
        and one.cured_in_the_end >= advised.cured_in_the_end - NEAR_CHANCE
    )
