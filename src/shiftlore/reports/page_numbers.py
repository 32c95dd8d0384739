"""Numbers of the owner's page as the language writes them: money, distances, dates, so many of a hundred."""

import datetime
from dataclasses import dataclass

from shiftlore.words import Phrases

MONTHS = 12


@dataclass(frozen=True, slots=True)
class Numbers:
    """Writes numbers in one language and one currency."""

    phrases: Phrases
    currency: str

    def whole(self, value: float) -> str:
        """Write a whole number with its groups of three.

        Example:
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
