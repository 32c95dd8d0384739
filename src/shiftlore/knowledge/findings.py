"""Read one finding: anything that can be observed, with the words that people say for it."""

from shiftlore.knowledge.intake import Intake
from shiftlore.knowledge.reading import REQUIRED, Fields, Node, answer_of, text_of
from shiftlore.knowledge.records import Finding, Stand
from shiftlore.knowledge.states import read_grades, read_unexplained

GOT_BY = ("owner", "history", "look", "road", "scan", "measure", "open")


def read_finding(node: Node, intake: Intake) -> Finding:
    """Read a finding from its mapping."""
    fields, finding_id = intake.open(node, "finding")
    grades = read_grades(fields)
    finding = Finding(
        id=finding_id,
        label=fields.text("label"),
        ask=fields.text("ask"),
        grades=grades,
        grade_labels=_grade_labels(fields, grades),
        group=fields.text("group"),
        got_by=fields.word("got_by", GOT_BY),
        together=fields.text("together", None),
        words=fields.words_list("words"),
        unexplained=read_unexplained(fields, intake, finding_id),
        raised_by=intake.raised_by(fields),
        stands_for=_stands(fields, intake),
        complaint=fields.yes_no("complaint", False),
        scope=intake.scope(fields, ("finding", finding_id)),
        source=intake.source_of(fields),
        mark=fields.mark,
    )
    fields.finish()
    return finding


def _grade_labels(fields: Fields, grades: tuple[str, ...]) -> dict[str, str]:
    labels = {}
    for grade, mark, node in fields.pairs("grade_labels"):
        text = text_of(node, fields.problems)
        if grade not in grades:
            fields.add(mark, "014", f'No grade is called "{grade}"', "Write one of: " + ", ".join(grades) + ".")
        elif text is not None:
            labels[grade] = text
    return labels


def _stands(fields: Fields, intake: Intake) -> tuple[Stand, ...]:
    """Read which answers fill in others."""
    found = []
    for member in fields.records("stands_for", "stands_for line"):
        answer = member.read("answer", REQUIRED, "", lambda node: answer_of(node, intake.problems))
        groups = intake.ids(member, "groups", ("stands_for", str(member.mark)))
        findings = intake.ids(member, "findings", ("stands_for", str(member.mark)))
        answered = member.read("answered", REQUIRED, "", lambda node: answer_of(node, intake.problems))
        if not groups and not findings:
            member.add(member.mark, "011", "The line fills in nothing", "Write groups: [...] or findings: [...].")
        member.finish()
        for key in ("answer", "answered"):
            intake.note(("stands_for", str(member.mark), key), member.value_mark(key))
        found.append(Stand(answer, groups, findings, answered, member.mark))
    return tuple(found)
