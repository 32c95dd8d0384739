"""Prices in a shop: of jobs and needs, and of what is offered to the owner."""

import pytest
from support.offers import compiled, view
from support.trade import shipped

from shiftlore.advising.pricing import (
    LABOUR_HIGH,
    LABOUR_LOW,
    Pricer,
    PriceSpan,
    count_days,
    list_follow_ups,
    price_borrowing,
    price_check,
    price_job,
    price_labour,
    price_needs,
    price_waiting,
)
from shiftlore.knowledge import Need, Shop


def test_price_labour__by_the_hour():
    shop = shipped().shop
    assert pytest.approx(shop.labour_per_hour / 2, abs=1e-9) == price_labour(shop, 30)


def test_price_needs__count_times_price():
    price = shipped().prices["atf_litre"]
    span = price_needs(shipped(), [Need("atf_litre", 6)])
    assert pytest.approx((6 * price.low, 6 * price.typical, 6 * price.high), abs=1e-9) == (
        span.low,
        span.typical,
        span.high,
    )


def test_price_needs__what_the_book_does_not_hold_counts_nothing():
    assert PriceSpan() == price_needs(shipped(), [Need("no_such_thing", 3)])


def test_price_job__labour_and_parts_at_its_level():
    job = shipped().jobs["plain_service"]
    cost, minutes, parts = price_job(shipped(), shipped().shop, job)
    assert job.minutes == minutes
    assert pytest.approx(price_labour(shipped().shop, minutes) + parts.typical, abs=1e-9) == cost


def test_plus__adds_both_ends():
    assert PriceSpan(4, 6, 8) == PriceSpan(1, 2, 3).plus(PriceSpan(3, 4, 5))


SHOP = compiled().knowledge.shop


def pricer() -> Pricer:
    assert SHOP is not None
    return Pricer(compiled(), SHOP)


def labour(minutes: float) -> float:
    assert isinstance(SHOP, Shop)
    return SHOP.labour_per_hour * minutes / 60.0


def test_price_jobs__plain_service_by_hand() -> None:
    """Pan down and up, its fluid and gasket, the filter, what must follow, a road test: added up from the files."""
    knowledge, job = compiled().knowledge, compiled().expansion.jobs["plain_service"]
    path = ("pan_off", "lifted", "standing")
    minutes = job.minutes + SHOP.road_test_minutes
    needs = [*job.parts, *job.consumables]
    for level in path:
        record, special = knowledge.access[level], knowledge.sheets["long5"].access.get(level)
        for own, other in ((record.open_minutes, "open_minutes"), (record.close_minutes, "close_minutes")):
            stated = getattr(special, other, None)
            minutes += own if stated is None else stated
        needs += record.consumables
    for name in job.follow_ups:
        minutes += knowledge.follow_ups[name].minutes
        needs += knowledge.follow_ups[name].consumables
    goods = sum(knowledge.prices[need.price].typical * need.count for need in needs)
    assert labour(minutes) + goods == pytest.approx(pricer().price_jobs(("plain_service",)).typical, abs=0.01)


def test_price_jobs__lines_add_up() -> None:
    for job in ("plain_service", "valve_body_exchange"):
        cost = pricer().price_jobs((job,))
        for name in ("low", "typical", "high"):
            assert getattr(cost, name) == pytest.approx(sum(getattr(line, name) for line in cost.lines), abs=1e-9)
        assert cost.low < cost.typical < cost.high


def test_price_jobs__together_is_cheaper_than_apart() -> None:
    one, other = ("plain_service",), ("valve_body_clean",)
    apart = pricer().price_jobs(one).typical + pricer().price_jobs(other).typical
    assert pricer().price_jobs(one + other).typical < apart


def test_price_jobs__what_is_open_already_is_not_opened_again() -> None:
    opened = frozenset(pricer().knowledge.access_path("pan_off"))
    shut, ready = pricer().price_jobs(("plain_service",)), pricer().price_jobs(("plain_service",), opened)
    minutes = sum(compiled().knowledge.access[level].open_minutes for level in ("pan_off", "lifted"))
    special = compiled().knowledge.sheets["long5"].access
    if not special:
        assert labour(minutes) == pytest.approx(shut.typical - ready.typical, abs=0.01)
    assert ready.typical < shut.typical


def test_price_jobs__no_jobs_on_a_standing_vehicle_cost_nothing() -> None:
    assert 0.0 == pricer().price_jobs(()).high


def test_price_checks__is_labour_and_consumables() -> None:
    check = compiled().expansion.checks["engagement_watch"]
    cost = pricer().price_checks(("engagement_watch",))
    assert labour(check.minutes + SHOP.check_minutes) == pytest.approx(cost.typical, abs=0.01)
    assert (cost.typical * LABOUR_LOW, cost.typical * LABOUR_HIGH) == pytest.approx((cost.low, cost.high), abs=0.01)


def test_price_jobs__is_what_the_planner_counts_for_one_job() -> None:
    """A single job shares no follow-up, so both ways of pricing must come to the same."""
    situation = view().situation
    for job in ("plain_service", "solenoid_seals_renew", "valve_body_exchange"):
        batch = (situation.job_index(job),)
        assert situation.batch_cost(batch) == pytest.approx(pricer().price_jobs((job,)).typical, abs=0.01)


def test_price_check__its_own_time_and_what_every_check_takes() -> None:
    check = shipped().checks["pan_drop"]
    cost, minutes, goods = price_check(shipped(), SHOP, check)
    assert check.minutes + SHOP.check_minutes == minutes
    assert pytest.approx(labour(minutes) + goods.typical, abs=1e-9) == cost


def test_price_waiting__a_night_costs_the_shop_its_room_and_the_owner_a_day() -> None:
    assert SHOP.day_cost + SHOP.owner_day_cost == price_waiting(SHOP, shipped().checks["cold_first_start"])
    assert 0.0 == price_waiting(SHOP, shipped().checks["engagement_watch"])


def test_price_waiting__what_is_driven_meanwhile_costs_the_appointment_alone() -> None:
    assert SHOP.return_cost == price_waiting(SHOP, shipped().checks["long_loan_drive"])


def test_price_borrowing__each_tool_once_and_nothing_for_what_is_at_hand() -> None:
    check = shipped().checks["module_scan"]
    poorer = SHOP.vary(tools=tuple(set(SHOP.tools) - {"module_scan"}), tools_borrowed=("module_scan",))
    assert poorer.borrow_cost == price_borrowing(poorer, [check, check])
    assert 0.0 == price_borrowing(SHOP, [check])


def test_price_checks__a_borrowed_tool_stands_on_the_bill() -> None:
    poorer = SHOP.vary(tools=tuple(set(SHOP.tools) - {"thermometer"}), tools_borrowed=("thermometer",))
    lines = {line.what: line.typical for line in Pricer(compiled(), poorer).price_checks(("fluid_look",)).lines}
    assert poorer.borrow_cost == lines["borrowed"]


def test_price_jobs__the_planner_prices_every_bundle_the_same() -> None:
    """What must follow several jobs is paid once, here and there."""
    situation = view().situation
    jobs = [job.id for job in situation.jobs if not job.alone]
    bundles = [(jobs[i], jobs[(7 * i + 3) % len(jobs)], jobs[(5 * i + 1) % len(jobs)]) for i in range(len(jobs))]
    bundles = [bundle for bundle in bundles if len(set(bundle)) == 3]
    assert len(bundles) > 20
    for bundle in bundles:
        batch, cost = tuple(map(situation.job_index, bundle)), pricer().price_jobs(bundle)
        assert cost.typical == pytest.approx(situation.batch_cost(batch, situation.opened), abs=0.01)
        assert cost.labour_minutes == pytest.approx(situation.batch_minutes(batch, situation.opened), abs=0.01)


def test_price_jobs__fluid_that_runs_out_stands_with_the_fluids() -> None:
    knowledge = compiled().knowledge
    dear = knowledge.prices["atf_litre"].vary(low=1000.0, typical=1000.0, high=1000.0)
    shop = SHOP.vary(name=SHOP.name)
    dearer = Pricer(compiled(), shop)
    before = {line.what: line.typical for line in dearer.price_jobs(("plain_service",)).lines}
    litres = sum(need.count for need in knowledge.access["pan_off"].consumables if need.price == "atf_litre")
    knowledge.prices["atf_litre"], old = dear, knowledge.prices["atf_litre"]  # type: ignore[index]
    try:
        after = {line.what: line.typical for line in dearer.price_jobs(("plain_service",)).lines}
    finally:
        knowledge.prices["atf_litre"] = old  # type: ignore[index]
    assert before["access"] == after["access"]
    assert litres * (1000.0 - old.typical) == pytest.approx(after["fluids"] - before["fluids"], abs=1e-6)


def test_list_follow_ups__each_once_and_not_what_another_job_does() -> None:
    jobs = shipped().jobs
    drive, other = jobs["adaptation_run_job"], jobs["valve_body_clean"]
    assert "adaptation_run" in [one.id for one in list_follow_ups(shipped(), [other])]
    together = [one.id for one in list_follow_ups(shipped(), [drive, other])]
    assert "adaptation_run" not in together and len(set(together)) == len(together)
    assert set(drive.follow_ups) | set(other.follow_ups) == {*together, "adaptation_run"}


@pytest.mark.parametrize(("minutes", "days"), [(0.0, 0.5), (240.0, 0.5), (241.0, 1.0), (468.0, 1.0), (900.0, 2.0)])
def test_count_days__as_long_as_labour_takes(minutes: float, days: float) -> None:
    assert days == count_days([shipped().jobs["plain_service"]], minutes)


def test_count_days__never_less_than_the_longest_job() -> None:
    jobs = [shipped().jobs[name] for name in ("plain_service", "module_repair")]
    assert jobs[1].days == count_days(jobs, 60.0)
