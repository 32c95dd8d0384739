"""K103, K104: a look-alike must be another cause, and what tells the two apart must be findings.

Passes:

    looks_like:
      low_line_pressure: {because: It also spoils reverse., tells_apart: [reverse_slips]}

Fails, at the cause or the finding that nothing carries, and where a cause looks like itself:

    looks_like:
      low_line_presure: {because: It also spoils reverse., tells_apart: [reverse_slip]}
"""

from shiftlore.basics.problems import Problem
from shiftlore.knowledge.records import Cause, Knowledge
from shiftlore.knowledge.telling import tell_unknown, unknown_members


def validate_look_alikes(knowledge: Knowledge) -> list[Problem]:
    """Find look-alikes that are no causes, and tell-apart findings that are none."""
    return [problem for cause in knowledge.causes.values() for problem in _of_one(cause, knowledge)]


def _of_one(cause: Cause, knowledge: Knowledge) -> list[Problem]:
    problems = []
    for other in cause.looks_like:
        if other.cause not in knowledge.causes:
            problems.append(tell_unknown(knowledge, other.mark, "K103", "cause", other.cause, knowledge.causes))
        elif other.cause == cause.id:
            problems.append(
                Problem(other.mark, "K103", "A cause cannot look like itself", "Name the cause it is mistaken for.")
            )
        owner = ("look-alike", f"{cause.id}/{other.cause}")
        problems += unknown_members(
            knowledge, owner, "tells_apart", other.tells_apart, "K104", "finding", knowledge.findings
        )
    return problems
