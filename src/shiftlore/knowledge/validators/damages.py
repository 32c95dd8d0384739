"""K105: what a fault damages when driven on must be causes.

Passes:

    driven_on: {severity: gets_worse, says: It burns., damages: [contaminated_valve_body]}

Fails, at the id:

    driven_on: {severity: gets_worse, says: It burns., damages: [dirty_valve_body]}
"""

from shiftlore.basics.problems import Problem
from shiftlore.knowledge.records import Knowledge
from shiftlore.knowledge.telling import unknown_members


def validate_damages(knowledge: Knowledge) -> list[Problem]:
    """Find damages that no cause describes."""
    problems: list[Problem] = []
    for cause in knowledge.causes.values():
        owner = ("driven_on", cause.id)
        problems += unknown_members(
            knowledge, owner, "damages", cause.driven_on.damages, "K105", "cause", knowledge.causes
        )
    return problems
