"""Read one cause: what is broken, worn, contaminated or wrong."""

from shiftlore.knowledge.intake import Intake
from shiftlore.knowledge.links import read_links
from shiftlore.knowledge.reading import REQUIRED, Fields, Node, text_of
from shiftlore.knowledge.records import Cause, DrivenOn, LookAlike, Strength
from shiftlore.knowledge.strengths import how_common_of

STATUSES = ("draft", "reviewed", "proven")
SEVERITIES = ("nuisance", "gets_worse", "strands", "unsafe")


def read_cause(node: Node, intake: Intake) -> Cause:
    """Read a cause from its mapping."""
    fields, cause_id = intake.open(node, "cause")
    wear_word = fields.word("wear", intake.words.wear)
    cause = Cause(
        id=cause_id,
        says=fields.text("says"),
        label=fields.text("label"),
        area=intake.noted_text(fields, "area", ("cause", cause_id)),
        per_thousand=_how_common(fields, intake),
        wear=intake.words.wear.get(wear_word, 1.0),
        leads_to=read_links(fields, intake),
        raised_by=intake.raised_by(fields),
        looks_like=_look_alikes(fields, intake, cause_id),
        driven_on=_driven_on(fields, intake, cause_id),
        scope=intake.scope(fields, ("cause", cause_id)),
        status=fields.word("status", STATUSES),
        source=intake.source_of(fields),
        mark=fields.mark,
    )
    fields.finish()
    return cause


def _how_common(fields: Fields, intake: Intake) -> Strength:
    unreadable = Strength(0.001, 1.0)
    return fields.read(
        "how_common", REQUIRED, unreadable, lambda node: how_common_of(node, intake.words, intake.problems)
    )


def _look_alikes(fields: Fields, intake: Intake, cause_id: str) -> tuple[LookAlike, ...]:
    """Read what the cause gets mistaken for; a plain sentence may stand for `because`."""
    found = []
    for other, mark, node in fields.pairs("looks_like", required=True):
        if node.kind == "scalar":
            found.append(LookAlike(other, text_of(node, intake.problems) or "", (), mark))
            continue
        member = Fields(node, intake.problems, "look-alike")
        because = member.text("because")
        tells_apart = intake.ids(member, "tells_apart", ("look-alike", f"{cause_id}/{other}"))
        member.finish()
        found.append(LookAlike(other, because, tells_apart, mark))
    return tuple(found)


def _driven_on(fields: Fields, intake: Intake, cause_id: str) -> DrivenOn:
    member = fields.mapping("driven_on", required=True)
    if member is None:
        return DrivenOn(SEVERITIES[0], "")
    driven_on = DrivenOn(
        severity=member.word("severity", SEVERITIES),
        says=member.text("says"),
        within_km=member.whole("within_km", 0, 1_000_000, None),
        damages=intake.ids(member, "damages", ("driven_on", cause_id)),
    )
    member.finish()
    return driven_on
