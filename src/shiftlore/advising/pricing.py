"""What labour, parts and consumables cost in this shop, and what an option costs the owner, from low to high."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from shiftlore.compiling import CompiledCase
from shiftlore.knowledge import Check, Job, Knowledge, Need, Shop

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


LABOUR_LOW, LABOUR_HIGH = 0.9, 1.25
"""Labour of a job from smooth to with a seized bolt, as parts of its typical time: judgement."""


@dataclass(frozen=True, slots=True)
class CostLine:
    """One line of a price: `labour`, `access`, `parts`, `fluids`, `follow_ups` or `road_test`."""

    what: str
    low: float
    typical: float
    high: float


@dataclass(frozen=True, slots=True)
class OptionCost:
    """What an option costs, in the shop's currency, and what that is made of."""

    low: float
    typical: float
    high: float
    labour_minutes: float = 0.0
    lines: tuple[CostLine, ...] = ()


NO_COST = OptionCost(0.0, 0.0, 0.0)


@dataclass(frozen=True)
class Pricer:
    """Prices jobs and checks for one unit in one shop, from what is open now."""

    compiled: CompiledCase
    shop: Shop

    @property
    def knowledge(self) -> Knowledge:
        """The knowledge that holds the price book and the levels."""
        return self.compiled.knowledge

    def path_to(self, level: str) -> tuple[str, ...]:
        """List a level and all that must come off before it, innermost first."""
        return self.knowledge.access_path(level)

    def levels_of(self, records: Iterable[Job | Check]) -> frozenset[str]:
        """List every level that must be open for these acts."""
        return frozenset(name for record in records for name in self.path_to(record.access))

    @property
    def opened(self) -> frozenset[str]:
        """The levels that are open as the vehicle stands now."""
        return frozenset(self.path_to(self.compiled.case.access))

    def price_access(self, levels: Iterable[str], opened: frozenset[str] | None = None) -> tuple[PriceSpan, float]:
        """Price opening what is still closed and closing everything; fluid lost and gaskets are counted at closing.

        Returns: the span, and the minutes.
        """
        opened = self.opened if opened is None else opened
        wanted = frozenset(levels)
        minutes, fluids = 0.0, PriceSpan()
        for name in sorted(wanted | opened):
            opening, closing = self._minutes_of(name)
            minutes += closing + (0.0 if name in opened else opening)
            fluids = fluids.plus(price_needs(self.knowledge, self.knowledge.access[name].consumables))
        return self._spread_labour(minutes).plus(fluids), minutes

    def price_jobs(self, jobs: Sequence[str], opened: frozenset[str] | None = None) -> OptionCost:
        """Price jobs done in one go: each level is opened once, each follow-up done once, one road test.

        Args:
            opened: what is open before them; None takes the vehicle as it stands now.
        """
        records = [self.compiled.expansion.jobs[job] for job in jobs]
        access, access_minutes = self.price_access(self.levels_of(records), opened)
        if not records:
            return _add_up({"access": access}, access_minutes)
        own = sum(record.minutes for record in records)
        parts, fluids = PriceSpan(), PriceSpan()
        for record in records:
            parts = parts.plus(price_needs(self.knowledge, record.parts))
            fluids = fluids.plus(price_needs(self.knowledge, record.consumables))
        after, after_minutes = self._price_follow_ups(records)
        test = self._spread_labour(self.shop.road_test_minutes)
        lines = {
            "labour": self._spread_labour(own),
            "access": access,
            "parts": parts,
            "fluids": fluids,
            "follow_ups": after,
            "road_test": test,
        }
        return _add_up(lines, own + access_minutes + after_minutes + self.shop.road_test_minutes)

    def price_checks(self, checks: Sequence[str]) -> OptionCost:
        """Price checks made in one go, opening included; closing is charged with what follows."""
        records = [self.compiled.expansion.checks[check] for check in checks]
        minutes, fluids = 0.0, PriceSpan()
        for record in records:
            minutes += record.minutes
            fluids = fluids.plus(price_needs(self.knowledge, record.consumables))
        opening = sum(self._minutes_of(name)[0] for name in sorted(self.levels_of(records) - self.opened))
        lines = {
            "labour": self._spread_labour(minutes),
            "access": self._spread_labour(opening),
            "fluids": fluids,
        }
        return _add_up(lines, minutes + opening)

    def _price_follow_ups(self, records: Iterable[Job]) -> tuple[PriceSpan, float]:
        minutes, span = 0.0, PriceSpan()
        for name in dict.fromkeys(name for record in records for name in record.follow_ups):
            follow_up = self.knowledge.follow_ups.get(name)
            if follow_up is not None:
                minutes += follow_up.minutes
                span = span.plus(price_needs(self.knowledge, follow_up.consumables))
        return self._spread_labour(minutes).plus(span), minutes

    def _minutes_of(self, level: str) -> tuple[float, float]:
        """Give opening and closing minutes of a level on this unit."""
        return self.knowledge.access_minutes(self.knowledge.sheets[self.compiled.case.unit], level)

    def _spread_labour(self, minutes: float) -> PriceSpan:
        typical = price_labour(self.shop, minutes)
        return PriceSpan(typical * LABOUR_LOW, typical, typical * LABOUR_HIGH)


def _add_up(lines: dict[str, PriceSpan], minutes: float) -> OptionCost:
    """Add lines up; those that cost nothing are left out."""
    kept = tuple(CostLine(what, span.low, span.typical, span.high) for what, span in lines.items() if span.high > 0)
    low, typical, high = (
        sum(line.low for line in kept),
        sum(line.typical for line in kept),
        sum(line.high for line in kept),
    )
    return OptionCost(low, typical, high, minutes, kept)
