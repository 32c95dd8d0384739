"""A unit as text."""

from pathlib import Path

from pytest import mark
from support.layouts import LAYOUTS

from shiftlore.gearing import describe_unit
from shiftlore.reports.unit_text import WIDTH, render_unit
from shiftlore.sheets import load_sheet

UNITS = Path(__file__).parents[2] / "knowledge" / "units"
SHEETS = {path.stem: path for path in sorted(UNITS.glob("*.yaml"))}


@mark.parametrize("name", [*SHEETS, *LAYOUTS])
def test_render_unit__fits_eighty_columns(name: str) -> None:
    sheet = load_sheet(SHEETS.get(name, LAYOUTS.get(name, "")))
    some = list(sheet.elements)[:2]
    for description in (describe_unit(sheet), describe_unit(sheet, lost=some, ratio=1.9)):
        assert max(len(line) for line in render_unit(description).splitlines()) <= WIDTH


def test_render_unit__fault_asked_for_gets_a_table() -> None:
    text = render_unit(describe_unit(load_sheet(SHEETS["long6"]), lost=["b1"]))
    assert "Brake B1 (b1) holds nothing" in text
    assert "2           none            -   no drive: the engine revs up freely" in text


def test_render_unit__many_faults_get_a_line_each() -> None:
    text = render_unit(describe_unit(load_sheet(SHEETS["long5"])))
    (row,) = [line.split() for line in text.splitlines() if line.startswith("b0 lost")]
    assert row == ["b0", "lost", "1", "1", "3", "4", "4", "R"]


def test_render_unit__measured_ratio() -> None:
    text = render_unit(describe_unit(load_sheet(SHEETS["long6"]), ratio=1.95), show_faults=False)
    assert "1.95 lies between 2 and 3: with 3 commanded, 27 % slip." in text
    assert "lost" not in text


def test_render_unit__says_how_set_ratios_were_found() -> None:
    text = render_unit(describe_unit(load_sheet(LAYOUTS["series_5"])))
    assert "Set ratios solved from the gear ratios" in text
    assert "Proved on the others" in text


def test_render_unit__a_difference_of_nothing_is_not_below_nothing() -> None:
    for path in SHEETS.values():
        assert "-0.0 %" not in render_unit(describe_unit(load_sheet(path)), show_faults=False)
