"""What a shop asks, has at hand and prints of itself, and the entries of its price book."""

from collections.abc import Iterable
from dataclasses import dataclass

from shiftlore.basics.problems import Mark
from shiftlore.knowledge.records import NOWHERE


@dataclass(frozen=True, slots=True)
class Price:
    """One line of the price book, in the shop's currency."""

    id: str
    label: str
    low: float
    typical: float
    high: float
    mark: Mark = NOWHERE


@dataclass(frozen=True, slots=True)
class Shop:
    """Labour rate, currency, tools at hand and what the shop prints of itself.

    Args:
        invented: what of its prices is an example only: ``labour``, ``parts``.
        tax_percent: the tax that rate and prices include; 0 where they are net.
        check_minutes: what every check takes beside its own time: the tool fetched, the result written down.
        day_cost, owner_day_cost: a day on which a vehicle stands in the shop, and on which its owner is without it.
        return_cost: one more appointment that was agreed beforehand; a comeback costs `comeback_cost`.
        tools_borrowed: what the shop can borrow or hire, each at `borrow_cost`.
    """

    name: str
    address: str
    logo: str
    currency: str
    locale: str
    labour_per_hour: float
    tools: tuple[str, ...]
    road_test_minutes: float
    comeback_cost: float
    quote_days: int
    mark: Mark = NOWHERE
    invented: tuple[str, ...] = ()
    tax_percent: float = 0.0
    check_minutes: float = 0.0
    day_cost: float = 0.0
    owner_day_cost: float = 0.0
    return_cost: float = 0.0
    borrow_cost: float = 0.0
    tools_borrowed: tuple[str, ...] = ()

    def has(self, tools: Iterable[str]) -> bool:
        """Tell whether all of some tools are at hand or can be borrowed."""
        return {*self.tools, *self.tools_borrowed}.issuperset(tools)
