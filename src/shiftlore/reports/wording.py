"""Small words shared by all texts: percentages, money, minutes, lines that fit the terminal."""

import textwrap
from collections.abc import Callable

WIDTH = 80
NARROWEST, WIDEST = 50, 100
_TIED = "\u00a0"
"""Keeps a percent sign on the line of its number."""

PROCEDURE_FIRST = "The maker's procedure and the local rules come first."

Mark = Callable[[str], str]
"""Sets words off: bold, a colour, or nothing."""


def leave_plain(text: str) -> str:
    """Set nothing off: for a pipe, a file, a terminal without colours."""
    return text


def say_percent(p: float) -> str:
    """Write a probability as people say it: `34 %`, `under 1 %`, `over 99 %`.

    Example:
        >>> say_percent(0.342), say_percent(0.004), say_percent(0.9999)
        ('34 %', 'under 1 %', 'over 99 %')
    """
    if p < 0.005:
        return "under 1 %"
    if p > 0.995:
        return "over 99 %"
    return f"{p * 100:.0f} %"


def say_money(amount: float, currency: str) -> str:
    """Write an amount in whole units of the currency: `EUR 1,240`.

    Example:
        >>> say_money(1239.6, "EUR")
        'EUR 1,240'
    """
    return f"{currency} {amount:,.0f}"


def say_minutes(minutes: float) -> str:
    """Write a working time: `25 min`, `1 h`, `2 h 30 min`.

    Example:
        >>> say_minutes(25), say_minutes(60), say_minutes(150)
        ('25 min', '1 h', '2 h 30 min')
    """
    whole = round(minutes)
    hours, rest = divmod(whole, 60)
    if hours == 0:
        return f"{rest} min"
    return f"{hours} h" if rest == 0 else f"{hours} h {rest} min"


def say_km(distance_km: float) -> str:
    """Write a distance: `182,000 km`."""
    return f"{distance_km:,.0f} km"


def wrap_lines(text: str, indent: str = "", first: str | None = None, width: int = WIDTH) -> list[str]:
    """Break a text into lines of the terminal's width.

    Args:
        indent: before every line but the first.
        first: before the first line; None takes `indent`.
    """
    start = indent if first is None else first
    kept = text.replace(" %", _TIED + "%")
    lines = textwrap.wrap(kept, width, initial_indent=start, subsequent_indent=indent)
    return [line.replace(_TIED, " ") for line in lines] or [start.rstrip()]


def clamp_width(columns: int) -> int:
    """Keep the line length readable whatever the window says."""
    return min(max(columns, NARROWEST), WIDEST)
