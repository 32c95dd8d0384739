"""When gears change, how elements come and go, and how the converter clutch closes."""

import math
from collections.abc import Callable
from dataclasses import replace

from pytest import approx, mark

from shiftlore.driving.driveable import prepare_unit
from shiftlore.driving.linkage import LOCKUP
from shiftlore.driving.road_vehicles import RPM, RoadVehicle
from shiftlore.driving.shifting import (
    LATER_POWER,
    LATER_RPM,
    LEAST_SHARE,
    MOST_BAR,
    SHIFT_RPM,
    SPRING_BAR,
    Control,
    Senses,
    Wrongs,
)
from shiftlore.sheets import UnitSheet

Sheets = Callable[[str], UnitSheet]
TICK = 0.02
VEHICLE = RoadVehicle()
REST = Senses("D", 0.0, 0.3, engine=75.0, turbine=0.0, output=0.0, turbine_nm=20.0, engine_nm=12.0, fluid_c=80.0)


def _control(sheet: UnitSheet, wrongs: Wrongs | None = None) -> Control:
    unit = prepare_unit(sheet)
    return Control(unit, VEHICLE, wrongs or Wrongs(), tuple(item.id for item in unit.train.couplings))


def _senses(control: Control, kmh_out: float, throttle: float = 0.3, **more: object) -> Senses:
    """Say what a vehicle in its gear feels at so many rad/s of the output."""
    ratio = control.unit.ratios.get(control.gear, 1.0)
    turbine = kmh_out * ratio
    motion = (
        (control.unit.moves[control.gear] * turbine).tolist()
        if control.gear
        else [0.0] * control.unit.motion.basis.shape[1]
    )
    found = replace(
        REST, throttle=throttle, brake=0.0, engine=turbine + 10, turbine=turbine, output=kmh_out, turbine_nm=90.0
    )
    return replace(found, engine_nm=80.0, motion=motion, **more)


def _wait(control: Control, out: float, seconds: float, throttle: float = 0.3, **more: object) -> dict[str, float]:
    caps: dict[str, float] = {}
    for _ in range(round(seconds / TICK)):
        caps = control.tick(TICK, _senses(control, out, throttle, **more))
    return caps


def _up_to(control: Control, gear: str, throttle: float = 0.3) -> float:
    """Speed up until a gear is commanded; gives the output speed, rad/s."""
    out = 5.0
    while control.gear != gear and out < 900:
        _wait(control, out, TICK, throttle)
        out *= 1.001
    return out


def test_tick__engages_first_after_the_fill(sheet_of: Sheets) -> None:
    control = _control(sheet_of("long6"))
    caps = _wait(control, 0.0, VEHICLE.fill_s * 0.8, 0.0)
    assert ("1", 0.0) == (control.gear, caps["c1"])
    caps = _wait(control, 0.0, 1.0, 0.0)
    assert caps["c1"] > 50
    assert not control.busy


def test_tick__cold_fluid_fills_slowly(sheet_of: Sheets) -> None:
    cold, warm = _control(sheet_of("long6")), _control(sheet_of("long6"))
    seconds = VEHICLE.fill_s * 1.3
    assert 0.0 == _wait(cold, 0.0, seconds, 0.0, fluid_c=0.0)["c1"] < _wait(warm, 0.0, seconds, 0.0)["c1"]


@mark.parametrize("throttle", [0.1, 0.5, 0.9])
def test_tick__shifts_up_later_with_more_pedal_and_back_down_later_still(throttle: float, sheet_of: Sheets) -> None:
    control = _control(sheet_of("long6"))
    _wait(control, 0.0, 2.0, 0.0)
    up = _up_to(control, "2", throttle)
    rpm = SHIFT_RPM + LATER_RPM * throttle**LATER_POWER
    assert rpm == approx(up * control.unit.ratios["1"] * RPM, rel=0.01)
    out = up
    while control.gear == "2" and out > 1:
        _wait(control, out, TICK, throttle)
        out *= 0.999
    assert "1" == control.gear
    assert 0.66 * up == approx(out, rel=0.03)


def test_tick__hysteresis_keeps_a_gear_at_one_speed(sheet_of: Sheets) -> None:
    control = _control(sheet_of("long8"))
    _wait(control, 0.0, 2.0, 0.0)
    _up_to(control, "4")
    _wait(control, 110.0, 20.0)
    gear, seen = control.gear, set()
    for _ in range(400):
        control.tick(TICK, _senses(control, 110.0))
        seen.add(control.gear)
    assert {gear} == seen


def test_tick__hunts_without_hysteresis(sheet_of: Sheets) -> None:
    control, seen = _control(sheet_of("long6"), Wrongs(back_share=1.02)), []
    _wait(control, 0.0, 2.0, 0.0)
    for number in range(3000):
        rpm = SHIFT_RPM + LATER_RPM * 0.25**LATER_POWER
        out = rpm / RPM / control.unit.ratios["2"] * (1 + 0.01 * math.sin(number / 100))
        control.tick(TICK, _senses(control, out, 0.25))
        seen.append(control.gear)
    changes = sum(old != new for old, new in zip(seen, seen[1:], strict=False))
    assert changes > 6


def test_tick__a_shift_lets_go_as_it_takes(sheet_of: Sheets) -> None:
    control = _control(sheet_of("long6"))
    _wait(control, 0.0, 2.0, 0.0)
    _up_to(control, "2")
    assert control.busy
    caps = _wait(control, 45.0, 0.30)
    assert caps["b1"] > 0
    assert caps["b2"] < control.most["b2"] * LEAST_SHARE
    caps = _wait(control, 45.0, 2.0)
    assert 0.0 == caps["b2"] < caps["b1"]


def test_tick__line_pressure_rises_with_torque(sheet_of: Sheets) -> None:
    control = _control(sheet_of("long6"))
    _wait(control, 0.0, 2.0, 0.0)
    idle = control.line_bar
    _wait(control, 0.0, 0.2, 1.0, turbine_nm=520.0)
    assert SPRING_BAR + LEAST_SHARE * (MOST_BAR - SPRING_BAR) == approx(idle)
    assert MOST_BAR == approx(control.line_bar, rel=0.05)


def test_tick__elements_hold_more_than_their_load_at_any_torque(sheet_of: Sheets) -> None:
    control = _control(sheet_of("long6"))
    _wait(control, 0.0, 2.0, 0.0)
    for torque in (50.0, 200.0, 500.0):
        caps = _wait(control, 0.0, 0.5, 0.3, turbine_nm=torque)
        for name in control.unit.parts["1"]:
            assert caps[name] > 1.3 * torque * control.unit.shares["1"][name]


def test_tick__converter_clutch_closes_only_when_settled(sheet_of: Sheets) -> None:
    control = _control(sheet_of("long6"))
    _wait(control, 0.0, 2.0, 0.0)
    _up_to(control, "3")
    assert 0.0 == _wait(control, 120.0, 0.3)[LOCKUP]
    caps = _wait(control, 120.0, 6.0, 0.1)
    assert 100.0 == control.lock_percent
    assert caps[LOCKUP] > 80.0
    assert 0.0 == _wait(control, 120.0, 0.5, 0.1, brake=0.5)[LOCKUP]


def test_tick__failsafe_holds_its_gear_at_full_pressure(sheet_of: Sheets) -> None:
    control = _control(sheet_of("long6"), Wrongs(failsafe_s=3.0))
    _wait(control, 0.0, 6.0, 0.0)
    assert ("5", MOST_BAR) == (control.gear, control.line_bar)
    _wait(control, 300.0, 5.0, 0.2)
    assert "5" == control.gear


@mark.parametrize(("lever", "commanded"), [("P", "P"), ("R", "R"), ("N", "N"), ("D", "1")])
def test_commanded__is_the_lever_or_the_gear(lever: str, commanded: str, sheet_of: Sheets) -> None:
    control = _control(sheet_of("trans6"))
    _wait(control, 0.0, 1.0, 0.0, lever=lever)
    assert commanded == control.commanded(lever)


def test_tick__applies_what_brakes_the_engine_only_without_pedal(sheet_of: Sheets) -> None:
    control = _control(sheet_of("trans6"))
    _wait(control, 0.0, 2.0, 0.0)
    assert _wait(control, 4.0, 1.0, 0.0)["b2"] > 0
    assert 0.0 == _wait(control, 4.0, 1.0, 0.3)["b2"]
