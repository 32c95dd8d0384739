"""K118: an id means one thing; causes, states, findings and backgrounds share one set of ids, acts another.

Passes:

    a state fluid_aerated, a finding fluid_foams

Fails, at the second id, also where a retired rule had it:

    a state fluid_aerated, a finding fluid_aerated
"""

from shiftlore.basics.problems import Problem
from shiftlore.knowledge.records import Knowledge
from shiftlore.knowledge.telling import place_of

_TOGETHER = (("cause", "state", "finding", "background"), ("check", "job", "access"))


def validate_shared_ids(knowledge: Knowledge) -> list[Problem]:
    """Find ids that two kinds of record carry, or that a retired rule had."""
    by_kind = {
        "cause": knowledge.causes,
        "state": knowledge.states,
        "finding": knowledge.findings,
        "background": knowledge.backgrounds,
        "check": knowledge.checks,
        "job": knowledge.jobs,
        "access": knowledge.access,
    }
    problems = []
    for kinds in _TOGETHER:
        seen: dict[str, str] = {}
        for kind in kinds:
            for record_id in by_kind[kind]:
                first = "retired rule" if record_id in knowledge.retired else seen.get(record_id)
                if first is not None:
                    mark = place_of(knowledge, kind, record_id, "id")
                    problems.append(
                        Problem(
                            mark,
                            "K118",
                            f'The id "{record_id}" is taken by a {first}',
                            "Choose another id; ids are never used twice.",
                        )
                    )
                seen.setdefault(record_id, kind)
    return problems
