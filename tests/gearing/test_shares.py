"""How surely parts belong together."""

from itertools import pairwise
from pathlib import Path

from pytest import approx, mark
from support.layouts import LAYOUTS

from shiftlore.gearing import unit_facts
from shiftlore.gearing.shares import find_applied, find_controlled, find_shifts, find_switching, find_working
from shiftlore.sheets import EACH, UnitSheet, load_sheet

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


SHEETS = sorted([*LAYOUTS, *(path.stem for path in UNITS.glob("*.yaml"))])


@mark.parametrize("name", SHEETS)
def test_unit_facts__every_share_is_one_of_a_pair_that_exists(name: str) -> None:
    facts = unit_facts(_sheet(name))
    ids = {kind: {item.id for item in facts.instances(kind)} for kind in EACH}
    pairs = {
        "applied": ("element", "gear"), "torque_share": ("element", "gear"), "lost_share": ("element", "gear"),
        "coming_on": ("element", "shift"), "going_off": ("element", "shift"), "controlled": ("solenoid", "element"),
        "working": ("solenoid", "gear"), "switching": ("solenoid", "shift"), "monitored": ("pressure_switch", "element"),
    }  # fmt: skip
    converter = {item.id for item in _sheet(name).elements.values() if item.type == "converter_clutch"}
    for table, (first, second) in pairs.items():
        for (one, other), share in getattr(facts, table).items():
            assert one in ids[first] | converter and other in ids[second] | converter, (table, one, other)
            assert 0 <= share <= 1 + 1e-12


@mark.parametrize("name", SHEETS)
def test_find_shifts__what_comes_and_goes_makes_the_next_gear(name: str) -> None:
    sheet = _sheet(name)
    applied = find_applied(sheet)
    forward = [gear.id for gear in sheet.gears.values() if gear.kind == "forward"]
    ends = {f"{a}_{b}": (a, b) for a, b in pairwise(forward)}
    coming, going = find_shifts(sheet, applied, ends)
    assert not coming.keys() & going.keys()
    for shift, (start, end) in ends.items():
        for element in sheet.elements:
            moved = coming.get((element, shift), 0.0) - going.get((element, shift), 0.0)
            assert applied.get((element, start), 0.0) + moved == approx(applied.get((element, end), 0.0))


@mark.parametrize("name", sorted(LAYOUTS))
def test_find_torque_shares__every_working_element_is_once_at_its_most(name: str) -> None:
    facts = unit_facts(_sheet(name))
    largest: dict[str, float] = {}
    for (element, _), share in facts.torque_share.items():
        largest[element] = max(share, largest.get(element, 0.0))
    assert {round(share, 9) for share in largest.values()} <= {0.0, 1.0}
    assert facts.torque_share.keys() == facts.applied.keys()
