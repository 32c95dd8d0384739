"""Read one check: an act that reveals findings."""

from shiftlore.knowledge.intake import Intake
from shiftlore.knowledge.reading import REQUIRED, Fields, Node
from shiftlore.knowledge.records import Check
from shiftlore.knowledge.strengths import strength_of

LONGEST_MINUTES = 6000.0


def read_check(node: Node, intake: Intake) -> Check:
    """Read a check from its mapping."""
    fields, check_id = intake.open(node, "check")
    owner = ("check", check_id)
    check = Check(
        id=check_id,
        label=fields.text("label"),
        how=fields.text("how"),
        minutes=fields.number("minutes", low=0, high=LONGEST_MINUTES),
        access=intake.noted_text(fields, "access", owner, "standing"),
        tools=intake.ids(fields, "tools", owner),
        consumables=intake.needs(fields, "consumables"),
        reveals=intake.ids(fields, "reveals", owner),
        missed=_misreading(fields, "missed", intake),
        false_alarm=_misreading(fields, "false_alarm", intake),
        cautions=intake.ids(fields, "cautions", owner),
        scope=intake.scope(fields, ("check", check_id)),
        source=intake.source_of(fields),
        mark=fields.mark,
    )
    fields.finish()
    return check


def _misreading(fields: Fields, key: str, intake: Intake) -> float:
    """Read how often the check misreads, as a probability."""
    strength = fields.read(key, REQUIRED, None, lambda node: strength_of(node, intake.words, intake.problems))
    return 0.0 if strength is None else strength.p
