"""K122: a check must reveal something.

Passes:

    checks:
    - {id: pan_drop, reveals: [pan_debris], ...}

Fails, at the check's id:

    checks:
    - {id: pan_drop, reveals: [], ...}
"""

from shiftlore.basics.problems import Problem
from shiftlore.knowledge.records import Knowledge
from shiftlore.knowledge.telling import place_of


def validate_idle_checks(knowledge: Knowledge) -> list[Problem]:
    """Find checks that reveal no finding."""
    return [
        Problem(
            place_of(knowledge, "check", check.id, "id"),
            "K122",
            f"The check {check.id} reveals nothing",
            "Add the findings that it answers: reveals: [...].",
        )
        for check in knowledge.checks.values()
        if not check.reveals
    ]
