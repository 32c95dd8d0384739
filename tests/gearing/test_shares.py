"""How surely parts belong together."""

from pathlib import Path

from support.layouts import LAYOUTS

from shiftlore.gearing.shares import find_applied, find_controlled, find_shifts, find_switching, find_working
from shiftlore.sheets import UnitSheet, load_sheet

UNITS = Path(__file__).parents[2] / "knowledge" / "units"


def _sheet(name: str) -> UnitSheet:
    return load_sheet(LAYOUTS[name] if name in LAYOUTS else UNITS / f"{name}.yaml")


def test_find_applied__held_ranges_and_coast_do_not_count() -> None:
    applied = find_applied(_sheet("long5"))
    assert ("c0", "1") not in applied
    assert applied["c0", "3"] == 1.0


def test_find_shifts__kinds_share_the_change() -> None:
    sheet = _sheet("step")
    coming, going = find_shifts(sheet, find_applied(sheet), {"3_4": ("3", "4")})
    assert coming["overdrive_clutch", "3_4"] == sheet.gears["4"].on["overdrive_clutch"]
    assert abs(going["forward_clutch", "3_4"] - 0.4) < 1e-12


def test_find_controlled__line_solenoid_works_on_all_friction_elements() -> None:
    controlled = find_controlled(_sheet("long6"))
    assert {element for solenoid, element in controlled if solenoid == "line"} == {
        "clutch_a", "clutch_b", "clutch_e", "brake_x", "brake_y",
    }  # fmt: skip


def test_find_working__converter_solenoid_in_the_gears_that_lock() -> None:
    sheet = _sheet("long5")
    working = find_working(sheet, find_controlled(sheet), find_applied(sheet))
    assert {gear for solenoid, gear in working if solenoid == "tcc"} == {"4", "5"}


def test_find_switching__pattern_that_changes() -> None:
    sheet = _sheet("long5")
    applied, ends = find_applied(sheet), {"1_2": ("1", "2"), "3_4": ("3", "4")}
    switching = find_switching(sheet, find_controlled(sheet), *find_shifts(sheet, applied, ends), ends)
    assert {key for key in switching if key[0] in ("sol_a", "sol_c")} == {("sol_c", "1_2"), ("sol_a", "3_4")}
