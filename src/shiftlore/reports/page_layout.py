"""How large the print can be so that the owner's page fits one sheet: heights are reckoned from lengths of text.

A browser may break lines a little differently, so some room is kept; the tests print the pages and count.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

POINTS_PER_MM = 72 / 25.4
PAPER_MM = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}
MARGIN_MM = (11.0, 8.0)
ROOM = 1.0
"""Share of the sheet that is filled by this reckoning, which comes out some hundredths too high (measured)."""

SMALLEST_POINTS, LARGEST_POINTS, STEP = 6.6, 10.5, 0.1
"""Below, nobody reads it (common practice: small print has about 7 points); above, it looks like a poster."""

LETTER_WIDTH, BOLD_WIDTH = 0.5, 0.56
"""Width of an average letter as part of its size, for the typefaces of the page (measured)."""
WORD_LEFT = 2.4
"""Letters lost at the end of a line, because words do not break (measured)."""
LINE, SMALL, TITLE, BIG = 1.25, 0.9, 1.05, 1.95
PRICE_REM, CHANCE_ROW = 11.2, 5.6
SIDE_REM = 2.1 + PRICE_REM + 7.2 + 2.4
FIXED_REM = 17.5
"""Header, headings, lines to sign and gaps, in sizes of the print (added up from the style sheet)."""
PICTURE_RATIO, MOST_PICTURE_MM = 0.44, 44.0


@dataclass(frozen=True, slots=True)
class Row:
    """Lengths of the texts of one option, in letters."""

    title: int
    does: int
    small: tuple[int, ...]
    price: int


@dataclass(frozen=True, slots=True)
class PageText:
    """Lengths of the texts of a page, in letters.

    Args:
        advice: paragraphs of the advice; facts: of the header, in all; notes: of the two notes, paragraph by paragraph.
    """

    rows: tuple[Row, ...]
    facts: int
    advice: tuple[int, ...]
    notes: tuple[tuple[int, ...], ...]
    small_print: int


def fit_points(text: PageText, paper: str) -> float:
    """Give the largest size of print, in points, at which the page fits one sheet."""
    sheet = (PAPER_MM[paper][1] - 2 * MARGIN_MM[1]) * POINTS_PER_MM * ROOM
    points = LARGEST_POINTS
    while points > SMALLEST_POINTS and reckon_height(text, paper, points) > sheet:
        points -= STEP
    return round(points, 1)


def reckon_height(text: PageText, paper: str, points: float) -> float:
    """Reckon how high the page gets, in points."""
    width = (PAPER_MM[paper][0] - 2 * MARGIN_MM[0]) * POINTS_PER_MM / points
    rem = FIXED_REM
    rem += LINE * _lines(text.facts, width * 0.72, LETTER_WIDTH)
    rem += sum(LINE * _lines(length, width - 1.6, 0.52) for length in text.advice)
    rem += sum(_row_height(row, width) for row in text.rows)
    rem += LINE * max((sum(_lines(n, width / 2 - 0.7, LETTER_WIDTH) for n in note) for note in text.notes), default=0)
    rem += LINE * 0.8 * _lines(text.small_print, width, 0.8 * LETTER_WIDTH)
    picture = min((width - 1.4) / 2 * PICTURE_RATIO * points, MOST_PICTURE_MM * POINTS_PER_MM)
    return rem * points + picture


def _row_height(row: Row, width: float) -> float:
    """Reckon one option: its text or its price, whichever is higher."""
    room = width - SIDE_REM
    left = TITLE * 1.2 * _lines(row.title, room, TITLE * BOLD_WIDTH) + LINE * _lines(row.does, room, LETTER_WIDTH)
    left += sum(SMALL * LINE * _lines(length, room, SMALL * LETTER_WIDTH) for length in row.small)
    right = BIG * 1.1 + 0.86 * LINE * (_lines(row.price, PRICE_REM, 0.86 * LETTER_WIDTH) + 1)
    return max(left, right, CHANCE_ROW) + 0.75


def _lines(letters: int, room: float, letter: float) -> int:
    """Number of lines that a text takes; words do not break, which costs a few letters on each line."""
    return math.ceil(letters / max(room / letter - WORD_LEFT, 5.0))


def lengths(texts: Sequence[str]) -> tuple[int, ...]:
    """Measure texts in letters, the empty ones left out."""
    return tuple(len(text) for text in texts if text)
