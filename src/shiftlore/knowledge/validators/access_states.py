"""K126: every state of disassembly must lead back, parent by parent, to the vehicle as it stands.

Passes:

    access:
    - {id: standing, label: As it stands}
    - {id: pan_off, label: Pan off, parent: standing, open_minutes: 20, close_minutes: 25}

Fails, at the parent that is unknown or leads in a circle:

    access:
    - {id: pan_off, label: Pan off, parent: pan_off, open_minutes: 20, close_minutes: 25}
"""

from shiftlore.basics.problems import Problem
from shiftlore.knowledge.records import Access, Knowledge
from shiftlore.knowledge.telling import place_of, tell_unknown


def validate_access_states(knowledge: Knowledge) -> list[Problem]:
    """Find access states whose parents are unknown or go round in a circle."""
    problems = []
    for access in knowledge.access.values():
        mark = place_of(knowledge, "access", access.id, "parent")
        if access.parent is not None and access.parent not in knowledge.access:
            problems.append(tell_unknown(knowledge, mark, "K126", "access state", access.parent, knowledge.access))
        elif _goes_round(access, knowledge):
            problems.append(
                Problem(
                    mark, "K126", f"The parents of {access.id} go round in a circle", "Let one of them have no parent."
                )
            )
    return problems


def _goes_round(access: Access, knowledge: Knowledge) -> bool:
    passed = {access.id}
    parent = access.parent
    while parent is not None and parent in knowledge.access:
        if parent in passed:
            return True
        passed.add(parent)
        parent = knowledge.access[parent].parent
    return False
