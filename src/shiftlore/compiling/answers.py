"""Turn the answers of a case into evidence: codes to findings, macros filled in, doubt to likelihoods."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import numpy as np

from shiftlore.compiling.expansion import Expansion
from shiftlore.gearing import Instance
from shiftlore.knowledge import Code, Knowledge


@dataclass(frozen=True, slots=True)
class Answer:
    """One answer as evidence.

    Args:
        finding: expanded finding id.
        grade: name of the grade.
        p_right: 1 for a sure answer; below 1 the chance that it is right.
        given_as: the key under which the case gave it (a code, a macro, or the finding itself).
    """

    finding: str
    grade: str
    p_right: float = 1.0
    given_as: str = ""


def find_code(knowledge: Knowledge, expansion: Expansion, code: str) -> str | None:
    """Name the expanded finding that a trouble code answers on this unit, or None.

    Args:
        code: such as P0732, letters in any case.
    """
    record = knowledge.codes.get(code.upper())
    if record is None:
        return None
    for candidate in _code_candidates(record, expansion):
        if candidate in expansion.findings:
            return candidate
    return None


def _code_candidates(record: Code, expansion: Expansion) -> Iterable[str]:
    """List the findings that a code may answer on this unit, the most telling first."""
    tied = expansion.facts.codes.get(record.code)
    if tied is not None:
        yield f"{record.finding}_{tied[1]}"
    if record.instance is not None:
        for each in ("solenoid", "speed_sensor", "pressure_switch"):
            for item in expansion.facts.instances(each):
                if record.instance in name_for_codes(each, item):
                    yield f"{record.finding}_{item.id}"
        sole = [item for item in expansion.facts.instances("solenoid") if item.type in record.sole_of]
        if len(sole) == 1:
            yield f"{record.finding}_{sole[0].id}"
        yield f"{record.finding}_{record.instance}"
        yield from (key for key, finding in expansion.finding_records.items() if finding.rest_of == record.finding)
    yield record.finding


def name_for_codes(each: str, item: Instance) -> set[str]:
    """List how the code tables call an instance: `shift_a`, `pressure_b`, `tcc`, `input`, or its own id."""
    names = {item.id, item.type}
    if each == "solenoid":
        kind = "shift" if item.type == "on_off" else "pressure"
        names |= {f"{kind}_{letter.lower()}" for letter in item.names if len(letter) == 1}
    return names


def list_aliases(knowledge: Knowledge, expansion: Expansion) -> dict[str, str]:
    """Map every code that this unit can answer to its expanded finding."""
    found = {code: find_code(knowledge, expansion, code) for code in knowledge.codes}
    return {code: finding for code, finding in found.items() if finding}


def fill_in_answers(expansion: Expansion, answers: Iterable[Answer]) -> list[Answer]:
    """Add what some answers stand for; an answer given outright always wins over one filled in."""
    given = list(answers)
    taken = {answer.finding for answer in given}
    filled = []
    for answer in given:
        record = expansion.finding_records.get(answer.finding)
        for stand in record.stands_for if record else ():
            if stand.answer == answer.grade:
                for finding in _stood_for(expansion, stand.groups, stand.findings):
                    if finding not in taken:
                        taken.add(finding)
                        filled.append(Answer(finding, stand.answered, answer.p_right, answer.given_as))
    return given + filled


def _stood_for(expansion: Expansion, groups: tuple[str, ...], findings: tuple[str, ...]) -> list[str]:
    found = [key for finding in findings for key in expansion.of_template.get(finding, ())]
    for key, record in expansion.finding_records.items():
        if record.group in groups and not record.stands_for:
            found.append(key)
    return found


def evidence_of(expansion: Expansion, answers: Iterable[Answer]) -> dict[str, int | np.ndarray]:
    """Give evidence for the engine: a grade's index where sure, a likelihood vector where doubted.

    A doubted answer leaves the rest of its chance spread evenly over the other grades.
    """
    evidence: dict[str, int | np.ndarray] = {}
    for answer in answers:
        grades = expansion.findings[answer.finding].grades
        position = grades.index(answer.grade)
        if answer.p_right >= 1:
            evidence[answer.finding] = position
        else:
            likelihood = np.full(len(grades), (1 - answer.p_right) / (len(grades) - 1))
            likelihood[position] = answer.p_right
            evidence[answer.finding] = likelihood
    return evidence


def grades_of(expansion: Expansion) -> Mapping[str, tuple[str, ...]]:
    """Map every finding of the unit to its grades, for reading cases."""
    return {key: node.grades for key, node in expansion.findings.items()}
