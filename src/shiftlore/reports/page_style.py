"""How the owner's page looks: one style sheet for screen, phone and print, in ink that prints black and white.

The print is as large as lets the page fit one piece of paper: heights are reckoned from lengths of text. A browser may
break lines a little differently, so some room is kept; the tests print the pages and count.
"""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from html import escape
from pathlib import Path

POINTS_PER_MM = 72 / 25.4
PAPER_MM = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}
MARGIN_MM = (11.0, 8.0)
ROOM = 0.98
"""Share of the sheet that is filled by this reckoning, which comes out some hundredths too high, and too low on a full page in
German (measured)."""

SMALLEST_POINTS, LARGEST_POINTS, STEP = 6.5, 10.5, 0.1
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


def write_style(paper: str, points: float, more: str = "") -> str:
    """Write the style sheet for a paper, `a4` or `letter`, and a size of the print in points.

    Args:
        more: file of what a page has of its own.
    """
    here = Path(__file__)
    style = here.with_name("page.css").read_text(encoding="utf-8")
    style = style.replace("%(paper)s", paper.capitalize()).replace("%(points)s", f"{points:.1f}")
    return style + (here.with_name(more).read_text(encoding="utf-8") if more else "")


def frame_page(title: str, style: str, body: str, language: str = "en", allows: str = "") -> str:
    """Write a whole page that asks for nothing from outside; all of it is escaped already.

    Args:
        allows: what it may load beside its own style.
    """
    return (
        f'<!DOCTYPE html>\n<html lang="{language}">\n<head>\n<meta charset="utf-8">\n'
        '<meta http-equiv="Content-Security-Policy" '
        f"content=\"default-src 'none'; style-src 'unsafe-inline'{allows}\">\n"
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>{title}</title>\n<style>{style}</style>\n</head>\n<body>\n{body}\n</body>\n</html>\n"
    )


INK, SOFT, PAPER, GRID = "#1a1a1a", "#1f4e79", "#ffffff", "#b8bec6"

FACES = "Liberation Sans, Arial, Helvetica, DejaVu Sans, sans-serif"

BAR_WIDTH, BAR_STEP, BAR_TEXT, BAR_ROOM = 400, 25, 205, 150
POINT_WIDTH, POINT_HEIGHT = 400, 176
LABEL_SIZE = 13.0
LEFT, RIGHT, TOP, BOTTOM = 40, 14, 12, 40
TICK_CHANCES = (0.0, 0.25, 0.5, 0.75, 1.0)
LETTER_SPOTS = ((11, -9), (11, 17), (-11, -9), (-11, 17), (0, -13), (0, 23), (22, 4), (-22, 4))
"""Places tried for a letter beside its point, in order, in units of the picture."""
LETTER_GAP = 15


@dataclass(frozen=True, slots=True)
class Bar:
    """One bar: what, how likely, and the text of it."""

    label: str
    p: float
    text: str


@dataclass(frozen=True, slots=True)
class Point:
    """One option in the picture of price against chance."""

    letter: str
    low: float
    typical: float
    high: float
    p: float
    p_low: float
    p_high: float
    is_advised: bool
    says: str


def head_page(title: str, facts: Iterable[tuple[str, str]], shop: str) -> str:
    """Write the head of a page for the shop: what it is, facts with their names, whose it is."""
    listed = "".join(f"<div><dt>{escape(name)}</dt><dd>{escape(text)}</dd></div>" for name, text in facts)
    return (
        f'<header><div class="top"><div><h1>{escape(title)}</h1><dl class="facts">{listed}</dl></div>'
        f'<div class="shop"><strong>{escape(shop)}</strong></div></div></header>'
    )


def svg_text(
    x: float, y: float, text: str, *, anchor: str = "start", size: int = 12, colour: str = "", bold: bool = False
) -> str:
    """Write a text into a picture."""
    more = (f' fill="{colour}"' if colour else "") + (' font-weight="bold"' if bold else "")
    return f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}" font-size="{size}"{more}>{escape(text)}</text>'


def draw_bars(bars: Sequence[Bar], title: str, describe: str) -> str:
    """Draw the likely causes as bars, each with its name and number."""
    height = BAR_STEP * max(len(bars), 1) + 6
    most = max((bar.p for bar in bars), default=1.0) or 1.0
    parts = []
    for row, bar in enumerate(bars):
        y = 4 + row * BAR_STEP
        width = max(2.0, bar.p / most * BAR_ROOM)
        parts.append(
            f'<text x="{BAR_TEXT - 8}" y="{y + 14}" text-anchor="end" font-size="{_fit_text(bar.label)}">'
            f"{escape(bar.label)}</text>"
            f'<rect x="{BAR_TEXT}" y="{y + 2}" width="{width:.1f}" height="16" fill="{SOFT}"/>'
            f'<text x="{BAR_TEXT + width + 6:.1f}" y="{y + 15}" font-size="14" font-weight="bold">'
            f"{escape(bar.text)}</text>"
        )
    return _wrap("bars", BAR_WIDTH, height, title=title, describe=describe, parts=parts)


def _fit_text(label: str) -> str:
    """Give the size in which a label fits beside its bar; letters are taken as 0.56 of their size wide."""
    room = (BAR_TEXT - 8) / max(0.56 * len(label), 1.0)
    return f"{min(LABEL_SIZE, room):.1f}"


def draw_points(
    points: Sequence[Point],
    title: str,
    describe: str,
    *,
    axis_price: str,
    axis_chance: str,
    price_texts: dict[float, str],
) -> str:
    """Draw price against chance; prices on a root scale, so that cheap options do not fall on one spot.

    Args:
        price_texts: price of each tick -> its text; the largest is the right end.
    """
    most = max([*price_texts, *(point.high for point in points), 1.0])
    parts = [_draw_grid(most, price_texts, axis_price, axis_chance)]
    taken: list[tuple[float, float]] = [(_x(point.typical, most), _y(point.p)) for point in points]
    for point in points:
        parts.append(_draw_point(point, most, taken))
    return _wrap("points", POINT_WIDTH, POINT_HEIGHT, title=title, describe=describe, parts=parts)


SMALLEST_PRICE = 0.01
"""Below the smallest coin there is nothing to mark on an axis."""


def choose_ticks(most: float) -> list[float]:
    """Choose prices for the axis: round ones, wider apart the dearer, up to the dearest.

    Example:
        >>> choose_ticks(5900)
        [0.0, 250.0, 1000.0, 2500.0, 4000.0, 6000.0]
    """
    if most < SMALLEST_PRICE:
        return [0.0]
    ticks = [_round_nicely(most * share) for share in (0.04, 0.16, 0.4, 0.7)]
    return sorted({0.0, *ticks, _round_up(most)})


def _round_nicely(value: float) -> float:
    size = 10.0 ** math.floor(math.log10(value))
    return float(min((step * size for step in (1, 1.5, 2, 2.5, 3, 4, 5, 6, 8, 10)), key=lambda nice: abs(nice - value)))


def _round_up(value: float) -> float:
    size = 10.0 ** math.floor(math.log10(value))
    return float(next(step * size for step in (1, 1.5, 2, 2.5, 3, 4, 5, 6, 7, 8, 9, 10) if step * size >= value))


def _x(price: float, most: float) -> float:
    return LEFT + (POINT_WIDTH - LEFT - RIGHT) * math.sqrt(max(price, 0.0) / most)


def _y(p: float) -> float:
    return TOP + (POINT_HEIGHT - TOP - BOTTOM) * (1.0 - p)


def _draw_grid(most: float, price_texts: dict[float, str], axis_price: str, axis_chance: str) -> str:
    right, bottom = POINT_WIDTH - RIGHT, POINT_HEIGHT - BOTTOM
    parts = []
    for p in TICK_CHANCES:
        y = _y(p)
        parts.append(f'<line x1="{LEFT}" y1="{y:.1f}" x2="{right}" y2="{y:.1f}" stroke="{GRID}" stroke-width="1"/>')
        parts.append(f'<text x="{LEFT - 10}" y="{y + 4:.1f}" text-anchor="end" font-size="11">{p * 100:.0f}</text>')
    for price, text in price_texts.items():
        x = _x(price, most)
        anchor = "end" if x > right - 12 else "middle"
        parts.append(f'<line x1="{x:.1f}" y1="{bottom}" x2="{x:.1f}" y2="{bottom + 5}" stroke="{INK}"/>')
        parts.append(f'<text x="{x:.1f}" y="{bottom + 17}" text-anchor="{anchor}" font-size="11">{escape(text)}</text>')
    parts.append(f'<text x="{right}" y="{bottom + 32}" text-anchor="end" font-size="11">{escape(axis_price)} →</text>')
    parts.append(f'<text x="{LEFT}" y="{bottom + 32}" font-size="11">↑ {escape(axis_chance)}</text>')
    return "".join(parts)


def _draw_point(point: Point, most: float, taken: list[tuple[float, float]]) -> str:
    x, y = _x(point.typical, most), _y(point.p)
    low, high = _x(point.low, most), _x(point.high, most)
    parts = [f"<g><title>{escape(point.says)}</title>"]
    if high - low > 1:
        parts.append(
            f'<line x1="{low:.1f}" y1="{y:.1f}" x2="{high:.1f}" y2="{y:.1f}" stroke="{SOFT}" stroke-width="2"/>'
        )
    if point.p_high > point.p_low:
        ends = f'y1="{_y(point.p_low):.1f}" y2="{_y(point.p_high):.1f}"'
        parts.append(f'<line x1="{x:.1f}" x2="{x:.1f}" {ends} stroke="{SOFT}" stroke-width="2"/>')
    fill = INK if point.is_advised else PAPER
    parts.append(f'<circle cx="{x:.1f}" cy="{y:.1f}" r="5.5" fill="{fill}" stroke="{INK}" stroke-width="2"/>')
    spot = _find_spot(x, y, taken)
    taken.append(spot)
    place = f'x="{spot[0]:.1f}" y="{spot[1] + 5:.1f}" text-anchor="middle" font-size="15"'
    # A white rim keeps the letter readable over lines; drawn apart, since not every printer knows the order of painting.
    parts.append(f'<text {place} stroke="{PAPER}" stroke-width="4" aria-hidden="true">{escape(point.letter)}</text>')
    parts.append(f'<text {place} font-weight="bold">{escape(point.letter)}</text></g>')
    return "".join(parts)


def _find_spot(x: float, y: float, taken: Sequence[tuple[float, float]]) -> tuple[float, float]:
    """Find the first free place for a letter beside its point, or the freest."""
    spots = [(x + dx, y + dy - 4) for dx, dy in LETTER_SPOTS]
    inside = [
        (sx, sy) for sx, sy in spots if LEFT + 4 < sx < POINT_WIDTH - 6 and TOP < sy < POINT_HEIGHT - BOTTOM + 2
    ] or spots
    gaps = [min(math.dist(spot, other) for other in taken) for spot in inside]
    for spot, gap in zip(inside, gaps, strict=True):
        if gap >= min(LETTER_GAP, max(gaps)):
            return spot
    return inside[0]


def _wrap(name: str, width: int, height: int, *, title: str, describe: str, parts: Sequence[str]) -> str:
    return (
        f'<svg viewBox="0 0 {width} {height}" role="img" aria-labelledby="{name}-title {name}-text"'
        f' font-family="{FACES}" fill="{INK}"><title id="{name}-title">{escape(title)}</title>'
        f'<desc id="{name}-text">{escape(describe)}</desc>{"".join(parts)}</svg>'
    )
