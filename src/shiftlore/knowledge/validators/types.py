"""K127: `types` must be types that the record's `each` has.

Passes:

    each: element
    types: [clutch, brake]

Fails, at the type, or where a record that is no template has types:

    each: element
    types: [cluch]                 # Nearest: clutch
"""

from shiftlore.basics.problems import Problem
from shiftlore.knowledge.records import Knowledge, Scope
from shiftlore.knowledge.telling import place_of, scopes_of
from shiftlore.reading import known_words, quoted
from shiftlore.sheets import EACH


def validate_types(knowledge: Knowledge) -> list[Problem]:
    """Find types that no instance can have."""
    return [problem for owner, scope in scopes_of(knowledge) for problem in _of_one(knowledge, owner, scope)]


def _of_one(knowledge: Knowledge, owner: tuple[str, str], scope: Scope) -> list[Problem]:
    allowed = EACH.get(scope.each or "", ())
    problems = []
    for name in scope.types:
        if name not in allowed:
            mark = place_of(knowledge, *owner, "types", name)
            what = f"{quoted(name)} is no type of {(scope.each or 'a record without each').replace('_', ' ')}"
            advice = known_words(name, allowed) if allowed else "Take types out, or add each."
            problems.append(Problem(mark, "K127", what, advice))
    return problems
