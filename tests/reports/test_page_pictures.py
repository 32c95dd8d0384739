"""The two pictures of the owner's page."""

import re
from xml.etree import ElementTree

from hypothesis import given
from hypothesis import strategies as st

from shiftlore.reports.page_pictures import (
    BAR_ROOM,
    POINT_HEIGHT,
    POINT_WIDTH,
    Bar,
    Point,
    choose_ticks,
    draw_bars,
    draw_points,
)


def point(letter: str, price: float, p: float) -> Point:
    return Point(letter, price * 0.8, price, price * 1.4, p, max(p - 0.1, 0), min(p + 0.1, 1), letter == "B", f"{letter} says")


def draw(points: list[Point]) -> str:
    ticks = {price: f"{price:.0f}" for price in choose_ticks(max(item.high for item in points))}
    return draw_points(points, "title", "words", "price", "chance", ticks)


def test_draw_bars__lengths_are_in_proportion() -> None:
    text = draw_bars([Bar("one", 0.6, "60"), Bar("two", 0.3, "30")], "title", "words")
    widths = [float(width) for width in re.findall(r'<rect x="\d+" y="\d+" width="([\d.]+)"', text)]
    assert [BAR_ROOM, BAR_ROOM / 2] == widths


def test_draw_bars__labels_are_escaped_and_well_formed() -> None:
    root = ElementTree.fromstring(draw_bars([Bar("<b>&", 0.6, "<1")], "<t>", "&"))
    assert "<b>&" in "".join(root.itertext())


def test_draw_bars__a_long_label_is_written_smaller() -> None:
    text = draw_bars([Bar("x" * 60, 0.5, "5"), Bar("x", 0.5, "5")], "", "")
    sizes = re.findall(r'text-anchor="end" font-size="([\d.]+)"', text)
    assert float(sizes[0]) < float(sizes[1])


@given(st.lists(st.tuples(st.floats(0, 20_000), st.floats(0, 1)), min_size=1, max_size=6))
def test_draw_points__every_letter_stands_inside(pairs: list[tuple[float, float]]) -> None:
    root = ElementTree.fromstring(draw([point(letter, *pair) for letter, pair in zip("ABCDEF", pairs, strict=False)]))
    letters = [item for item in root.iter("text") if item.get("font-weight") == "bold"]
    assert len(pairs) == len(letters)
    for item in letters:
        assert 0 <= float(item.get("x", "-1")) <= POINT_WIDTH and 0 <= float(item.get("y", "-1")) <= POINT_HEIGHT


def test_draw_points__surer_is_higher_and_dearer_is_further_right() -> None:
    root = ElementTree.fromstring(draw([point("A", 100, 0.2), point("B", 900, 0.8)]))
    first, second = (
        (float(item.get("cx", 0)), float(item.get("cy", 0))) for item in root.iter("circle")
    )
    assert first[0] < second[0] and first[1] > second[1]


def test_draw_points__two_that_coincide_keep_two_letters_apart() -> None:
    root = ElementTree.fromstring(draw([point("A", 500, 0.5), point("B", 500, 0.5)]))
    places = [(item.get("x"), item.get("y")) for item in root.iter("text") if item.get("font-weight") == "bold"]
    assert 2 == len(set(places))


@given(st.floats(1, 1e6))
def test_choose_ticks__reaches_over_the_dearest(most: float) -> None:
    ticks = choose_ticks(most)
    assert ticks == sorted(ticks) and 0.0 == ticks[0] and ticks[-1] >= most * 0.999


def test_choose_ticks__nothing_to_show() -> None:
    assert [0.0] == choose_ticks(0.0)
