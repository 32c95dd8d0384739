"""Small words shared by all texts: percentages, money, minutes, lines that fit, numbers as a language writes them."""

import datetime
import textwrap
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

from shiftlore.basics.structs import Value

if TYPE_CHECKING:
    from shiftlore.words import Phrases

WIDTH = 80
NARROWEST, WIDEST = 40, 100
MONTHS = 12
LETTERS = "ABCDEFGHIJ"
"""What the options are called."""

_TIED = "\u00a0"
"""Keeps a percent sign on the line of its number."""

PROCEDURE_FIRST = "The maker's procedure and the local rules come first."
_OTHERS_WORK = "back to whoever did the work after which it began ({work}), for what that left is theirs to put right"
_WARRANTY = "ask the maker's warranty, which may still hold and which work elsewhere may end"
READ_LOG = "shiftlore trace LOG --into CASE enters what the recording shows."

Mark = Callable[[str], str]
"""Sets words off: bold, a colour, or nothing."""


def leave_plain(text: str) -> str:
    """Set nothing off: for a pipe, a file, a terminal without colours."""
    return text


def say_first(others_work: Sequence[str], warranty: bool) -> str:
    """Say whom the vehicle goes to before anything is paid for; "" where nobody answers for it.

    Example:
        >>> say_first([], True).split(",")[0], say_first([], False)
        ("First: ask the maker's warranty", '')
    """
    back = _OTHERS_WORK.format(work="; ".join(others_work)) if others_work else ""
    ways = "; and ".join(way for way in (back, _WARRANTY if warranty else "") if way)
    return f"First: {ways}. What follows is for when that fails." if ways else ""


def say_percent(p: float) -> str:
    """Write a probability as people say it: `34 %`, `under 1 %`, `over 99 %`.

    Example:
        >>> say_percent(0.342), say_percent(0.004), say_percent(0.9999)
        ('34 %', 'under 1 %', 'over 99 %')
    """
    if p < 0.005:
        return "under 1 %"
    return "over 99 %" if p > 0.995 else f"{p * 100:.0f} %"


def say_money(amount: float, currency: str) -> str:
    """Write an amount in whole units of the currency: `EUR 1,240`.

    Example:
        >>> say_money(1239.6, "EUR")
        'EUR 1,240'
    """
    return f"{currency} {amount:,.0f}"


def say_price_basis(invented: Sequence[str], tax_percent: float) -> str:
    """Say what of the prices is an example only, and which tax is in them; "" where there is nothing to say.

    Example:
        >>> say_price_basis(["labour", "parts"], 0)
        'Prices of labour and parts are examples until you set yours: shiftlore shop.'
        >>> say_price_basis([], 20)
        'Prices include 20 % tax.'
    """
    told = f"Prices of {' and '.join(invented)} are examples until you set yours: shiftlore shop." if invented else ""
    return " ".join(text for text in (told, f"Prices include {tax_percent:g} % tax." if tax_percent else "") if text)


def say_minutes(minutes: float) -> str:
    """Write a working time: `25 min`, `1 h`, `2 h 30 min`.

    Example:
        >>> say_minutes(25), say_minutes(60), say_minutes(150)
        ('25 min', '1 h', '2 h 30 min')
    """
    hours, rest = divmod(round(minutes), 60)
    return " ".join([f"{hours} h"] * (hours > 0) + [f"{rest} min"] * (rest > 0 or hours == 0))


def say_km(distance_km: float) -> str:
    """Write a distance: `182,000 km`."""
    return f"{distance_km:,.0f} km"


def wrap_banner(says: str, width: int, strong: Mark) -> list[str]:
    """Write what goes before all else, set off, and an empty line behind it; nothing for ""."""
    return [*map(strong, wrap_lines(says, width=width)), ""] if says else []


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


def render_help(lines: Sequence[str], width: int = WIDTH) -> str:
    """Write what can be typed at a prompt."""
    return "\n".join(line for text in lines for line in wrap_lines(text, "    ", "  - ", width))


def clamp_width(columns: int) -> int:
    """Keep the line length readable whatever the window says."""
    return min(max(columns, NARROWEST), WIDEST)


class Numbers(Value, frozen=True):
    """Writes numbers in one language and one currency."""

    phrases: "Phrases"
    currency: str

    def whole(self, value: float) -> str:
        """Write a whole number with its groups of three.

        Example:
            >>> from shiftlore.words import Phrases
            >>> Numbers(Phrases("de", {"formats": {"thousands": "."}}), "EUR").whole(12345.6)
            '12.346'
        """
        return f"{value:,.0f}".replace(",", self.phrases.word("thousands", "formats"))

    def money(self, value: float) -> str:
        """Write an amount in whole units, with the currency's sign or code where the language puts it."""
        sign = self.phrases.word(self.currency, "formats")
        if sign == self.currency and self.phrases.word("money", "formats").startswith("{sign}"):
            sign += "\u00a0"
        text = self.phrases.fill("money", "formats", sign=sign, amount=self.whole(value))
        return text.replace(" ", "\u00a0")

    def km(self, value: float) -> str:
        """Write a distance."""
        return self.phrases.fill("km", "formats", km=self.whole(value)).replace(" ", "\u00a0")

    def date(self, day: datetime.date) -> str:
        """Write a date with the month's name."""
        names = self.phrases.word("months", "formats").split()
        month = names[day.month - 1] if len(names) == MONTHS else str(day.month)
        return self.phrases.fill("date", "formats", day=str(day.day), month=month, year=str(day.year))

    def decimal(self, value: float) -> str:
        """Write a short decimal, such as days."""
        return f"{value:g}".replace(".", self.phrases.word("decimal", "formats"))


def share_hundred(shares: Sequence[float]) -> list[int]:
    """Round shares that make up a whole so that they still add up to 100.

    Source: the method of largest remainders (Hare and Niemeyer), as seats are shared out.
    Example:
        >>> share_hundred([0.455, 0.325, 0.22])
        [46, 32, 22]
    """
    whole = sum(shares) or 1.0
    exact = [100 * share / whole for share in shares]
    rounded = [int(value) for value in exact]
    by_remainder = sorted(range(len(exact)), key=lambda i: rounded[i] - exact[i])
    for i in by_remainder[: 100 - sum(rounded) if shares else 0]:
        rounded[i] += 1
    return rounded


def of_hundred(p: float) -> str:
    """Say a probability as so many of a hundred.

    People understand it better than percentages (Gigerenzer and Hoffrage 1995).
    Example:
        >>> of_hundred(0.53), of_hundred(0.004), of_hundred(0.999), of_hundred(0)
        ('53', '<1', '>99', '0')
    """
    if p <= 0.0 or p >= 1.0:
        return f"{p * 100:.0f}"
    if p < 0.005:
        return "<1"
    return ">99" if p > 0.995 else f"{p * 100:.0f}"
