"""Read `leads_to`: which states or findings a cause or a state brings about, how often, and where."""

from shiftlore.basics.problems import Mark
from shiftlore.knowledge.intake import Intake
from shiftlore.knowledge.reading import Fields, Node
from shiftlore.knowledge.records import Link, Strength
from shiftlore.knowledge.strengths import strength_of, strengths_by_grade

_LONG_KEYS = ("strength", "grades", "where", "when", "by_torque")


def read_links(fields: Fields, intake: Intake) -> tuple[Link, ...]:
    """Read every line of `leads_to`, short or long form."""
    found: list[Link] = []
    for target, mark, node in fields.pairs("leads_to"):
        if node.kind == "list":
            if not node.items:
                fields.add(node.mark, "011", "An empty list stands here", "Write the lines, or delete the target.")
            found.extend(_one_link(target, member.mark, member, intake) for member in node.items)
        else:
            found.append(_one_link(target, mark, node, intake))
    return tuple(found)


def _one_link(target: str, mark: Mark, node: Node, intake: Intake) -> Link:
    if node.kind == "mapping" and any(node.get(key) is not None for key in _LONG_KEYS):
        return _long_link(target, mark, Fields(node, intake.problems, "line of leads_to"), intake)
    return Link(target, strengths_by_grade(node, intake.words, intake.problems), mark=mark)


def _long_link(target: str, mark: Mark, fields: Fields, intake: Intake) -> Link:
    strengths = _long_strengths(fields, intake)
    where = fields.text("where", None)
    when = fields.text("when", None)
    by_torque = fields.yes_no("by_torque", False)
    fields.finish()
    return Link(target, strengths, where, when, by_torque, mark)


def _long_strengths(fields: Fields, intake: Intake) -> dict[str, Strength]:
    """Take `strength` for a yes/no target or `grades` for a graded one; one of the two must be there."""
    single, by_grade = fields.get("strength"), fields.get("grades")
    if by_grade is not None and single is None:
        return strengths_by_grade(by_grade, intake.words, intake.problems)
    if single is not None and by_grade is None:
        strength = strength_of(single, intake.words, intake.problems)
        return {} if strength is None else {"yes": strength}
    what, advice = "A long line needs either strength or grades", "Write strength: often, or grades: {dark: often}."
    fields.add(fields.mark, "011", f"{what}, and not both", advice)
    return {}
