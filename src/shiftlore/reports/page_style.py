"""How the owner's page looks: one style sheet for screen, phone and print, in ink that prints black and white.

The print is as large as lets the page fit one piece of paper: heights are reckoned from lengths of text. A browser may
break lines a little differently, so some room is kept; the tests print the pages and count.
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


PAPERS = {"a4": "A4", "letter": "Letter"}

BASE = """
*{box-sizing:border-box}
html{font-size:16px;-webkit-text-size-adjust:100%}
body{margin:0;background:#fff;color:#1a1a1a;font:1rem/1.35 "Liberation Sans",Arial,Helvetica,"DejaVu Sans",sans-serif}
main,header,footer{max-width:62rem;margin:0 auto;padding:0 1.2rem}
header{padding-top:1rem}
h1{font-size:1.7rem;line-height:1.15;margin:0 0 .2rem}
h2{font-size:1.08rem;margin:0 0 .3rem}
h3{font-size:1.05rem;line-height:1.2;margin:0}
p,dl,ul{margin:0}
.top{display:flex;justify-content:space-between;gap:1.5rem;align-items:flex-start}
.top{border-bottom:3px solid #1a1a1a;padding-bottom:.6rem}
.shop{text-align:right;max-width:24rem}
.shop img{max-height:3.4rem;max-width:14rem;display:block;margin:0 0 .25rem auto}
.shop strong{font-size:1.05rem}
.shop span{display:block}
.facts div{display:inline-block;margin:0 1.4rem .1rem 0}
.facts dt,.facts dd{display:inline;margin:0}
.facts dt{font-weight:bold;margin-right:.4rem}
.blank{display:inline-block;min-width:11rem;border-bottom:1px solid #1a1a1a}
.advice{border:2.5px solid #1a1a1a;border-radius:.4rem;padding:.55rem .8rem;margin:.7rem 0}
.advice strong{font-size:1.12rem}
.pictures,.notes{display:grid;grid-template-columns:1fr 1fr;gap:1.4rem;margin:.6rem 0}
.pictures svg{display:block;width:100%;height:auto}
figure{margin:0}
figcaption{font-size:.82rem;color:#333}
.option{display:grid;grid-template-columns:2.1rem 1fr 11.2rem 7.2rem;gap:.1rem .8rem}
.option{border-top:1.5px solid #1a1a1a;padding:.45rem 0;break-inside:avoid}
.letter{font-size:1.5rem;font-weight:bold;line-height:1;width:2rem;height:2rem}
.letter{align-self:start;display:flex;align-items:center;justify-content:center;border:2.5px solid #1a1a1a;border-radius:50%}
.advised .letter{background:#1a1a1a;color:#fff}
.tag{display:inline-block;font-size:.8rem;font-weight:bold;white-space:nowrap}
.tag{border:1.5px solid #1a1a1a;border-radius:.25rem;padding:0 .35rem}
.advised .tag.ours{background:#1a1a1a;color:#fff}
.small{font-size:.9rem;color:#2b2b2b}
.small b{color:#1a1a1a}
.price,.chance{text-align:right}
.big{display:block;font-size:1.95rem;font-weight:bold;line-height:1.1;white-space:nowrap}
.big small{font-size:.95rem}
.range,.end{display:block;font-size:.86rem;color:#2b2b2b}
.meter{display:block;width:100%;height:.6rem;margin:.2rem 0}
.notes section{border-top:1.5px solid #1a1a1a;padding-top:.35rem}
.danger{font-weight:bold}
.sign{display:grid;grid-template-columns:auto 1fr 1fr;gap:.4rem 1.4rem;align-items:end;margin:.7rem 0 .3rem}
.sign div:first-child{white-space:nowrap}
.sign .box{display:inline-block;width:1.1em;height:1.1em;border:1.5px solid #1a1a1a;vertical-align:-.15em;margin:0 .25em 0 .7em}
.line{border-bottom:1px solid #1a1a1a;min-height:2.1rem;display:block}
.print{font-size:.8rem;color:#333;margin-bottom:1rem}
@media (max-width:46rem){
.top,.sign{display:block}
.shop{text-align:left;margin-top:.6rem}
.shop img{margin-left:0}
.pictures,.notes{grid-template-columns:1fr}
.option{grid-template-columns:2.4rem 1fr 1fr}
.option .what{grid-column:2 / 4}
.option .price{grid-column:1 / 3;text-align:left;padding-left:2.8rem}
.sign div,.sign div:first-child{margin-bottom:.6rem;white-space:normal}
}
"""

PRINT = """
@page{size:%(paper)s;margin:8mm 11mm}
@media print{
html{font-size:%(points).1fpt}
body{line-height:1.25}
main,header,footer{max-width:none;padding:0}
.pictures svg{max-height:44mm}
.advice{padding:.35rem .7rem;margin:.5rem 0}
.pictures,.notes{margin:.4rem 0}
.option{padding:.3rem 0}
.print{margin:0}
.meter,.letter,.tag,svg{-webkit-print-color-adjust:exact;print-color-adjust:exact}
}
"""


def write_style(paper: str, points: float) -> str:
    """Write the style sheet for a paper.

    Args:
        paper: `a4` or `letter`.
        points: size of the print.
    """
    return BASE + PRINT % {"paper": PAPERS[paper], "points": points}
