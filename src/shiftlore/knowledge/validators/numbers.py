"""Numbers that must agree with each other."""

from collections.abc import Mapping

from shiftlore.basics.problems import Mark, Problem
from shiftlore.knowledge.places import place_of
from shiftlore.knowledge.records import Knowledge, Strength
from shiftlore.knowledge.strengths import mean_of

_ROUNDING = 1e-9
_SHARES_ROUNDING = 0.01


def validate_probabilities(knowledge: Knowledge) -> list[Problem]:
    """K116: the strengths of one line's grades must not add up to more than 1.

    Passes:

        leads_to: {fluid_colour: {dark: often, black: sometimes}}          # .65 + .35

    Fails, at the target, or at `unexplained`:

        leads_to: {fluid_colour: {dark: always, black: usually}}           # .98 + .80
    """
    found = [_over_one(link.mark, link.strengths) for parent in knowledge.parents for link in parent.leads_to]
    found += [_over_one(place_of(knowledge, "unexplained", one.id), one.unexplained) for one in knowledge.children]
    return [problem for problem in found if problem is not None]


def _over_one(mark: Mark, strengths: Mapping[str, Strength]) -> Problem | None:
    total = mean_of(strengths)
    if total <= 1 + _ROUNDING:
        return None
    advice = "Choose weaker words, so that together they stay at 1 or below."
    return Problem(mark, "K116", f"The grades add up to {total:.2f}, more than always", advice)


def validate_shares(knowledge: Knowledge) -> list[Problem]:
    """K124: the shares of a background's answers must add up to 1, to within a hundredth.

    Passes:

        backgrounds:
        - {id: service, answers: {in_time: {share: 0.6}, never: {share: 0.4}}}

    Fails, at the answers:

        backgrounds:
        - {id: service, answers: {in_time: {share: 0.6}, never: {share: 0.6}}}
    """
    totals = {background.id: sum(background.shares.values()) for background in knowledge.backgrounds.values()}
    return [
        Problem(
            place_of(knowledge, "background", background_id, "answers"),
            "K124",
            f"The shares of {background_id} add up to {total:.2f}",
            "Change them so that they add up to 1.",
        )
        for background_id, total in totals.items()
        if abs(total - 1) > _SHARES_ROUNDING + _ROUNDING
    ]


def validate_price_order(knowledge: Knowledge) -> list[Problem]:
    """K125: a price must go up from low over typical to high.

    Passes:

        prices:
        - {id: filter_kit, label: Filter kit, low: 8, typical: 15, high: 30}

    Fails, at the price's id:

        prices:
        - {id: filter_kit, label: Filter kit, low: 18, typical: 15, high: 30}
    """
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
