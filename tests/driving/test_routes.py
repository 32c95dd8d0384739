"""The driver keeps to the legs of a route."""

import numpy as np
from pytest import approx, mark

from shiftlore.driving.routes import LAST_BRAKE, MOST_BRAKE, PEDAL_RATE, USUAL_ROUTE, Driver, Leg, draw_route

TICK = 0.02


def _press(driver: Driver, leg: Leg, kmh: float, ticks: int = 200) -> None:
    for _ in range(ticks):
        driver.press(leg, kmh, TICK)


def test_usual_route__takes_four_minutes_and_tries_everything() -> None:
    assert 225 < Driver(USUAL_ROUTE).seconds < 260
    assert {"P", "R", "N", "D"} == {leg.lever for leg in USUAL_ROUTE}
    assert any(leg.brake == 1.0 and leg.throttle_percent == 100 for leg in USUAL_ROUTE)
    assert any(leg.grade_percent > 3 for leg in USUAL_ROUTE)


def test_draw_route__is_another_way_round_with_the_same_levers() -> None:
    first, second = (draw_route(np.random.default_rng(seed)) for seed in (1, 2))
    assert first != second
    assert [leg.lever for leg in USUAL_ROUTE] == [leg.lever for leg in first]
    assert first == draw_route(np.random.default_rng(1))
    assert all(0 <= leg.throttle_percent <= 100 for leg in first)


def test_leg_at__goes_from_leg_to_leg_and_stays_at_the_last() -> None:
    driver = Driver((Leg(2, "P"), Leg(3, "D", 50, 30)))
    assert ["P", "P", "D", "D"] == [driver.leg_at(time).lever for time in (0.0, 1.9, 2.0, 99.0)]


def test_press__gives_the_pedal_of_the_leg_until_the_speed_is_near() -> None:
    driver = Driver((Leg(9, "D", 80, 40),))
    _press(driver, driver.route[0], 30.0)
    assert 0.4 == approx(driver.throttle)
    assert 0.0 == driver.brake


def test_press__moves_the_pedal_no_faster_than_a_foot() -> None:
    driver = Driver((Leg(9, "D", 80, 100),))
    driver.press(driver.route[0], 10.0, TICK)
    assert PEDAL_RATE * TICK == approx(driver.throttle)


def test_press__brakes_when_too_fast() -> None:
    driver = Driver((Leg(9, "D", 20, 40),))
    _press(driver, driver.route[0], 60.0)
    assert 0.0 == driver.throttle
    assert 0.1 < driver.brake <= MOST_BRAKE


@mark.parametrize(
    ("leg", "throttle", "brake"), [(Leg(9, "D", 0, 100, 1.0), 1.0, 1.0), (Leg(9, "D", 60, 0, 0.0), 0.0, 0.0)]
)
def test_press__keeps_both_pedals_where_the_leg_says_so(leg: Leg, throttle: float, brake: float) -> None:
    driver = Driver((leg,))
    _press(driver, leg, 40.0)
    assert (throttle, brake) == approx((driver.throttle, driver.brake))


def test_press__holds_the_vehicle_in_park_and_at_a_stop() -> None:
    driver = Driver((Leg(9, "P"), Leg(9, "D")))
    for leg in driver.route:
        _press(driver, leg, 0.0)
        assert 0.0 == driver.throttle
        assert driver.brake >= LAST_BRAKE
