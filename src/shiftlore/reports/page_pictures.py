"""The two pictures of the owner's page, as SVG: likely causes as bars, and price against chance.

Nothing is told by colour alone: every bar and every point carries its text, and the same numbers stand in words.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from html import escape

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
    return _wrap("bars", BAR_WIDTH, height, title, describe, parts)


def _fit_text(label: str) -> str:
    """Give the size in which a label fits beside its bar; letters are taken as 0.56 of their size wide."""
    room = (BAR_TEXT - 8) / max(0.56 * len(label), 1.0)
    return f"{min(LABEL_SIZE, room):.1f}"


def draw_points(
    points: Sequence[Point], title: str, describe: str, axis_price: str, axis_chance: str, price_texts: dict[float, str]
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
    return _wrap("points", POINT_WIDTH, POINT_HEIGHT, title, describe, parts)


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
        parts.append(f'<line x1="{low:.1f}" y1="{y:.1f}" x2="{high:.1f}" y2="{y:.1f}" stroke="{SOFT}" stroke-width="2"/>')
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


def _wrap(name: str, width: int, height: int, title: str, describe: str, parts: Sequence[str]) -> str:
    return (
        f'<svg viewBox="0 0 {width} {height}" role="img" aria-labelledby="{name}-title {name}-text"'
        f' font-family="{FACES}" fill="{INK}"><title id="{name}-title">{escape(title)}</title>'
        f'<desc id="{name}-text">{escape(describe)}</desc>{"".join(parts)}</svg>'
    )
