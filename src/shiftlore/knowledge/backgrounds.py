"""Read one background: what can be known of the vehicle's life."""

from shiftlore.knowledge.intake import Intake
from shiftlore.knowledge.reading import Fields, Node
from shiftlore.knowledge.records import Background


def read_background(node: Node, intake: Intake) -> Background:
    """Read a background from its mapping; the first answer is the usual one."""
    fields, background_id = intake.open(node, "background")
    shares, labels = _answers(fields, background_id)
    background = Background(
        id=background_id,
        label=fields.text("label"),
        ask=fields.text("ask"),
        shares=shares,
        grade_labels=labels,
        words=fields.words_list("words"),
        source=intake.source_of(fields),
        mark=fields.mark,
    )
    intake.note(("background", background_id, "answers"), fields.value_mark("answers"))
    fields.finish()
    return background


def _answers(fields: Fields, background_id: str) -> tuple[dict[str, float], dict[str, str]]:
    shares, labels = {}, {}
    for answer, _, node in fields.pairs("answers", required=True):
        member = Fields(node, fields.problems, f"answer of {background_id}")
        shares[answer] = member.number("share", low=0.0, high=1.0)
        labels[answer] = member.text("label", answer.replace("_", " "))
        member.finish()
    return shares, labels
