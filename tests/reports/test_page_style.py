"""The style sheet: contrast, self-containment, paper."""

import re
from dataclasses import replace
from xml.etree import ElementTree

import pytest
from hypothesis import given
from hypothesis import strategies as st
from support.hostile import HOSTILE

from shiftlore.reports.page_style import (
    BAR_ROOM,
    INK,
    LARGEST_POINTS,
    POINT_HEIGHT,
    POINT_WIDTH,
    SMALLEST_POINTS,
    SOFT,
    Bar,
    PageText,
    Point,
    Row,
    choose_ticks,
    draw_bars,
    draw_points,
    fit_points,
    lengths,
    reckon_height,
    write_style,
)

LEAST_CONTRAST = 4.5


def luminance(colour: str) -> float:
    """Source: WCAG 2.1, relative luminance."""
    digits = colour.lstrip("#")
    whole = digits if len(digits) == 6 else "".join(2 * digit for digit in digits)
    parts = [int(whole[i : i + 2], 16) / 255 for i in (0, 2, 4)]
    linear = [part / 12.92 if part <= 0.03928 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast_on_white(colour: str) -> float:
    return 1.05 / (luminance(colour) + 0.05)


def test_write_style__every_ink_has_enough_contrast() -> None:
    """Source: WCAG 2.1, success criterion 1.4.3: 4.5 to 1; black on white is 21 to 1."""
    assert 21.0 == pytest.approx(contrast_on_white("#000"), abs=0.01)
    inks = set(re.findall(r"(?<!-)color:(#[0-9a-f]{3,6})", write_style("a4", 8.0))) - {"#fff"}
    assert inks and all(contrast_on_white(ink) >= LEAST_CONTRAST for ink in (*inks, INK, SOFT))


@pytest.mark.parametrize(("paper", "size"), [("a4", "size:A4"), ("letter", "size:Letter")])
def test_write_style__states_the_paper_and_the_print(paper: str, size: str) -> None:
    text = write_style(paper, 8.26)
    assert size in text and "font-size:8.3pt" in text


def test_write_style__asks_for_nothing_outside() -> None:
    assert not re.search(r"url\(|@import|http", write_style("a4", 8.0))


def test_write_style__braces_are_balanced() -> None:
    text = write_style("letter", 8.0)
    assert text.count("{") == text.count("}")


def text_of(size: int, rows: int = 6) -> PageText:
    row = Row(size // 4, size // 2, (size, size, size), 60)
    return PageText((row,) * rows, size, (size,), ((size,), (size,)), size)


@given(st.integers(1, 600), st.sampled_from(["a4", "letter"]))
def test_fit_points__stays_within_what_can_be_read(size: int, paper: str) -> None:
    assert SMALLEST_POINTS - 0.1 <= fit_points(text_of(size), paper) <= LARGEST_POINTS


@given(st.integers(1, 300), st.integers(1, 300))
def test_fit_points__more_text_is_never_printed_larger(size: int, more: int) -> None:
    assert fit_points(text_of(size + more), "a4") <= fit_points(text_of(size), "a4")


def test_fit_points__the_shorter_paper_gets_the_smaller_print() -> None:
    assert fit_points(text_of(120), "letter") < fit_points(text_of(120), "a4")


def test_reckon_height__grows_with_the_rows_and_the_print() -> None:
    assert reckon_height(text_of(100, 3), "a4", 8.0) < reckon_height(text_of(100, 6), "a4", 8.0)
    assert reckon_height(text_of(100), "a4", 8.0) < reckon_height(text_of(100), "a4", 9.0)


def test_lengths__leaves_empty_texts_out() -> None:
    assert (3, 1) == lengths(["abc", "", "d"])


def point(letter: str, price: float, p: float) -> Point:
    return Point(
        letter, price * 0.8, price, price * 1.4, p, max(p - 0.1, 0), min(p + 0.1, 1), letter == "B", f"{letter} says"
    )


def draw(points: list[Point]) -> str:
    ticks = {price: f"{price:.0f}" for price in choose_ticks(max(item.high for item in points))}
    return draw_points(points, "title", "words", axis_price="price", axis_chance="chance", price_texts=ticks)


def test_draw_bars__lengths_are_in_proportion() -> None:
    text = draw_bars([Bar("one", 0.6, "60"), Bar("two", 0.3, "30")], "title", "words")
    widths = [float(width) for width in re.findall(r'<rect x="\d+" y="\d+" width="([\d.]+)"', text)]
    assert [BAR_ROOM, BAR_ROOM / 2] == widths


def test_draw_bars__labels_are_escaped_and_well_formed() -> None:
    root = ElementTree.fromstring(draw_bars([Bar("<b>&", 0.6, "<1")], "<t>", "&"))
    assert "<b>&" in "".join(root.itertext())


@given(HOSTILE)
def test_draw_bars_and_points__a_hostile_label_stays_a_text(label: str) -> None:
    """Source: the XML reader of Python's own library."""

    def tags(text: str) -> list[tuple[str, list[str]]]:
        bars = draw_bars([Bar(text, 0.6, text)], text, text)
        points = draw_points(
            [replace(point("A", 500, 0.5), letter=text, says=text)],
            text,
            text,
            axis_price=text,
            axis_chance=text,
            price_texts={0.0: text},
        )
        pictures = [ElementTree.fromstring(picture) for picture in (bars, points)]
        assert all(text in "".join(picture.itertext()) for picture in pictures)
        return [(one.tag, sorted(one.keys())) for picture in pictures for one in picture.iter()]

    assert tags("harmless") == tags(label)


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
    first, second = ((float(item.get("cx", 0)), float(item.get("cy", 0))) for item in root.iter("circle"))
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
