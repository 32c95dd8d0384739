"""What labour, parts and consumables cost in this shop, and what an option costs the owner, from low to high."""

from collections.abc import Iterable, Sequence
from math import ceil

from shiftlore.basics.structs import Value
from shiftlore.compiling import CompiledCase
from shiftlore.knowledge import Check, FollowUp, Job, Knowledge, Need, Shop
from shiftlore.planning import SharedWork

MINUTES_PER_HOUR = 60.0


class PriceSpan(Value, frozen=True):
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
    found = [(knowledge.prices[need.price], need.count) for need in needs if need.price in knowledge.prices]
    return PriceSpan(
        sum((price.low * count for price, count in found), 0.0),
        sum((price.typical * count for price, count in found), 0.0),
        sum((price.high * count for price, count in found), 0.0),
    )


def list_follow_ups(knowledge: Knowledge, jobs: Sequence[Job]) -> list[FollowUp]:
    """List what must follow some jobs in one go, each once, and not what another of them does."""
    names = dict.fromkeys(name for job in jobs for name in job.follow_ups)
    done = {name for job in jobs for name in job.does if name not in job.follow_ups}
    return [knowledge.follow_ups[name] for name in names if name in knowledge.follow_ups and name not in done]


def price_follow_ups(knowledge: Knowledge, records: Iterable[FollowUp]) -> tuple[PriceSpan, float]:
    """Price of what is consumed by what must follow, and its labour minutes."""
    records = list(records)
    goods = price_needs(knowledge, [need for record in records for need in record.consumables])
    return goods, sum((record.minutes for record in records), 0.0)


def price_job(knowledge: Knowledge, shop: Shop, job: Job) -> tuple[float, float, PriceSpan]:
    """Price a job at its level, what must follow it left out.

    Returns: cost at typical prices, labour minutes, and the span of its parts and consumables.
    """
    parts = price_needs(knowledge, (*job.parts, *job.consumables))
    return price_labour(shop, job.minutes) + parts.typical, job.minutes, parts


def price_shared(knowledge: Knowledge, shop: Shop, jobs: Iterable[Job]) -> dict[str, SharedWork]:
    """Price all that jobs may share: what must follow them, and tools to be borrowed, by id."""
    jobs = list(jobs)
    names = dict.fromkeys(name for job in jobs for name in job.follow_ups if name in knowledge.follow_ups)
    tools = dict.fromkeys(tool for job in jobs for tool in job.tools if price_borrowing(shop, [job]))
    shared = {tool: SharedWork(tool, shop.borrow_cost) for tool in tools if tool not in shop.tools}
    for name in names:
        goods, minutes = price_follow_ups(knowledge, [knowledge.follow_ups[name]])
        shared[name] = SharedWork(name, price_labour(shop, minutes) + goods.typical, minutes)
    return shared


def price_check(knowledge: Knowledge, shop: Shop, check: Check) -> tuple[float, float, PriceSpan]:
    """Price a check at its level.

    Returns: cost at typical prices, labour minutes, and the span of what it consumes.
    """
    minutes = check.minutes + shop.check_minutes
    goods = price_needs(knowledge, check.consumables)
    return price_labour(shop, minutes) + goods.typical, minutes, goods


def price_borrowing(shop: Shop, acts: Iterable[Job | Check]) -> float:
    """Price of what must be borrowed or hired for some acts, each tool once."""
    return shop.borrow_cost * len({tool for act in acts for tool in act.tools} - set(shop.tools))


def price_waiting(shop: Shop, check: Check) -> float:
    """What it is worth that a vehicle stands for a check, or comes again: room, the owner's days, the appointment.

    A vehicle that is driven meanwhile is missed by nobody. The days of a job are told to the owner and have no price.
    """
    return shop.return_cost if check.comes_back else (shop.day_cost + shop.owner_day_cost) * check.days


HALF_DAY, HALF_DAY_MINUTES = 0.5, 240.0
"""Half a day at the bench, and the labour that goes into it."""


def count_days(jobs: Iterable[Job], minutes: float) -> float:
    """Give the days that a vehicle stands for jobs: the longest of theirs, parts to come included, or what labour takes."""
    return max(HALF_DAY * ceil(minutes / HALF_DAY_MINUTES), *(job.days for job in jobs), 0.0)


LABOUR_LOW, LABOUR_HIGH = 0.9, 1.25
"""Labour of a job from smooth to with a seized bolt, as parts of its typical time: judgement."""


class CostLine(Value, frozen=True):
    """One line of a price: `labour`, `access`, `parts`, `fluids`, `follow_ups`, `road_test` or `borrowed`."""

    what: str
    low: float
    typical: float
    high: float


class OptionCost(Value, frozen=True):
    """What an option costs, in the shop's currency, and what that is made of."""

    low: float
    typical: float
    high: float
    labour_minutes: float = 0.0
    lines: tuple[CostLine, ...] = ()


NO_COST = OptionCost(0.0, 0.0, 0.0)


class Pricer(Value, frozen=True):
    """Prices jobs and checks for one unit in one shop, from what is open now."""

    compiled: CompiledCase
    shop: Shop

    @property
    def knowledge(self) -> Knowledge:
        """The knowledge that holds the price book and the levels."""
        return self.compiled.knowledge

    def levels_of(self, records: Iterable[Job | Check]) -> frozenset[str]:
        """List every level that must be open for these acts."""
        return frozenset(name for record in records for name in self.knowledge.access_path(record.access))

    @property
    def opened(self) -> frozenset[str]:
        """The levels that are open as the vehicle stands now."""
        return frozenset(self.knowledge.access_path(self.compiled.case.access))

    def price_jobs(self, jobs: Sequence[str], opened: frozenset[str] | None = None) -> OptionCost:
        """Price jobs done in one go: each level is opened once, each follow-up done once, one road test.

        What is still closed is opened and everything closed; fluid lost and gaskets stand with the fluids.

        Args:
            opened: what is open before them; None takes the vehicle as it stands now.
        """
        records = [self.compiled.expansion.jobs[job] for job in jobs]
        opened = self.opened if opened is None else opened
        access_minutes, lost = 0.0, list[Need]()
        for name in sorted(self.levels_of(records) | opened):
            opening, closing = self._minutes_of(name)
            access_minutes += closing + (0.0 if name in opened else opening)
            lost += self.knowledge.access[name].consumables
        access = self._spread_labour(access_minutes)
        fluids = price_needs(self.knowledge, [*lost, *(need for record in records for need in record.consumables)])
        if not records:
            return _add_up({"access": access, "fluids": fluids}, access_minutes)
        own = sum(record.minutes for record in records)
        goods, after_minutes = price_follow_ups(self.knowledge, list_follow_ups(self.knowledge, records))
        lines = {
            "labour": self._spread_labour(own),
            "access": access,
            "parts": price_needs(self.knowledge, [need for record in records for need in record.parts]),
            "fluids": fluids,
            "follow_ups": self._spread_labour(after_minutes).plus(goods),
            "road_test": self._spread_labour(self.shop.road_test_minutes),
            "borrowed": self._borrow(records),
        }
        return _add_up(lines, own + access_minutes + after_minutes + self.shop.road_test_minutes)

    def price_checks(self, checks: Sequence[str]) -> OptionCost:
        """Price checks made in one go, opening included; closing is charged with what follows."""
        records = [self.compiled.expansion.checks[check] for check in checks]
        minutes = sum(record.minutes + self.shop.check_minutes for record in records)
        opening = sum(self._minutes_of(name)[0] for name in sorted(self.levels_of(records) - self.opened))
        lines = {
            "labour": self._spread_labour(minutes),
            "access": self._spread_labour(opening),
            "fluids": price_needs(self.knowledge, [need for record in records for need in record.consumables]),
            "borrowed": self._borrow(records),
        }
        return _add_up(lines, minutes + opening)

    def _borrow(self, records: Sequence[Job | Check]) -> PriceSpan:
        price = price_borrowing(self.shop, records)
        return PriceSpan(price, price, price)

    def _minutes_of(self, level: str) -> tuple[float, float]:
        """Give opening and closing minutes of a level on this unit."""
        return self.knowledge.access_minutes(self.compiled.unit.sheet, level)

    def _spread_labour(self, minutes: float) -> PriceSpan:
        typical = price_labour(self.shop, minutes)
        return PriceSpan(typical * LABOUR_LOW, typical, typical * LABOUR_HIGH)


def _add_up(lines: dict[str, PriceSpan], minutes: float) -> OptionCost:
    """Add lines up; those that cost nothing are left out."""
    kept = tuple(CostLine(what, span.low, span.typical, span.high) for what, span in lines.items() if span.high > 0)
    low, typical = sum(line.low for line in kept), sum(line.typical for line in kept)
    return OptionCost(low, typical, sum(line.high for line in kept), minutes, kept)
