"""The style sheet: contrast, self-containment, paper."""

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shiftlore.reports.page_pictures import INK, SOFT
from shiftlore.reports.page_style import (
    LARGEST_POINTS,
    SMALLEST_POINTS,
    PageText,
    Row,
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
