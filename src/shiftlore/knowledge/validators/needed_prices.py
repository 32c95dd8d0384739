"""K111: every part and consumable must stand in the price book.

Passes:

    consumables: [{price: pan_gasket, count: 1}]      # prices.yaml has pan_gasket

Fails, at the price:

    consumables: [{price: pan_gaskett, count: 1}]     # Nearest: pan_gasket
"""

from collections.abc import Iterator

from shiftlore.basics.problems import Problem
from shiftlore.knowledge.records import Knowledge, Need
from shiftlore.knowledge.telling import tell_unknown


def validate_needed_prices(knowledge: Knowledge) -> list[Problem]:
    """Find parts and consumables that the price book does not have."""
    return [
        tell_unknown(knowledge, need.mark, "K111", "price", need.price, knowledge.prices)
        for need in _needs(knowledge)
        if need.price and need.price not in knowledge.prices
    ]


def _needs(knowledge: Knowledge) -> Iterator[Need]:
    for check in knowledge.checks.values():
        yield from check.consumables
    for job in knowledge.jobs.values():
        yield from (*job.parts, *job.consumables)
    for access in knowledge.access.values():
        yield from access.consumables
    for follow_up in knowledge.follow_ups.values():
        yield from follow_up.consumables
