"""How large the print can be."""

from hypothesis import given
from hypothesis import strategies as st

from shiftlore.reports.page_layout import (
    LARGEST_POINTS,
    SMALLEST_POINTS,
    PageText,
    Row,
    fit_points,
    lengths,
    reckon_height,
)


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
