"""Levers for the drawing."""

from pathlib import Path

from pytest import approx

from shiftlore.gearing import describe_unit
from shiftlore.sheets import load_sheet

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
