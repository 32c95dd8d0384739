"""K124: the shares of a background's answers must add up to 1, to within a hundredth.

Passes:

    answers: {in_time: {share: 0.6}, never: {share: 0.4}}

Fails, at the answers:

    answers: {in_time: {share: 0.6}, never: {share: 0.6}}
"""

from shiftlore.basics.problems import Problem
from shiftlore.knowledge.records import Knowledge
from shiftlore.knowledge.telling import place_of

_ROUNDING = 0.01


def validate_shares(knowledge: Knowledge) -> list[Problem]:
    """Find backgrounds whose answers do not share out all complaints."""
    problems = []
    for background in knowledge.backgrounds.values():
        total = sum(background.shares.values())
        if abs(total - 1) > _ROUNDING + 1e-9:
            problems.append(
                Problem(
                    place_of(knowledge, "background", background.id, "answers"),
                    "K124",
                    f"The shares of {background.id} add up to {total:.2f}",
                    "Change them so that they add up to 1.",
                )
            )
    return problems
