"""K116: the strengths of one line's grades must not add up to more than 1.

Passes:

    leads_to: {fluid_colour: {dark: often, black: sometimes}}          # .65 + .35

Fails, at the target, or at `unexplained`:

    leads_to: {fluid_colour: {dark: always, black: usually}}           # .98 + .80
"""

from collections.abc import Mapping

from shiftlore.basics.problems import Mark, Problem
from shiftlore.knowledge.records import Knowledge, Strength
from shiftlore.knowledge.strengths import mean_of
from shiftlore.knowledge.telling import place_of

_ROUNDING = 1e-9


def validate_probabilities(knowledge: Knowledge) -> list[Problem]:
    """Find lines whose grades show more often than always."""
    found = [_of_one(link.mark, link.strengths) for parent in knowledge.parents for link in parent.leads_to]
    found += [_of_one(place_of(knowledge, "unexplained", child.id), child.unexplained) for child in knowledge.children]
    return [problem for problem in found if problem is not None]


def _of_one(mark: Mark, strengths: Mapping[str, Strength]) -> Problem | None:
    total = mean_of(strengths)
    if total <= 1 + _ROUNDING:
        return None
    return Problem(
        mark,
        "K116",
        f"The grades add up to {total:.2f}, more than always",
        "Choose weaker words, so that together they stay at 1 or below.",
    )
