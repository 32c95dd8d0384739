"""K121 (warning): a finding that no cause or state leads to says nothing about any cause.

Passes:

    a finding fluid_smell_burnt, and a cause with leads_to: {fluid_smell_burnt: often}

Warned of, at the finding's id:

    a finding fluid_smell_burnt that stands in no leads_to
"""

from shiftlore.basics.problems import Problem
from shiftlore.knowledge.records import Knowledge
from shiftlore.knowledge.telling import place_of


def validate_orphan_findings(knowledge: Knowledge) -> list[Problem]:
    """Find findings that nothing explains; those that only fill in other answers are left out."""
    explained = {link.target for parent in knowledge.parents for link in parent.leads_to}
    return [
        Problem(
            place_of(knowledge, "finding", finding.id, "id"),
            "K121",
            f"Nothing leads to {finding.id}",
            "Add it to the leads_to of what brings it about, or delete it.",
            "warning",
        )
        for finding in knowledge.findings.values()
        if finding.id not in explained and not finding.stands_for
    ]
