"""What comes after an option, and after one more check."""

from dataclasses import replace

import numpy as np
import pytest
from support.offers import view
from support.trade import compiled_of

from shiftlore.advising import EXCHANGE, offer_options
from shiftlore.advising.options_candidates import make_candidate
from shiftlore.advising.options_outlook import LEFT, CheckFirst, look_ahead
from shiftlore.advising.options_records import LEAST_NAMED
from shiftlore.planning import start_bench
from shiftlore.planning.readings import join_outcomes


def test_expected_total__after_an_exchange_that_did_not_cure_the_work_goes_on() -> None:
    situation = view().situation
    job = next(job.id for job in situation.jobs if view().prepared.jobs[job.id].kind == EXCHANGE)
    one = make_candidate(view().pricer, view().cures, (job,))
    left_uncured = one.cost.typical + (1 - one.p_cured) * (situation.comeback_cost + situation.uncured_cost)
    assert one.cost.typical < view().expected_total(one) < left_uncured
    after = view().after_failure(one)
    assert after is not None and () == after[0]


def test_expected_total__is_never_below_the_price() -> None:
    for job in ("plain_service", "valve_body_exchange", "solenoid_seals_renew"):
        one = make_candidate(view().pricer, view().cures, (job,))
        assert view().expected_total(one) >= one.cost.typical


def test_after_failure__does_not_repeat_the_job_that_failed() -> None:
    one = make_candidate(view().pricer, view().cures, ("valve_body_exchange",))
    after = view().after_failure(one)
    assert after is not None and "valve_body_exchange" not in after[0]
    assert after[1] and all(0 < area.probability <= 1 for area in after[1]) and 0 < after[2] <= 1


def test_if_not_cured__what_would_hardly_cure_it_is_not_named_to_the_owner() -> None:
    """After a radiator and washed oil the owner was told that spark plugs come next, which cure such a vehicle in 1 of 20."""
    offered = [offer_options(compiled_of({"warning_lamp": "yes"})), offer_options(compiled_of({"slips": "yes"}))]
    told = [one.if_not_cured for options in offered for one in options.options if one.if_not_cured]
    named, guessed = ([one for one in told if one.jobs and one.is_guess == guess] for guess in (False, True))
    assert named and guessed and max(one.p_cured for one in guessed) < LEAST_NAMED <= min(one.p_cured for one in named)


def test_check_first__its_total_is_the_planners() -> None:
    check = view().check_first()
    step = next(step for step in view().choice.steps if step.kind != "job")
    assert (step.ids, step.expected_total) == (check.checks, pytest.approx(check.expected_total))


def test_check_first__cost_runs_from_cheapest_to_dearest() -> None:
    check = view().check_first()
    assert check.first_cost.typical < check.cost.typical
    assert check.cost.low <= check.cost.typical <= check.cost.high
    assert check.p_cured_low <= check.p_cured <= check.p_cured_high


def test_chance_after__one_answer_that_tells_nothing_leaves_the_jobs_own_chance() -> None:
    from shiftlore.planning import Outcomes

    job = ("valve_body_exchange",)
    silent = Outcomes(("nothing",), np.ones((1, len(view().belief))), ({},))
    p, drawn = view().chance_after(silent, [job])
    assert view().cures.p_cured(job) == pytest.approx(p, abs=1e-12)
    assert view().cures.draw_cured(job).tolist() == pytest.approx(drawn.tolist(), abs=1e-12)


def test_batches_after__knowing_more_never_costs_more() -> None:
    """The value of information before its price is never below nothing (Raiffa 1968)."""
    checks = view().check_first().checks
    outcomes = join_outcomes([view().prepared.oracle.outcomes(check) for check in checks])
    book, opened = view().choice.outlook.book, view().situation.opened
    seen = book.price(outcomes.likelihoods * view().belief, opened).sum()
    assert seen <= book.price(view().belief[None], opened)[0] + 1e-6
    assert len(view().batches_after(checks, outcomes, start_bench(view().situation), view().choice)) == len(
        outcomes.labels
    )


def test_weigh_areas__each_is_a_probability() -> None:
    areas = view().weigh_areas(view().cures.p_states)
    assert all(0 <= p <= 1 for p in areas.values()) and max(areas.values()) > 0.05


def test_ways_of__what_an_owner_could_tell_is_tried_out() -> None:
    assert ("road",) == view().ways_of(("engagement_watch",))


def test_ways_of__a_look_that_shows_a_signal_too_is_a_look() -> None:
    """At the bench: the lever looked at under the console was called a reading of the electronics."""
    assert [("look",), ("measure",)] == [view().ways_of((check,)) for check in ("lever_console_look", "battery_test")]


def test_tell_left__another_unit_leaves_the_cooler_that_let_coolant_in() -> None:
    mixed = look_ahead(compiled_of({"coolant_tank_oily": "yes", "coolant_lost": "yes"}, "long6"))
    used, radiator = (
        make_candidate(mixed.pricer, mixed.cures, (job,)) for job in ("used_unit_fit", "radiator_and_flush")
    )
    p = mixed.compiled.p_causes[mixed.compiled.causes.index("coolant_in_fluid")]
    assert f"{LEFT} Coolant in the fluid ({100 * p:.0f} %)." == mixed.tell_left(used)
    overhaul = make_candidate(mixed.pricer, mixed.cures, ("radiator_and_overhaul",))
    assert "" == mixed.tell_left(radiator) == mixed.tell_left(overhaul)


def test_tell_left__stands_with_what_is_not_covered() -> None:
    offered = offer_options(
        compiled_of({"coolant_tank_oily": "yes", "slips": "yes"}, "trans4"), asked=["used_unit_fit"]
    )
    used = next(one for one in offered.options if one.id == "used_unit_fit")
    assert LEFT in used.not_covered


@pytest.mark.parametrize("name", ["slips", "harsh", "milky"])
def test_go_on__what_is_paid_and_what_only_counts_make_the_total(name: str) -> None:
    """The total of an exchange, after which hardly anything is left to do, is its price and what the uncured count for."""
    own = view(name)
    for job in own.cures.offered:
        one = make_candidate(own.pricer, own.cures, (job,))
        paid, cured = own.go_on(one)
        assert one.cost.typical - 1.0 <= paid and one.p_cured <= cured <= 1.0
        assert paid + (1.0 - cured) * own.situation.uncured_cost <= own.expected_total(one) + 1.0


def test_go_on__does_not_hang_on_the_budget() -> None:
    own = view()
    poor = look_ahead(own.compiled.vary(case=replace(own.compiled.case, budget=300.0)))
    for job in [job for job in own.cures.offered if job in poor.cures.offered][:8]:
        one = make_candidate(own.pricer, own.cures, (job,))
        assert own.go_on(one)[0] == pytest.approx(poor.go_on(one)[0], rel=0.02)


def test_go_on_after__the_time_that_a_vehicle_waits_is_on_no_bill() -> None:
    own = view()
    first, check = own.check_first(), own.check_first().checks[0]
    paid, cured = own.go_on_after(first)
    place = own.situation.check_index(check)
    dearer = own.situation.checks[place].vary(cost=own.situation.checks[place].cost + 500.0)
    checks = tuple(dearer if it.id == check else it for it in own.situation.checks)
    outlook = own.choice.outlook.vary(situation=own.situation.vary(checks=checks))
    waits = replace(own, choice=own.choice.vary(outlook=outlook), free=own.choice.vary(outlook=outlook))
    waits.__dict__["_waiting"] = {check: 500.0}
    assert first.first_cost.typical < paid and first.p_cured <= cured
    assert waits.go_on_after(first) == pytest.approx((paid, cured), rel=1e-3)
    assert (0.0, 0.0) == own.go_on_after(CheckFirst(expected_total=0.0, drawn=np.zeros(1)))
