"""K110: a job must cure known causes, in a known state of disassembly, with known follow-ups and cautions.

Passes:

    jobs:
    - {id: plain_service, access: pan_off, cures: {fluid_degraded: usually}, follow_ups: [level_hot], ...}

Fails, at the id:

    jobs:
    - {id: plain_service, access: pan_off, cures: {fluid_degradet: usually}, follow_ups: [level_hott], ...}
"""

from shiftlore.basics.problems import Problem
from shiftlore.knowledge.records import Knowledge
from shiftlore.knowledge.telling import tell_unknown, unknown_members
from shiftlore.knowledge.validators.check_ids import unknown_access_and_cautions


def validate_job_ids(knowledge: Knowledge) -> list[Problem]:
    """Find ids in jobs that nothing carries."""
    problems: list[Problem] = []
    for job in knowledge.jobs.values():
        owner = ("job", job.id)
        problems += unknown_access_and_cautions(job, owner, "K110", knowledge)
        problems += unknown_members(
            knowledge, owner, "follow_ups", job.follow_ups, "K110", "follow-up", knowledge.follow_ups
        )
        for cure in job.cures:
            if cure.cause not in knowledge.causes:
                problems.append(tell_unknown(knowledge, cure.mark, "K110", "cause", cure.cause, knowledge.causes))
    return problems
