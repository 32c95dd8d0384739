"""Read one textbook case: a job card with its answers, and the cause that it turned out to be."""

from shiftlore.basics.problems import Problem
from shiftlore.knowledge.intake import Intake
from shiftlore.knowledge.reading import REQUIRED, Fields, Node, answer_of
from shiftlore.knowledge.records import TextbookCase


def read_textbook_case(node: Node, intake: Intake) -> TextbookCase:
    """Read a textbook case from its mapping."""
    fields, case_id = intake.open(node, "textbook case")
    owner = ("textbook case", case_id)
    case = TextbookCase(
        id=case_id,
        cause=intake.noted_text(fields, "cause", owner),
        says=fields.text("says"),
        unit=intake.noted_text(fields, "unit", owner),
        odometer_km=fields.number("odometer_km", 0, 3_000_000, None),
        background={name: str(answer) for name, answer in _answers(fields, "background", intake, owner).items()},
        findings=_answers(fields, "findings", intake, owner),
        source=intake.source_of(fields),
        mark=fields.mark,
        complaint=intake.ids(fields, "complaint", owner),
    )
    fields.finish()
    return case


def _answers(fields: Fields, key: str, intake: Intake, owner: tuple[str, str]) -> dict[str, object]:
    found: dict[str, object] = {}
    for name, mark, node in fields.pairs(key):
        intake.note((*owner, key, name), mark)
        answer = _doubted(node, intake) if node.kind == "mapping" else answer_of(node, intake.problems)
        if answer is not None:
            found[name] = answer
    return found


def _doubted(node: Node, intake: Intake) -> dict[str, str] | None:
    """Read an answer given with doubt: ``{is: high, doubt: think_so}``."""
    problems: list[Problem] = []
    fields = Fields(node, problems, "doubted answer")
    answer = fields.read("is", REQUIRED, "", lambda value: answer_of(value, problems))
    doubt = fields.word("doubt", intake.words.doubts)
    fields.finish()
    intake.problems.extend(problems)
    return None if problems else {"is": answer, "doubt": doubt}
