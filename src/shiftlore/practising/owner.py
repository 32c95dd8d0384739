"""The owner of a vehicle to practise on: what he comes in with, and how he answers, in the words of the sayings."""

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from shiftlore.compiling import TOLD
from shiftlore.knowledge import NAME_SLOT, Finding
from shiftlore.knowledge.language import FIRST_LANGUAGE
from shiftlore.practising.exercises import Exercise
from shiftlore.practising.settling import find_ruling
from shiftlore.words import Vocabulary, choose_vocabulary, read_report

TOLD_AT_ONCE = 3
"""Complaints that an owner names before he waits to be asked: judgement."""
LONGEST_SAYING = 60
FEW_WORDS = 4
"""A thing said in fewer words is a note of a shop more often than an owner's sentence: judgement."""
MOST_TRIED = 12
"""Ways to say a thing that are tried before its label is taken."""
_OF_BEFORE = ("now", "no_more", "ended", "put_right")
"""Turns of speech in which a denial says that it was so once."""
_SIGNS_OF_PLACE = ("gear", "shift", "code", "count", "row")
_CHOICE = re.compile(r"\{(?!name\})(\w+)\}|\(([^()]*\|[^()]*)\)")
_BARE = {True: "Yes.", False: "No.", None: ""}
_UNSURE_YES = ("I think so, but I would not swear to it.", "Maybe. I think so.", "I have a feeling it does, yes.")
_UNSURE_NO = ("I don't think so.", "Not that I noticed, but I am not sure.", "I would not think so.")


@dataclass(frozen=True, slots=True)
class NamedComplaint:
    """One thing that the owner comes in with.

    Args:
        finding: what he says; covers: what is said with it in general ("shifts wrong" beside "late into third").
        words: of a published repair what was presented, as it stands there; it covers all of it.
    """

    finding: str
    covers: tuple[str, ...] = ()
    words: str = ""


def list_complaints(exercise: Exercise) -> tuple[NamedComplaint, ...]:
    """List what the owner comes in with, in the order in which he names it."""
    records, vehicle = exercise.bench.compiled.expansion.finding_records, exercise.vehicle
    if exercise.told:
        return (NamedComplaint(vehicle.complaints[0], vehicle.complaints[1:], exercise.told),)
    templates = {records[name].id for name in vehicle.complaints}
    said = {part: name for name in vehicle.complaints for part in records[name].includes}
    general = [name for name in vehicle.complaints if templates & set(records[name].general_of) and name not in said]
    special = [name for name in vehicle.complaints if name not in general and name not in said]
    order = exercise.words_of("").permutation(len(special))
    covers: dict[str, list[str]] = {special[place]: [] for place in order}
    for name in general:
        holder = next((one for one in covers if records[one].id in records[name].general_of), None)
        if holder is None:
            covers[name] = []
        else:
            covers[holder].append(name)
    for part, name in said.items():
        if part in vehicle.complaints:
            covers[name].append(part)
    return tuple(NamedComplaint(name, tuple(more)) for name, more in covers.items())


def owner_can_tell(exercise: Exercise, finding: str) -> bool:
    """Tell whether an owner or driver can know a finding of this unit."""
    record = exercise.bench.compiled.expansion.finding_records.get(finding)
    return record is not None and record.got_by in TOLD and finding in exercise.vehicle.readings


def say_complaint(exercise: Exercise, complaint: NamedComplaint) -> str:
    """Say one complaint as its owner would; of a published repair as it stands there."""
    if complaint.words:
        return _sentence(complaint.words)
    finding = complaint.finding
    return _sentence(say_finding(exercise, finding, exercise.vehicle.readings[finding]))


def say_answer(exercise: Exercise, findings: Sequence[str], agrees: Sequence[str] = ()) -> str:
    """Say what the owner answers to a question.

    Args:
        findings: what was asked, a thing of several gears or shifts by all of them.
        agrees: of each the answer to which a yes would agree, "" where it has no yes; left out it asks whether it shows.
    """
    expansion = exercise.bench.compiled.expansion
    asked = dict(zip(findings, agrees, strict=True)) if agrees else {one: telling_of(exercise, one) for one in findings}
    groups: dict[str, list[str]] = {}
    for name in findings:
        groups.setdefault(expansion.finding_records[name].id, []).append(name)
    if len(groups) == 1:
        return _answer_one(exercise, findings, asked, is_only=True)
    said = " ".join(
        _answer_one(exercise, group, asked, is_only=False) for group in _once_denied(exercise, groups.values())
    )
    return f"{_answer_all(exercise, groups.values(), asked)} {said}".strip()


def _once_denied(exercise: Exercise, groups: Iterable[Sequence[str]]) -> Iterator[Sequence[str]]:
    """Leave out that it is not worse then either, for who says so twice says the opposite: "no better warm; fine when warm"."""
    records, is_denied = exercise.bench.compiled.expansion.finding_records, False
    for group in groups:
        is_when = bool(records[group[0]].condition) and not any(_state_of(exercise, name) for name in group)
        if not (is_when and is_denied):
            yield group
        is_denied |= is_when


def telling_of(exercise: Exercise, finding: str) -> str:
    """Give the answer to which a yes agrees where it is asked whether a thing shows; "" where it shows in grades."""
    grades = exercise.bench.compiled.expansion.findings[finding].grades
    return grades[1] if len(grades) == 2 else ""


def _state_of(exercise: Exercise, finding: str) -> int:
    return exercise.unsure.get(finding, exercise.vehicle.readings[finding])


def _agree(exercise: Exercise, findings: Sequence[str], asked: Mapping[str, str]) -> bool | None:
    """Tell whether the owner would say yes to a question about one thing; None where it has no yes or no.

    Asked whether several work, he says yes if all of them do; asked whether they fail, if one of them does.
    """
    nodes = exercise.bench.compiled.expansion.findings
    states = {name: nodes[name].grades[_state_of(exercise, name)] for name in findings}
    if not all(asked[name] for name in findings):
        return None
    if all(asked[name] == nodes[name].grades[0] for name in findings):
        return all(states[name] == asked[name] for name in findings)
    if any(states[name] == asked[name] for name in findings):
        return True
    return None if any(states[name] != nodes[name].grades[0] for name in findings) else False


def _answer_all(exercise: Exercise, groups: Iterable[Sequence[str]], asked: Mapping[str, str]) -> str:
    """Say yes or no to a question about several things: what happens before when it does, and that before how it began."""
    records = exercise.bench.compiled.expansion.finding_records
    kinds: list[list[bool | None]] = [[], [], []]
    for group in groups:
        record = records[group[0]]
        kinds[2 if record.onset else 1 if record.condition else 0].append(_agree(exercise, group, asked))
    happens, whens, onsets = kinds
    agreed = happens or whens or onsets
    if None not in whens and not happens and whens:
        return _BARE[all(whens)]
    return _BARE[agreed[0]] if len({*agreed}) == 1 else ""


def _answer_one(exercise: Exercise, findings: Sequence[str], asked: Mapping[str, str], is_only: bool) -> str:
    """Answer about one thing; a bare yes or no is left out where several things were asked at once."""
    nodes, first = exercise.bench.compiled.expansion.findings, findings[0]
    agreed = _agree(exercise, findings, asked)
    states = {name: _state_of(exercise, name) for name in findings}
    if first in exercise.unsure and len(findings) == 1:
        is_yes = bool(states[first]) if agreed is None or not is_only else agreed
        doubt = str(exercise.words_of(first).choice(_UNSURE_YES if is_yes else _UNSURE_NO))
        return doubt if is_only else f"{nodes[first].label}: {doubt[:1].lower()}{doubt[1:]}"
    there = [name for name, state in states.items() if state]
    if len(findings) > 1 and not there:
        return "Yes, all of that." if agreed else "No, none of that."
    readings = exercise.vehicle.readings
    ruling = find_ruling(exercise.bench.compiled.expansion, readings, first)
    said = [
        _sentence(_with_doubt(say_finding(exercise, name, states[name]), name in exercise.unsure))
        for name in there or [first]
    ]
    if ruling is not None and first not in exercise.unsure and owner_can_tell(exercise, ruling):
        said = [_sentence(say_finding(exercise, ruling, readings[ruling]))]
    bare = _BARE[agreed] if any(said) or agreed is not None else "No, nothing of that."
    return " ".join(filter(None, [bare if is_only or not any(said) else "", *said]))


def say_finding(exercise: Exercise, finding: str, state: int) -> str:
    """Say that a finding is so or not so in one of the ways in which people say it; a denial may have none and is then "".

    A way that names another gear than the one meant, or that says something besides which is not so, is passed over; notes
    are tried last, and where there is no other the label says it.
    """
    compiled = exercise.bench.compiled
    record, node = compiled.expansion.finding_records[finding], compiled.expansion.findings[finding]
    grade = node.grades[state]
    ways = compiled.knowledge.sayings.get(FIRST_LANGUAGE, {}).get(record.id, {}).get(grade, ())
    vocabulary = choose_vocabulary(compiled.knowledge, FIRST_LANGUAGE)
    order = exercise.words_of(f"{finding} {grade}").permutation(len(ways)).tolist()
    made = [_make_choices(ways[place], vocabulary) for place in order]
    for way in sorted(made, key=_is_note)[:MOST_TRIED]:
        if _fits(way, record, vocabulary) and (state or not _tells_of_before(way, vocabulary)):
            said = way.replace(NAME_SLOT, _instance_of(exercise, finding))
            if _is_true(exercise, said, finding):
                return said
    if grade == "no":
        return ""
    return node.label if grade == "yes" else compiled.expansion.name_answer(finding, grade)


def _is_true(exercise: Exercise, text: str, finding: str) -> bool:
    """Tell whether a way to say a finding says nothing besides that this vehicle does not show, as the reader reads it."""
    compiled, readings = exercise.bench.compiled, exercise.vehicle.readings
    nodes, records = compiled.expansion.findings, compiled.expansion.finding_records
    report = read_report(compiled.knowledge, compiled.expansion, text)
    others = [one for one in report.answers if one.template != records[finding].id]
    return all(
        one.id in readings and nodes[one.id].grades[readings[one.id]] == one.answer for one in others
    ) and not any(one.template == records[finding].id and one.id != finding for one in report.answers)


def _is_note(way: str) -> bool:
    """Tell whether a way to say a thing is short as in a table, or has the colon of a job card."""
    return len(way.split()) < FEW_WORDS or ":" in way


def _fits(way: str, record: Finding, vocabulary: Vocabulary) -> bool:
    """Tell whether a way is short, an owner's, names what it is about, and no gear, shift or code besides."""
    if len(way) > LONGEST_SAYING or (NAME_SLOT in way) != (record.scope.each is not None):
        return False
    others = vocabulary.words("not_by_owner")
    tokens = vocabulary.split(way.replace(NAME_SLOT, "it"))
    return all(token.kind not in _SIGNS_OF_PLACE and token.written.lower() not in others for token in tokens)


def _tells_of_before(way: str, vocabulary: Vocabulary) -> bool:
    """Tell whether a way to deny a thing says that it was so once: it is better now."""
    turns, text = vocabulary.language.turns, f" {way.lower()} "
    return any(f" {phrase} " in text for role in _OF_BEFORE for phrase in turns.get(role, ()))


def _make_choices(text: str, vocabulary: Vocabulary) -> str:
    """Give a saying with its choices made, each time alike."""
    chance = np.random.default_rng(len(text))
    fills = vocabulary.language.fills
    for _ in range(2):  # a choice may hold another
        text = _CHOICE.sub(
            lambda found: str(chance.choice(found[2].split("|") if found[2] else fills.get(found[1], ("",)))), text
        )
    return " ".join(text.split())


def _instance_of(exercise: Exercise, finding: str) -> str:
    """Name the gear, shift or part that a finding is about, as it stands in a sentence."""
    expansion = exercise.bench.compiled.expansion
    record = expansion.finding_records[finding]
    instance = finding.removeprefix(f"{record.id}_")
    label = next((one.label for one in expansion.instances.get(record.scope.each or "", ()) if one.id == instance), "")
    return label or instance.replace("_", "-")


def _with_doubt(text: str, is_unsure: bool) -> str:
    return f"{text}, I think" if is_unsure and text else text


def _sentence(text: str) -> str:
    """Give what was said a capital letter and a full stop.

    Example:
        >>> _sentence("bangs into reverse")
        'Bangs into reverse.'
    """
    return f"{text[:1].upper()}{text[1:].rstrip('. ')}." if text else ""
