"""K123 (warning): a cause that no job cures can be found but never offered to the owner.

Passes:

    a cause worn_pump, and a job with cures: {worn_pump: nearly_always}

Warned of, at the cause's id:

    a cause worn_pump that stands in no cures
"""

from shiftlore.basics.problems import Problem
from shiftlore.knowledge.records import Knowledge
from shiftlore.knowledge.telling import place_of

_NEEDS_NO_CURE = "none"


def validate_uncured_causes(knowledge: Knowledge) -> list[Problem]:
    """Find causes that no job cures; normal behaviour needs none."""
    cured = {cure.cause for job in knowledge.jobs.values() for cure in job.cures}
    return [
        Problem(
            place_of(knowledge, "cause", cause.id, "id"),
            "K123",
            f"No job cures {cause.id}",
            "Add it to the cures of a job.",
            "warning",
        )
        for cause in knowledge.causes.values()
        if cause.id not in cured and cause.area != _NEEDS_NO_CURE
    ]
