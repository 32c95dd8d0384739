"""K109: a check must reveal known findings, in a known state of disassembly, with known cautions.

Passes:

    checks:
    - {id: pan_drop, access: pan_off, reveals: [pan_debris], cautions: [hot_fluid], ...}

Fails, at the id:

    checks:
    - {id: pan_drop, access: pan_of, reveals: [pan_debri], cautions: [hot_fluids], ...}
"""

from shiftlore.basics.problems import Problem
from shiftlore.knowledge.records import Check, Job, Knowledge
from shiftlore.knowledge.telling import place_of, tell_unknown, unknown_members


def validate_check_ids(knowledge: Knowledge) -> list[Problem]:
    """Find ids in checks that nothing carries."""
    problems = []
    for check in knowledge.checks.values():
        owner = ("check", check.id)
        problems += unknown_members(knowledge, owner, "reveals", check.reveals, "K109", "finding", knowledge.findings)
        problems += unknown_access_and_cautions(check, owner, "K109", knowledge)
    return problems


def unknown_access_and_cautions(
    act: Check | Job, owner: tuple[str, str], code: str, knowledge: Knowledge
) -> list[Problem]:
    """Find an unknown state of disassembly and unknown cautions of a check or job."""
    problems = unknown_members(knowledge, owner, "cautions", act.cautions, code, "caution", knowledge.cautions)
    if act.access not in knowledge.access:
        mark = place_of(knowledge, *owner, "access")
        problems.append(tell_unknown(knowledge, mark, code, "access state", act.access, knowledge.access))
    return problems
