"""K125: a price must go up from low over typical to high.

Passes:

    prices:
    - {id: pan_gasket, label: Pan gasket, low: 8, typical: 15, high: 30}

Fails, at the price's id:

    prices:
    - {id: pan_gasket, label: Pan gasket, low: 18, typical: 15, high: 30}
"""

from shiftlore.basics.problems import Problem
from shiftlore.knowledge.records import Knowledge
from shiftlore.knowledge.telling import place_of


def validate_price_order(knowledge: Knowledge) -> list[Problem]:
    """Find prices that are out of order."""
    return [
        Problem(
            place_of(knowledge, "price", price.id, "id"),
            "K125",
            f"{price.id} costs {price.low:g}, {price.typical:g}, {price.high:g}, which is out of order",
            "Write low, then typical, then high, each no less than the one before.",
        )
        for price in knowledge.prices.values()
        if not price.low <= price.typical <= price.high
    ]
