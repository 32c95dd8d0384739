"""K108: a trouble code must answer a known finding, and name an instance just where that is a template.

Passes:

    codes:
    - {code: P0732, means: Gear 2 has the wrong ratio, finding: ratio_code_gear, instance: "2"}

Fails, at the finding, or at the code whose instance is missing or has no place:

    codes:
    - {code: P0732, means: Gear 2 has the wrong ratio, finding: ratio_code_gear}
"""

from shiftlore.basics.problems import Problem
from shiftlore.knowledge.records import Code, Knowledge
from shiftlore.knowledge.telling import place_of, tell_unknown
from shiftlore.sheets import SOLENOID_TYPES


def validate_code_findings(knowledge: Knowledge) -> list[Problem]:
    """Find codes that answer nothing, or do not say which instance they speak of."""
    found = [_of_one(code, knowledge) for code in knowledge.codes.values()]
    return [problem for problem in found if problem is not None]


def _of_one(code: Code, knowledge: Knowledge) -> Problem | None:
    finding = knowledge.findings.get(code.finding)
    if finding is None:
        mark = place_of(knowledge, "code", code.code, "finding")
        return tell_unknown(knowledge, mark, "K108", "finding", code.finding, knowledge.findings)
    for name in code.sole_of:
        if name not in SOLENOID_TYPES:
            mark = place_of(knowledge, "code", code.code, "sole_of", name)
            return tell_unknown(knowledge, mark, "K108", "type of solenoid", name, SOLENOID_TYPES)
    each = finding.scope.each
    if each is None and code.instance is not None:
        return Problem(
            code.mark,
            "K108",
            f"{code.finding} is one finding, so {code.code} can name no instance",
            "Take instance out.",
        )
    if each is not None and code.instance is None:
        return Problem(
            code.mark,
            "K108",
            f"{code.code} does not say which {each.replace('_', ' ')} it speaks of",
            "Add instance: ..., in quotes.",
        )
    return None
