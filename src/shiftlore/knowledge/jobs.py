"""Read one job: a correction, what it cures, what it takes and what must follow."""

from shiftlore.knowledge.checks import LONGEST_MINUTES
from shiftlore.knowledge.intake import Intake
from shiftlore.knowledge.reading import Fields, Node
from shiftlore.knowledge.records import Cure, Job
from shiftlore.knowledge.strengths import strength_of

JOB_KINDS = (
    "service",
    "adjustment",
    "electrical",
    "part",
    "valve_body",
    "converter",
    "overhaul",
    "exchange",
    "outside",
    "software",
)


def read_job(node: Node, intake: Intake) -> Job:
    """Read a job from its mapping."""
    fields, job_id = intake.open(node, "job")
    owner = ("job", job_id)
    job = Job(
        id=job_id,
        label=fields.text("label"),
        says=fields.text("says"),
        kind=fields.word("kind", JOB_KINDS),
        minutes=fields.number("minutes", low=0, high=LONGEST_MINUTES),
        access=intake.noted_text(fields, "access", owner, "standing"),
        tools=intake.ids(fields, "tools", owner),
        parts=intake.needs(fields, "parts"),
        consumables=intake.needs(fields, "consumables"),
        cures=_cures(fields, intake),
        follow_ups=intake.ids(fields, "follow_ups", owner),
        cautions=intake.ids(fields, "cautions", owner),
        not_covered=fields.text("not_covered", ""),
        days=fields.number("days", low=0, high=60, default=0.5),
        scope=intake.scope(fields, ("job", job_id)),
        source=intake.source_of(fields),
        mark=fields.mark,
    )
    fields.finish()
    return job


def _cures(fields: Fields, intake: Intake) -> tuple[Cure, ...]:
    found = []
    for cause, mark, node in fields.pairs("cures"):
        strength = strength_of(node, intake.words, intake.problems)
        if strength is not None:
            found.append(Cure(cause, strength, mark))
    return tuple(found)
