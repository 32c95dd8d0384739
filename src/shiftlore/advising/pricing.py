"""What labour, parts and consumables cost in this shop."""

from collections.abc import Iterable
from dataclasses import dataclass

from shiftlore.knowledge import Job, Knowledge, Need, Shop

MINUTES_PER_HOUR = 60.0


@dataclass(frozen=True, slots=True)
class PriceSpan:
    """A price from low to high, in the shop's currency."""

    low: float = 0.0
    typical: float = 0.0
    high: float = 0.0

    def plus(self, other: "PriceSpan") -> "PriceSpan":
        """Both together."""
        return PriceSpan(self.low + other.low, self.typical + other.typical, self.high + other.high)


def price_labour(shop: Shop, minutes: float) -> float:
    """Cost of hands-on labour."""
    return shop.labour_per_hour * minutes / MINUTES_PER_HOUR


def price_needs(knowledge: Knowledge, needs: Iterable[Need]) -> PriceSpan:
    """Price of parts or consumables; what the price book does not hold counts nothing."""
    span = PriceSpan()
    for need in needs:
        price = knowledge.prices.get(need.price)
        if price is not None:
            more = PriceSpan(price.low * need.count, price.typical * need.count, price.high * need.count)
            span = span.plus(more)
    return span


def price_job(knowledge: Knowledge, shop: Shop, job: Job) -> tuple[float, float, PriceSpan]:
    """Price a job at its level, with everything that must follow it.

    Returns: cost at typical prices, labour minutes, and the span of its parts and consumables.
    """
    minutes = job.minutes
    parts = price_needs(knowledge, (*job.parts, *job.consumables))
    for name in job.follow_ups:
        follow_up = knowledge.follow_ups.get(name)
        if follow_up is not None:
            minutes += follow_up.minutes
            parts = parts.plus(price_needs(knowledge, follow_up.consumables))
    return price_labour(shop, minutes) + parts.typical, minutes, parts
