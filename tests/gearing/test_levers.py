"""Levers for the drawing."""

from pathlib import Path

from pytest import approx, mark
from support.layouts import LAYOUTS

from shiftlore.gearing import describe_unit
from shiftlore.gearing.levers import list_ties
from shiftlore.sheets import ELEMENT_TYPES, load_sheet
from shiftlore.sheets.sheet_checks import list_members

UNITS = Path(__file__).parents[2] / "knowledge" / "units"


def test_draw_levers__distances_are_as_the_teeth() -> None:
    # Source: Benford and Leising 1981, SAE 810102; front set 40 and 76 teeth.
    lever = describe_unit(load_sheet(UNITS / "long6.yaml")).levers[0]
    places = dict(lever.points)
    assert [places["front.sun"], places["front.ring"]] == [0.0, 1.0]
    assert places["front.carrier"] == approx(76 / (76 + 40), abs=1e-9)


def test_list_ties__joins_and_elements() -> None:
    ties = describe_unit(load_sheet(UNITS / "long6.yaml")).ties
    assert {tie.element for tie in ties if tie.element} == {"clutch_a", "clutch_b", "clutch_e", "brake_x", "brake_y"}
    assert ("case", "front.sun") in [(tie.first, tie.second) for tie in ties if not tie.element]


WITH_TEETH = sorted(path.stem for path in UNITS.glob("*.yaml") if "teeth" in path.read_text())


@mark.parametrize("name", [*WITH_TEETH, *LAYOUTS])
def test_draw_levers__speeds_of_every_gear_lie_on_a_line(name: str) -> None:
    # Source: Benford and Leising 1981: the members of a set are points of one lever in every gear.
    description = describe_unit(load_sheet(LAYOUTS.get(name, UNITS / f"{name}.yaml")))
    for lever in description.levers:
        for line in description.gears.values():
            known = [(place, line.speeds[member]) for member, place in lever.points if member in line.speeds]
            if len(known) < 3 or line.state != "driven":
                continue
            (low, start), (high, end) = known[0], known[-1]
            slope = (end - start) / (high - low)
            assert [speed for _, speed in known] == approx([start + slope * (at - low) for at, _ in known], abs=1e-6)


@mark.parametrize("name", sorted(LAYOUTS))
def test_list_ties__every_tie_has_two_ends_of_the_sheet(name: str) -> None:
    sheet = load_sheet(LAYOUTS[name])
    ties = list_ties(sheet)
    known = set(list_members(sheet))
    assert {end for tie in ties for end in (tie.first, tie.second)} <= known
    assert {tie.element for tie in ties} - {""} == {item.id for item in sheet.elements.values() if item.first}
    assert {tie.type for tie in ties} - {"joined"} <= set(ELEMENT_TYPES)
