"""Turn the answers of a case into evidence: codes to findings, macros filled in, doubt to likelihoods."""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass

from shiftlore.compiling.expansion import Expansion
from shiftlore.exact import Doubted
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


def drop_implied(expansion: Expansion, answers: Iterable[Answer]) -> list[Answer]:
    """Leave out what another answer says already, so that no sign counts twice.

    A general yes ("harsh shifts") goes where a particular one ("harsh 2-3") is at least as sure; so does a particular no
    where the general no is. Whatever contradicts stays.
    """
    given = {answer.finding: answer for answer in answers}
    implied: set[str] = set()
    for answer in given.values():
        record = expansion.finding_records[answer.finding]
        parts = [given[part] for name in record.general_of for part in expansion.of_template[name] if part in given]
        if _is_sound(expansion, answer):
            implied |= {one.finding for one in parts if _is_sound(expansion, one) and one.p_right <= answer.p_right}
        elif any(not _is_sound(expansion, one) and one.p_right >= answer.p_right for one in parts):
            implied.add(answer.finding)
    return [answer for answer in given.values() if answer.finding not in implied]


def _is_sound(expansion: Expansion, answer: Answer) -> bool:
    return answer.grade == expansion.findings[answer.finding].grades[0]


def _stood_for(expansion: Expansion, groups: tuple[str, ...], findings: tuple[str, ...]) -> list[str]:
    found = [key for finding in findings for key in expansion.of_template.get(finding, ())]
    for key, record in expansion.finding_records.items():
        if record.group in groups and not record.stands_for:
            found.append(key)
    return found


def evidence_of(
    expansion: Expansion, answers: Iterable[Answer], how_often: Callable[[str, int], float]
) -> dict[str, int | Doubted]:
    """Give evidence for the engine: a grade's position where sure, doubt where it is doubted.

    Args:
        how_often: P(a finding reaches a grade) among vehicles of the unit of which nothing else is known.
    """
    evidence: dict[str, int | Doubted] = {}
    for answer in answers:
        position = expansion.findings[answer.finding].grades.index(answer.grade)
        if answer.p_right >= 1:
            evidence[answer.finding] = position
        else:
            rarity = how_often(answer.finding, position) if position else 0.5
            evidence[answer.finding] = doubt_answer(position, answer.p_right, rarity)
    return evidence


def doubt_answer(grade: int, p_right: float, p_sign: float) -> Doubted:
    """Turn doubt into likelihoods that follow how rare the sign is.

    "I think so" is right in `p_right` of all times that it is said of a sign. So of a rare sign it is hardly ever said
    where the sign is not there: the words are (1 - p_right) / p_right as often wrong as right, and those that are wrong
    are spread over all vehicles without the sign. Of a common sign they are never likelier wrong than of an even one.
    "I think not" overlooks the same part, whatever the sign.
    Args:
        grade: position of the grade that is named; 0 is the sound one.
        p_right: how often such words are right, above 0.5, below 1.
        p_sign: P(the grade is reached) among all vehicles.
    Source: Bayes' rule; [MY], [K] in words.yaml for `p_right`.
    Example:
        >>> round(doubt_answer(1, 0.8, 0.5).imagined, 6)
        0.25
        >>> round(doubt_answer(1, 0.8, 0.01).imagined, 6)
        0.002525
    """
    wrong = (1 - p_right) / p_right
    odds = p_sign / max(1 - p_sign, 1e-9)
    return Doubted(grade, imagined=wrong * min(1.0, odds) if grade else 0.0, overlooked=wrong)


def grades_of(expansion: Expansion) -> Mapping[str, tuple[str, ...]]:
    """Map every finding of the unit to its grades, for reading cases."""
    return {key: node.grades for key, node in expansion.findings.items()}
