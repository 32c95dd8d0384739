"""What a budget buys, and when dear work is weighed against the vehicle's worth."""

from dataclasses import replace

import pytest
from support.offers import compiled, offered, view

from shiftlore.advising.offering import offer_options
from shiftlore.advising.options_budget import CLEARLY, advise_budget, weighs_worth
from shiftlore.advising.options_outlook import look_ahead


@pytest.mark.parametrize(
    ("share", "cured", "told"), [(0.5, 1.0, True), (1.0 - CLEARLY / 2, 1.0, False), (0.5, 0.2, False)]
)
def test_advise_budget__only_what_clearly_costs_less_and_cures_as_often_is_told(share, cured, told) -> None:
    options = list(offered("slips", 600.0).options)
    advised = next(one for one in options if one.advised)
    options[-1] = replace(
        options[-1],
        within_budget=False,
        paid_in_the_end=share * advised.paid_in_the_end,
        cured_in_the_end=cured * advised.cured_in_the_end,
    )
    found = advise_budget(view(), 600.0, options)
    assert told == (found.cheaper == options[-1].id) and told == ("cost less in the end" in found.says)


def test_advise_budget__what_is_advised_within_it_is_not_said_to_cost_more_than_itself() -> None:
    rich = offered("slips", 100_000.0).budget
    assert rich is not None and "" == rich.cheaper


@pytest.mark.parametrize(("km", "budget", "weighs"), [
    (250_000, None, True), (90_000, None, False), (90_000, 300.0, True), (90_000, 20_000.0, False)
])  # fmt: skip
def test_weighs_worth__of_an_old_vehicle_or_a_purse_that_does_not_reach(km, budget, weighs) -> None:
    case = replace(compiled().case, odometer_km=km, budget=budget)
    own = look_ahead(compiled().vary(case=case))
    options = offered("slips", budget).options
    advised = next(one for one in options if one.kind != "nothing")
    assert weighs == weighs_worth(own, options, advised)
    assert not weighs_worth(own, [one for one in options if one.kind in ("nothing", "check", "job")], advised)


def test_offer_options__dear_work_for_an_old_vehicle_is_weighed() -> None:
    assert offer_options(compiled().vary(case=replace(compiled().case, odometer_km=250_000))).weigh_worth
    assert not offered().weigh_worth
