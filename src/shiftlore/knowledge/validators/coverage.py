"""K120: every cause must show in at least one finding, by itself or through states.

Passes:

    leads_to: {line_pressure_low: often}      # and that state leads to findings

Fails, at the cause:

    leads_to: {}                              # nobody could ever find it
"""

from shiftlore.basics.problems import Problem
from shiftlore.knowledge.records import Cause, Knowledge
from shiftlore.knowledge.telling import place_of

_FOUND_BY_NOTHING = "none"


def validate_silent_causes(knowledge: Knowledge) -> list[Problem]:
    """Find causes without any way to a finding."""
    return [
        Problem(
            place_of(knowledge, "cause", cause.id, "id"),
            "K120",
            f"Nothing that can be observed follows from {cause.id}",
            "Add a finding, or a state that shows in one, to leads_to.",
        )
        for cause in knowledge.causes.values()
        if cause.area != _FOUND_BY_NOTHING and not _shows(cause, knowledge)
    ]


def _shows(cause: Cause, knowledge: Knowledge) -> bool:
    waiting = [link.target for link in cause.leads_to]
    passed: set[str] = set()
    while waiting:
        target = waiting.pop()
        if target in knowledge.findings:
            return True
        if target in knowledge.states and target not in passed:
            passed.add(target)
            waiting += [link.target for link in knowledge.states[target].leads_to]
    return False
