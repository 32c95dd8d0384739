"""K102: whatever a cause or state leads to must be a state or a finding.

Passes:

    leads_to: {line_pressure_low: often}      # a state of that id is written

Fails, at the target:

    leads_to: {line_presure_low: often}       # Nearest: line_pressure_low
"""

from shiftlore.basics.problems import Problem
from shiftlore.knowledge.records import Knowledge
from shiftlore.knowledge.telling import tell_unknown


def validate_targets(knowledge: Knowledge) -> list[Problem]:
    """Find every line of `leads_to` that leads nowhere."""
    known = {**knowledge.states, **knowledge.findings}
    return [
        tell_unknown(knowledge, link.mark, "K102", "state or finding", link.target, known)
        for parent in knowledge.parents
        for link in parent.leads_to
        if link.target not in known
    ]
