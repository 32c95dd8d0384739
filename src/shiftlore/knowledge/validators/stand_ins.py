"""K107: an answer that stands for others must name its own grade, known groups and known findings.

Passes:

    stands_for:
    - {answer: "yes", groups: [codes_circuit], answered: "no"}     # findings of that group exist

Fails, at the group, the finding, or the answer that no grade matches:

    stands_for:
    - {answer: maybe, groups: [codes_cirquit], answered: "no"}
"""

from shiftlore.basics.problems import Problem
from shiftlore.knowledge.records import Finding, Knowledge, Stand
from shiftlore.knowledge.telling import place_of, unknown_members
from shiftlore.reading import known_words, quoted


def validate_stand_ins(knowledge: Knowledge) -> list[Problem]:
    """Find stand-ins that fill in nothing, or an answer that cannot be given."""
    groups = {finding.group for finding in knowledge.findings.values()}
    return [
        problem
        for finding in knowledge.findings.values()
        for stand in finding.stands_for
        for problem in _of_one(finding, stand, groups, knowledge)
    ]


def _of_one(finding: Finding, stand: Stand, groups: set[str], knowledge: Knowledge) -> list[Problem]:
    owner = ("stands_for", str(stand.mark))
    problems = unknown_members(knowledge, owner, "groups", stand.groups, "K107", "group of findings", groups)
    problems += unknown_members(knowledge, owner, "findings", stand.findings, "K107", "finding", knowledge.findings)
    if stand.answer and stand.answer not in finding.grades:
        what = f"{quoted(stand.answer)} is no grade of {finding.id}"
        mark = place_of(knowledge, *owner, "answer")
        problems.append(Problem(mark, "K107", what, known_words(stand.answer, finding.grades)))
    for other in (knowledge.findings[name] for name in stand.findings if name in knowledge.findings):
        if stand.answered and stand.answered not in other.grades:
            what = f"{quoted(stand.answered)} is no grade of {other.id}"
            mark = place_of(knowledge, *owner, "answered")
            problems.append(Problem(mark, "K107", what, known_words(stand.answered, other.grades)))
    return problems
