"""K128: a general finding must name known particular ones, and the rest of a template a known template.

Passes:

    findings:
    - {id: slips_any, general_of: [slips], ...}      # slips is a finding, one per gear
    - {id: solenoid_code_other, rest_of: solenoid_code, ...}

Fails, at the id that no finding carries, or that is no template:

    findings:
    - {id: slips_any, general_of: [slip], ...}
"""

from shiftlore.basics.problems import Problem
from shiftlore.knowledge.records import Knowledge
from shiftlore.knowledge.telling import place_of, tell_unknown, unknown_members


def validate_general_findings(knowledge: Knowledge) -> list[Problem]:
    """Find general findings of which nothing particular is known."""
    problems = []
    for finding in knowledge.findings.values():
        owner, others = ("finding", finding.id), [key for key in knowledge.findings if key != finding.id]
        problems += unknown_members(knowledge, owner, "general_of", finding.general_of, "K128", "finding", others)
        templates = [key for key in others if knowledge.findings[key].scope.each is not None]
        if finding.rest_of is not None and finding.rest_of not in templates:
            mark = place_of(knowledge, *owner, "rest_of")
            problems.append(tell_unknown(knowledge, mark, "K128", "finding that is a template", finding.rest_of, templates))
    return problems
