"""Make a case of what was said: complaint, findings, the vehicle's life, and what it began after; find what words speak of."""

from collections.abc import Collection, Sequence

from shiftlore.cases import Answer, Case, Onset
from shiftlore.knowledge import Knowledge
from shiftlore.knowledge.rulebook import SHIPPED
from shiftlore.words.report import read_report
from shiftlore.words.search import Hit, add_said, build_index, find_words
from shiftlore.words.statements import Report, SaidAnswer


def make_case(knowledge: Knowledge, report: Report, unit: str) -> Case:
    """Make a case of what was said; what an owner may come in with is its complaint.

    Args:
        unit: id of a unit sheet or a kind.
    """
    lived = [answer for answer in report.answers if answer.kind == "background"]
    began = tuple(one.id for one in lived if one.is_onset and _is_event(knowledge, one))
    found = [answer for answer in report.answers if answer.kind == "finding"]
    found = [answer for answer in found if not _is_contradicted(knowledge, answer, found)]
    complaint = [one.id for one in found if one.answer == "yes" and _is_complaint(knowledge, one)]
    return Case(
        unit,
        odometer_km=report.odometer_km,
        background={one.id: one.answer for one in lived},
        background_doubts={(one.id, one.answer): one.doubt for one in lived if one.doubt},
        complaint=tuple(complaint),
        findings={one.id: Answer(one.id, one.answer, one.doubt, when=one.when) for one in found},
        either=tuple(
            tuple(Answer(one.id, one.answer) for one in group)
            for group in report.either
            if len({one.kind for one in group}) == 1
        ),
        said=(report.said,) if report.said.strip() else (),
        onset=Onset(began) if began else None,
    )


def _is_event(knowledge: Knowledge, answer: SaidAnswer) -> bool:
    """Tell whether a fault may begin after what an answer says of the vehicle's life."""
    record = knowledge.backgrounds[answer.id]
    happened = record.recent[0] if record.recent else list(record.shares)[-1]
    return record.event and answer.answer == happened


def _is_contradicted(knowledge: Knowledge, answer: SaidAnswer, others: Sequence[SaidAnswer]) -> bool:
    """Tell whether something that was said to be there is among what this answer says that nothing was found of."""
    record = knowledge.findings.get(answer.template)
    if record is None or record.none_by is None or answer.answer != "yes":
        return False
    stands = [stand for stand in record.stands_for if stand.answer == "yes"]
    telling = [
        knowledge.findings[one.template] for one in others if one.answer == "yes" and one.template in knowledge.findings
    ]
    return any(other.id in stand.findings or other.group in stand.groups for stand in stands for other in telling)


def _is_complaint(knowledge: Knowledge, answer: SaidAnswer) -> bool:
    record = knowledge.findings.get(answer.template)
    return record is not None and record.complaint and not answer.code


def find_by_words(knowledge: Knowledge, words: str, most: int, kinds: Collection[str] | None) -> list[Hit]:
    """Find what plain words speak of, best first: by the words themselves, and by what was learned of how people say it.

    Args:
        kinds: only these kinds; None takes all.
    """
    if "words" not in knowledge.worked_out:
        knowledge.worked_out["words"] = build_index(knowledge)
    hits = find_words(knowledge.worked_out["words"], words, kinds, most)
    # What is learned need not be at hand for other knowledge, and a search shall not wait for it.
    said = read_report(knowledge, None, words).answers if knowledge.worked_out.get(SHIPPED) else ()
    return add_said(knowledge, hits, said, kinds)[:most]
