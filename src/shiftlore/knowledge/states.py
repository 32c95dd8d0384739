"""Read one state: a hidden condition between causes and findings."""

from shiftlore.knowledge.intake import Intake
from shiftlore.knowledge.links import read_links
from shiftlore.knowledge.reading import Fields, Node
from shiftlore.knowledge.records import State, Strength
from shiftlore.knowledge.strengths import strengths_by_grade

YES_NO = ("no", "yes")


def read_state(node: Node, intake: Intake) -> State:
    """Read a state from its mapping."""
    fields, state_id = intake.open(node, "state")
    state = State(
        id=state_id,
        label=fields.text("label"),
        grades=read_grades(fields),
        unexplained=read_unexplained(fields, intake, state_id),
        raised_by=intake.raised_by(fields),
        leads_to=read_links(fields, intake),
        scope=intake.scope(fields, ("state", state_id)),
        source=intake.source_of(fields),
        mark=fields.mark,
    )
    fields.finish()
    return state


def read_grades(fields: Fields) -> tuple[str, ...]:
    """Read the grades, the sound one first; left out means no and yes."""
    grades = fields.words_list("grades")
    if len(grades) == 1:
        fields.add(
            fields.value_mark("grades"),
            "016",
            "One grade alone says nothing",
            "Write two or more, the sound one first, or leave the line out for yes/no.",
        )
    return grades if len(grades) > 1 else YES_NO


def read_unexplained(fields: Fields, intake: Intake, owner: str) -> dict[str, Strength]:
    """Read how often it shows with none of the causes written: a word, or a word for each grade."""
    node = fields.get("unexplained")
    if node is None:
        return {}
    intake.note(("unexplained", owner), node.mark)
    return strengths_by_grade(node, intake.words, intake.problems)
