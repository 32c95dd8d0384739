"""A unit as a picture."""

from dataclasses import replace
from pathlib import Path
from xml.etree import ElementTree

from hypothesis import given
from pytest import mark
from support.hostile import HOSTILE
from support.layouts import LAYOUTS

from shiftlore.gearing import describe_unit
from shiftlore.reports.unit_drawing import render_unit_drawing
from shiftlore.sheets import load_sheet

UNITS = Path(__file__).parents[2] / "knowledge" / "units"
SHEETS = {path.stem: path for path in sorted(UNITS.glob("*.yaml"))}
LONG5 = describe_unit(load_sheet(SHEETS["long5"]))
SVG = "{http://www.w3.org/2000/svg}"
TAGS = [one.tag for one in ElementTree.fromstring(render_unit_drawing(LONG5)).iter()]


@mark.parametrize("name", [*SHEETS, *LAYOUTS])
def test_render_unit_drawing__is_well_formed_and_stays_inside(name: str) -> None:
    picture = ElementTree.fromstring(
        render_unit_drawing(describe_unit(load_sheet(SHEETS.get(name, LAYOUTS.get(name, "")))))
    )
    width, height = float(picture.get("width", 0)), float(picture.get("height", 0))
    for circle in picture.iter(f"{SVG}circle"):
        assert 0 <= float(circle.get("cx", -1)) <= width
        assert 0 <= float(circle.get("cy", -1)) <= height


def test_render_unit_drawing__names_every_element() -> None:
    text = render_unit_drawing(describe_unit(load_sheet(SHEETS["long6"])))
    for name in ("c1", "c2", "c3", "b1", "b2", "input", "output"):
        assert f">{name}<" in text


def test_render_unit_drawing__label_cannot_break_the_picture() -> None:
    text = SHEETS["long6"].read_text().replace("label: Six", 'label: "<b>&Six').replace("inside\n", 'inside"\n', 1)
    picture = ElementTree.fromstring(render_unit_drawing(describe_unit(load_sheet(text))))
    assert (picture.findtext(f"{SVG}title") or "").startswith("<b>&Six")


@given(HOSTILE)
def test_render_unit_drawing__a_hostile_label_stays_a_text(label: str) -> None:
    """Source: the XML reader of Python's own library."""
    picture = ElementTree.fromstring(render_unit_drawing(replace(LONG5, label=label)))
    assert label.strip() in {(one.text or "").strip() for one in picture.iter(f"{SVG}text")}
    assert TAGS == [one.tag for one in picture.iter()]
