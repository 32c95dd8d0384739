"""The recorded road test of a practice vehicle: its log and what it shows are one; what cannot be driven has none."""

from collections.abc import Collection
from dataclasses import replace

import numpy as np
import pytest
from support.practice import exercise_of
from support.trade import shipped, unit_of

import shiftlore
from shiftlore.compiling import compile_unit
from shiftlore.driving import prepare_unit, read_defect
from shiftlore.driving.injected import work_defects
from shiftlore.practising import Wish, draw_exercise, run_planner
from shiftlore.practising.exercises import Exercise, bench_of
from shiftlore.practising.recorded_drives import (
    GAUGED,
    ID_SLOT,
    _record,
    drive_sound,
    drive_vehicle,
    find_defects,
    list_logged,
)
from shiftlore.simulating import Drawn

DRIVEN = ("long5", "long6", "long8", "trans4", "trans6")
NO_FALLBACK = {"trans4"}
"""Units whose sheet states no failsafe gear: a module that cuts the current cannot be simulated there."""


def _vehicle(exercise: Exercise, causes: Collection[str], shown: Collection[str]) -> Drawn:
    """Give the vehicle with other causes, and nothing shown on the road but this."""
    case = exercise.bench.compiled
    readings = {name: int(name in shown) for name in list_logged(case.expansion)}
    return Drawn(tuple(case.causes.index(cause) for cause in causes), readings, tuple(shown))


def _defects(causes: Collection[str], shown: Collection[str] = ("slip_live_3",)) -> list[str] | None:
    exercise = exercise_of()
    found = find_defects(exercise.bench.compiled, shipped().sheets["long5"], _vehicle(exercise, causes, shown))
    return None if found is None else [f"{one.kind}:{one.part}" for one in found]


def test_drive_vehicle__what_the_log_says_is_what_the_vehicle_shows() -> None:
    exercise = exercise_of()
    drive, nodes = exercise.drive, exercise.bench.compiled.expansion.findings
    assert drive is not None and drive is exercise.driven
    told = {key: nodes[key].grades[exercise.vehicle.readings[key]] for key in drive.trace.findings}
    assert {key: one.is_grade for key, one in drive.trace.findings.items()} == told
    records = exercise.bench.compiled.expansion.finding_records
    shown = {key for key, state in exercise.vehicle.readings.items() if records[key].complaint and state}
    assert shown == set(exercise.vehicle.complaints)


def test_drive_vehicle__the_gears_that_the_log_misses_are_those_that_statics_say_are_not_had() -> None:
    """Outside check: `gearing` says from the chart and the gear sets alone which gear is had with solenoid C off."""
    drive = exercise_of().drive
    assert drive is not None
    cases = shiftlore.describe_unit(shipped(), "long5", stuck=["sol_c=off"]).stuck["sol_c=off"]
    lost = {f"gear_missing_{gear}" for gear, case in cases.items() if gear.isdecimal() and case.had != gear}
    assert lost == {key for key, one in drive.trace.findings.items() if "missing_" in key[:13] and not one.is_sound}


def test_drive_vehicle__equal_seeds_give_equal_drives_without_gauge_or_stall_test() -> None:
    exercise, sheet = exercise_of(), shipped().sheets["long5"]
    drive, case = exercise.drive, exercise.bench.compiled
    again = _record(case, sheet, find_defects(case, sheet, exercise.vehicle) or (), exercise.wish.seed)
    assert drive is not None and again is not None
    assert all(np.array_equal(column, again.columns[name]) for name, column in drive.columns.items())
    assert GAUGED not in drive.columns
    assert not {"stall_speed_drive", "stall_speed_reverse", "line_pressure_idle"} & set(drive.trace.findings)
    assert set(drive.trace.findings) <= set(list_logged(case.expansion))


def test_drive_vehicle__what_was_presented_stays_or_there_is_no_recording() -> None:
    exercise, sheet = exercise_of(), shipped().sheets["long5"]
    case, same = exercise.bench.compiled, exercise.vehicle
    vehicle, drive = drive_vehicle(case, sheet, same, exercise.wish.seed, kept=same.complaints)
    assert drive is not None and (same.readings, same.complaints) == (vehicle.readings, vehicle.complaints)
    other = replace(same, readings={**same.readings, "gear_missing_2": 0})
    assert (other, None) == drive_vehicle(case, sheet, other, exercise.wish.seed, kept=["gear_missing_2"])


def test_drive__the_planner_meets_the_same_vehicle() -> None:
    exercise = exercise_of()
    work = run_planner(exercise)
    assert work.run.cured and work == run_planner(exercise)


def test_drive__what_shows_nothing_on_the_road_is_driven_sound() -> None:
    exercise = exercise_of(1, 7, "trans4")
    assert exercise.driven is None, "nothing is driven before somebody asks"
    assert exercise.drive is not None and exercise.drive.trace.findings
    assert all(one.is_sound for one in exercise.drive.trace.findings.values())


def test_drive__what_shows_and_cannot_be_simulated_has_no_recording() -> None:
    exercise = exercise_of(1, 5, "trans4")
    case, sheet = exercise.bench.compiled, shipped().sheets["trans4"]
    assert ("range_switch_failed",) == exercise.causes
    assert any(exercise.vehicle.readings[name] for name in list_logged(case.expansion))
    assert exercise.drive is None and drive_sound(case, sheet, exercise.vehicle, 1) is None
    assert (exercise.vehicle, None) == drive_vehicle(case, sheet, exercise.vehicle, 1)


@pytest.mark.parametrize(
    ("causes", "defects"),
    [
        (["worn_element_lining_c2"], ["slip:c2"]),
        (["feed_ring_leak_c2"], ["slip:c2", "flare:c2"]),
        (["speed_sensor_failed_output_speed"], ["dropout:output_rpm"]),
        (["worn_element_lining_c2", "pump_worn"], ["slip:c2", "low_pressure:", "engage_late:"]),
        (["pump_worn", "regulator_valve_stuck_low"], ["low_pressure:", "engage_late:"]),
        (["worn_element_lining_c2", "cooler_restricted"], None),
        (["cooler_restricted"], None),
    ],
)
def test_find_defects__those_of_all_causes_or_none(causes: list[str], defects: list[str] | None) -> None:
    assert defects == _defects(causes)


def test_find_defects__nothing_where_nothing_shows_whatever_the_cause() -> None:
    assert [] == _defects(["worn_element_lining_c2"], ()) == _defects(["cooler_restricted"], ())


@pytest.mark.parametrize("unit", ["cvt", "dct7", "step"])
def test_find_defects__a_unit_that_cannot_be_driven_has_no_recording(unit: str) -> None:
    case = bench_of(compile_unit(shipped(), unit)).compiled
    assert find_defects(case, shipped().sheets[unit], Drawn((0,), {}, ())) is None


def test_list_logged__nothing_without_a_check_that_records() -> None:
    expansion = exercise_of().bench.compiled.expansion
    assert "slip_live_3" in list_logged(expansion)
    deaf = {key: check for key, check in expansion.checks.items() if not check.recorded}
    assert [] == list_logged(expansion.vary(checks=deaf))


def test_list_logged__the_road_test_of_the_trade_reveals_all_that_its_log_tells() -> None:
    expansion = exercise_of().bench.compiled.expansion
    revealed = {name for key, check in expansion.checks.items() if check.recorded for name in expansion.reveals[key]}
    assert set() == set(list_logged(expansion)) - revealed


@pytest.mark.parametrize("unit", DRIVEN)
def test_simulated__every_cause_of_the_trade_that_has_it_can_be_driven(unit: str) -> None:
    """The words under `simulated` fit the sheet of every unit that can be driven, part by part."""
    sheet, causes = shipped().sheets[unit], unit_of(unit).expansion.causes.values()
    ready = prepare_unit(sheet)
    texts = {text.replace(ID_SLOT, one.instance or "") for one in causes for text in one.cause.simulated}
    for text in sorted(texts):
        if not (unit in NO_FALLBACK and text.startswith("module_off")):
            work_defects(ready, [read_defect(text, sheet)])
    assert len({one.template for one in causes if one.cause.simulated}) > 70


def test_draw_exercise__a_drive_is_driven_with_the_fault_of_its_area() -> None:
    exercise = draw_exercise(shipped(), Wish("trans4", 2, 88))
    assert ("converter_clutch_glazed_shudder",) == exercise.causes and exercise.driven is not None
    assert not exercise.driven.trace.findings["tcc_judders_on"].is_sound


def test_find_defects__what_its_driver_feels_of_the_same_is_driven_too() -> None:
    """Late lock-up was told of a vehicle whose log was all in order."""
    exercise = exercise_of()
    case, sheet = exercise.bench.compiled, shipped().sheets["long5"]
    stuck = _vehicle(exercise, ["tcc_valve_worn_or_stuck"], ())
    late = replace(stuck, readings={**stuck.readings, "tcc_late": 1})
    assert () == find_defects(case, sheet, stuck)
    assert ["lockup_slip"] == [one.kind for one in find_defects(case, sheet, late) or ()]
    vehicle, drive = drive_vehicle(case, sheet, late, 3)
    assert drive is not None and any(not one.is_sound for one in drive.trace.findings.values())
    assert not (vehicle.readings["tcc_never_applies"] and vehicle.readings["tcc_late"])
