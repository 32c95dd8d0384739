"""Textbook cases: written job cards must speak of what the rules know."""

from collections.abc import Iterator

from shiftlore.basics.problems import Problem
from shiftlore.knowledge.places import place_of, tell_unknown
from shiftlore.knowledge.records import CODE_FORM, Finding, Knowledge, TextbookCase
from shiftlore.reading import known_words, quoted


def validate_textbook_ids(knowledge: Knowledge) -> list[Problem]:
    """K112: a textbook case must speak of a known unit, cause, backgrounds, findings and their answers.

    Passes:

        cause: worn_lining
        findings: {fluid_colour: dark, gear_slips_2: "yes"}        # gear_slips is a template, 2 a gear

    Fails, at the id or the answer:

        cause: worn_linings
        findings: {fluid_color: dark, fluid_colour: darkish}
    """
    return [problem for case in knowledge.textbook.values() for problem in _of_one(case, knowledge)]


def find_expanded(knowledge: Knowledge, name: str) -> Finding | None:
    """Find the finding, or the template, that an expanded finding id belongs to; the longest fits best."""
    if name in knowledge.findings and knowledge.findings[name].scope.each is None:
        return knowledge.findings[name]
    parts = name.split("_")
    for count in range(len(parts) - 1, 0, -1):
        finding = knowledge.findings.get("_".join(parts[:count]))
        if finding is not None and finding.scope.each is not None:
            return finding
    return None


def _of_one(case: TextbookCase, knowledge: Knowledge) -> Iterator[Problem]:
    owner = ("textbook case", case.id)
    if case.cause and case.cause not in knowledge.causes:
        mark = place_of(knowledge, *owner, "cause")
        yield tell_unknown(knowledge, mark, "K112", "cause", case.cause, knowledge.causes)
    if case.unit and case.unit not in knowledge.sheets:
        yield tell_unknown(knowledge, place_of(knowledge, *owner, "unit"), "K112", "unit", case.unit, knowledge.sheets)
    yield from _backgrounds(case, owner, knowledge)
    for name in case.complaint:
        if find_expanded(knowledge, name) is None:
            mark = place_of(knowledge, *owner, "complaint", name)
            yield tell_unknown(knowledge, mark, "K112", "finding", name, knowledge.findings)
    for name, answer in case.findings.items():
        yield from _answer(name, answer, owner, knowledge)


def _backgrounds(case: TextbookCase, owner: tuple[str, str], knowledge: Knowledge) -> Iterator[Problem]:
    for name, answer in case.background.items():
        mark = place_of(knowledge, *owner, "background", name)
        background = knowledge.backgrounds.get(name)
        if background is None:
            yield tell_unknown(knowledge, mark, "K112", "background", name, knowledge.backgrounds)
        elif answer not in background.shares:
            yield tell_unknown(knowledge, mark, "K112", f"answer of {name}", str(answer), background.shares)


def _answer(name: str, answer: object, owner: tuple[str, str], knowledge: Knowledge) -> Iterator[Problem]:
    mark = place_of(knowledge, *owner, "findings", name)
    if CODE_FORM.fullmatch(name.upper()):
        if name.upper() not in knowledge.codes:
            yield tell_unknown(knowledge, mark, "K112", "code", name, knowledge.codes)
        return
    finding = find_expanded(knowledge, name)
    given = answer.get("is") if isinstance(answer, dict) else answer
    if finding is None:
        yield tell_unknown(knowledge, mark, "K112", "finding", name, knowledge.findings)
    elif given not in finding.grades:
        what = f"{quoted(str(given))} is no answer of {name}"
        yield Problem(mark, "K112", what, known_words(str(given), finding.grades))
