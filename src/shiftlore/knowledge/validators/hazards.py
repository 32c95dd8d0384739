"""K106: what raises a hazard must be a background and one of its answers.

Passes:

    raised_by: {usage: {towing: 1.8}}         # backgrounds.yaml has usage with the answer towing

Fails, at the background or the answer:

    raised_by: {usage: {tow: 1.8}}            # Nearest: towing
"""

from shiftlore.basics.problems import Problem
from shiftlore.knowledge.records import Knowledge, Raise
from shiftlore.knowledge.telling import place_of, tell_unknown


def validate_hazards(knowledge: Knowledge) -> list[Problem]:
    """Find hazards that speak of unknown backgrounds or answers."""
    raises = [raised for record in knowledge.parents for raised in record.raised_by]
    raises += [raised for finding in knowledge.findings.values() for raised in finding.raised_by]
    found = [_of_one(raised, knowledge) for raised in raises]
    return [problem for problem in found if problem is not None]


def _of_one(raised: Raise, knowledge: Knowledge) -> Problem | None:
    background = knowledge.backgrounds.get(raised.background)
    if background is None:
        mark = place_of(knowledge, "raised_by", str(raised.mark))
        return tell_unknown(knowledge, mark, "K106", "background", raised.background, knowledge.backgrounds)
    if raised.grade not in background.shares:
        kind = f"answer of {raised.background}"
        return tell_unknown(knowledge, raised.mark, "K106", kind, raised.grade, background.shares)
    return None
