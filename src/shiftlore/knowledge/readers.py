"""Read a record by its form: one small function for each thing that can stand under a key."""

from collections.abc import Callable, Mapping
from typing import Any

from shiftlore.basics.problems import Mark, Problem
from shiftlore.basics.quantities import QUANTITIES
from shiftlore.knowledge.forms import LOG_MEASURES, SCOPE, SEVERITIES, YES_NO, Form, Key
from shiftlore.knowledge.intake import Intake, Opened, how_common_of, ratio_of, strengths_by_grade
from shiftlore.knowledge.records import (
    Cure,
    DrivenOn,
    Gauge,
    Link,
    LookAlike,
    Need,
    Raise,
    Scope,
    Stand,
    Strength,
    Traced,
)
from shiftlore.knowledge.rulebook import Guess
from shiftlore.reading import CODE_FORM, REQUIRED, Fields, Node, answer_of, number_of, quoted, text_of

_NOT_KEPT = "remark"
_FARTHEST_KM = 3_000_000
_UNREADABLE = Strength(0.001, 1.0)
_FITTING = 1000.0
"""How much likelier a cause is with the one answer that it goes with than with any other: judgement, as good as never."""
_MOST_SPEEDS = 99
_LONG_KEYS = ("strength", "grades", "where", "when", "by_torque")


def read_record(node: Node, form: Form, intake: Intake) -> Any:
    """Read a record by its form.

    Returns: a record of the form's class, with stand-ins for what is wrong; each problem goes into the intake.
    """
    opened = Opened(Fields(node, intake.problems, form.kind), intake, form.kind)
    for key in form.keys:
        value = KEY_READERS[key.holds](opened, key)
        if key.holds != _NOT_KEPT:
            opened.values[key.into or key.name] = value
    if SCOPE[0] in form.keys:
        opened.values["scope"] = Scope(**{key.name: opened.values.pop(key.name) for key in SCOPE})
    if form.kind == "cause":
        fitting = (Raise(name, answer, _FITTING) for name, answer in opened.values["scope"].fits)
        opened.values["raised_by"] = (*opened.values["raised_by"], *fitting)
    fields = opened.fields
    fields.finish()
    return form.record(**opened.values, mark=fields.value_mark(form.marked_by) if form.marked_by else fields.mark)


def _id(record: Opened, key: Key) -> str:
    record_id = record.fields.ident(key.name)
    record.name(record_id)
    record.intake.note((*record.owner, "id"), record.fields.value_mark(key.name))
    return record_id


def _code(record: Opened, key: Key) -> str:
    code = record.fields.text(key.name)
    record.name(code)
    if code and not CODE_FORM.fullmatch(code):
        advice = "Write a letter P, B, C or U and four digits in capitals, such as P0732."
        record.fields.add(record.fields.value_mark(key.name), "015", f"{quoted(code)} is no trouble code", advice)
    return code


def _id_of(record: Opened, key: Key) -> str:
    """Read one id that names another record, and note where it stands."""
    record.intake.note((*record.owner, key.name), record.fields.value_mark(key.name))
    return record.fields.text(key.name, key.default)


def _access(record: Opened, key: Key) -> str:
    record.intake.note((*record.owner, key.name), record.fields.value_mark(key.name))
    return record.fields.text(key.name, record.intake.unopened)


def _whole(record: Opened, key: Key) -> int:
    low, high = (None if bound is None else int(bound) for bound in (key.low, key.high))
    return record.fields.whole(key.name, low, high, key.default)


def _source(record: Opened, key: Key) -> str:
    """Read a record's source, or take the one stated for the whole file."""
    return record.fields.text(key.name, record.intake.source or REQUIRED)


def _needs(record: Opened, key: Key) -> tuple[Need, ...]:
    """Read a list of parts or consumables: price-book entry and count."""
    found = []
    for member in record.fields.records(key.name, "part or consumable"):
        price = member.text("price")
        count = member.number("count", low=0.001, high=1000, default=1.0)
        member.finish()
        found.append(Need(price, count, member.value_mark("price")))
    return tuple(found)


def _raised_by(record: Opened, key: Key) -> tuple[Raise, ...]:
    """Read how the backgrounds raise or lower a hazard."""
    found, intake = [], record.intake
    for background, mark, node in record.fields.pairs(key.name):
        for grade, grade_mark, ratio_node in Fields(node, intake.problems, f"{key.name} {background}").own_pairs():
            ratio = ratio_of(ratio_node, intake.problems)
            if ratio is not None:
                found.append(Raise(background, grade, ratio, grade_mark))
                intake.note((key.name, str(grade_mark)), mark)
    return tuple(found)


def _wear(record: Opened, key: Key) -> float:
    slopes = record.intake.words.wear
    return slopes.get(record.fields.word(key.name, slopes), 1.0)


def _how_common(record: Opened, key: Key) -> Strength:
    intake = record.intake
    return record.fields.read(
        key.name, REQUIRED, _UNREADABLE, lambda node: how_common_of(node, intake.words, intake.problems)
    )


def _misreading(record: Opened, key: Key) -> float:
    """Read how often a check misreads, as a probability."""
    strength = record.fields.read(key.name, REQUIRED, None, record.intake.strength)
    return 0.0 if strength is None else strength.p


def _cures(record: Opened, key: Key) -> tuple[Cure, ...]:
    found = [(cause, record.intake.strength(node), mark) for cause, mark, node in record.fields.pairs(key.name)]
    return tuple(Cure(cause, strength, mark) for cause, strength, mark in found if strength is not None)


def _grades(record: Opened, key: Key) -> tuple[str, ...]:
    """Read the grades, the sound one first; left out means no and yes."""
    grades = record.fields.words_list(key.name)
    if len(grades) == 1:
        advice = "Write two or more, the sound one first, or leave the line out for yes/no."
        record.fields.add(record.fields.value_mark(key.name), "016", "One grade alone says nothing", advice)
    return grades if len(grades) > 1 else YES_NO


def _grade_labels(record: Opened, key: Key) -> dict[str, str]:
    labels, grades = {}, record.values["grades"]
    for grade, mark, node in record.fields.pairs(key.name):
        text = text_of(node, record.intake.problems)
        if grade not in grades:
            record.fields.add(mark, "014", f'No grade is called "{grade}"', "Write one of: " + ", ".join(grades) + ".")
        elif text is not None:
            labels[grade] = text
    return labels


def _unexplained(record: Opened, key: Key) -> dict[str, Strength]:
    """Read how often it shows with none of the causes written: a word, or a word for each grade."""
    node, intake = record.fields.get(key.name), record.intake
    if node is None:
        return {}
    intake.note((key.name, record.owner[1]), node.mark)
    return strengths_by_grade(node, intake.words, intake.problems)


def _stands_for(record: Opened, key: Key) -> tuple[Stand, ...]:
    """Read which answers fill in others."""
    found, intake = [], record.intake
    for member in record.fields.records(key.name, f"{key.name} line"):
        owner = (key.name, str(member.mark))
        answer = member.read("answer", REQUIRED, "", intake.answer)
        groups, findings = intake.ids(member, "groups", owner), intake.ids(member, "findings", owner)
        answered = member.read("answered", REQUIRED, "", intake.answer)
        if not groups and not findings:
            member.add(member.mark, "011", "The line fills in nothing", "Write groups: [...] or findings: [...].")
        member.finish()
        for name in ("answer", "answered"):
            intake.note((*owner, name), member.value_mark(name))
        found.append(Stand(answer, groups, findings, answered, member.mark))
    return tuple(found)


def _gauges(record: Opened, key: Key) -> tuple[Gauge, ...]:
    """Read which numbers answer a finding, and how."""
    found, grades, problems = [], record.values["grades"], record.intake.problems
    for member in record.fields.records(key.name, "measured line"):
        kind, name = member.word("kind", QUANTITIES), member.ident("as", record.owner[1])
        low, high = member.number("from", default=None), member.number("to", default=None)
        further = {}
        for grade, mark, node in member.pairs("further"):
            further[grade] = number_of(node, problems) or 0.0
            _tell_no_grade(member, mark, grade, grades)
        sides = {side: member.read(side, None, None, record.intake.answer) for side in ("below", "above", "other_gear")}
        for side, grade in sides.items():
            if grade is not None:
                _tell_no_grade(member, member.value_mark(side), grade, grades)
        wide, relative = member.yes_no("wide", False), member.yes_no("relative", False)
        member.finish()
        found.append(
            Gauge(kind, name, low, high, further=further, wide=wide, relative=relative, mark=member.mark, **sides)
        )
    return tuple(found)


def _traced(record: Opened, key: Key) -> tuple[Traced, ...]:
    """Read which measures of a road-test log answer a finding; `as` names a number, else the bounds stand here."""
    found, grades, each = [], record.values["grades"], record.values["each"]
    numbers = {gauge.name for gauge in record.values["measured"]}
    for member in record.fields.records(key.name, "traced line"):
        by, number = member.word("by", LOG_MEASURES), member.text("as", "")
        low, high = member.number("from", default=None), member.number("to", default=None)
        grade = member.read("is", "" if number else REQUIRED, "", record.intake.answer)
        silent, fewest = member.yes_no("silent", False), member.whole("fewest", 1, 1000, default=1)
        source = member.text("source")
        member.finish()
        if by in LOG_MEASURES and LOG_MEASURES[by].each != each:
            what = f"{by} is measured {_say_each(LOG_MEASURES[by].each)}, the finding stands {_say_each(each)}"
            member.add(member.value_mark("by"), "013", what, "Take a measure of the same kind.")
        if number and number not in numbers:
            advice = (
                f"Write one of: {', '.join(sorted(numbers))}." if numbers else "Give the bounds here: from, to, is."
            )
            member.add(member.value_mark("as"), "014", f"No number of this finding is called {quoted(number)}", advice)
        if not number and low is None and high is None:
            member.add(member.mark, "013", "A traced line says neither as nor from or to", "Write from: and is:.")
        if grade:
            _tell_no_grade(member, member.value_mark("is"), grade, grades)
        line = Traced(by, source, number, low=low, high=high, grade=grade, mark=member.mark)
        found.append(line.vary(silent=silent, fewest=fewest))
    return tuple(found)


def _say_each(each: str | None) -> str:
    return f"once per {each.replace('_', ' ')}" if each else "once a vehicle"


def _tell_no_grade(member: Fields, mark: Mark, grade: str, grades: tuple[str, ...]) -> None:
    if grade not in grades:
        member.add(mark, "014", f'No grade is called "{grade}"', "Write one of: " + ", ".join(grades) + ".")


def _looks_like(record: Opened, key: Key) -> tuple[LookAlike, ...]:
    """Read what the cause gets mistaken for; a plain sentence may stand for `because`."""
    found, intake = [], record.intake
    for other, mark, node in record.fields.pairs(key.name, required=True):
        if node.kind == "scalar":
            found.append(LookAlike(other, text_of(node, intake.problems) or "", (), mark))
            continue
        member = Fields(node, intake.problems, "look-alike")
        because = member.text("because")
        tells_apart = intake.ids(member, "tells_apart", ("look-alike", f"{record.owner[1]}/{other}"))
        member.finish()
        found.append(LookAlike(other, because, tells_apart, mark))
    return tuple(found)


def _driven_on(record: Opened, key: Key) -> DrivenOn:
    member = record.fields.mapping(key.name, required=True)
    if member is None:
        return DrivenOn(SEVERITIES[0], "")
    driven_on = DrivenOn(
        severity=member.word("severity", SEVERITIES),
        says=member.text("says"),
        within_km=member.whole("within_km", 0, 1_000_000, None),
        damages=record.intake.ids(member, "damages", (key.name, record.owner[1])),
    )
    member.finish()
    return driven_on


def _shares(record: Opened, key: Key) -> dict[str, float]:
    """Read a background's answers, the usual one first; their labels become `grade_labels`, those of late `recent`."""
    shares, labels, recent = {}, {}, []
    told: dict[str, dict[str, float]] = {"began_km": {}, "at_least_km": {}, "warranty_km": {}}
    for answer, _, node in record.fields.pairs(key.name, required=True):
        member = Fields(node, record.intake.problems, f"answer of {record.owner[1]}")
        shares[answer] = member.number("share", low=0.0, high=1.0)
        labels[answer] = member.text("label", answer.replace("_", " "))
        recent += [answer] if member.yes_no("recent", False) else []
        for name, by_answer in told.items():
            distance = member.number(name, low=0, high=_FARTHEST_KM, default=None)
            by_answer |= {} if distance is None else {answer: distance}
        member.finish()
    record.intake.note((*record.owner, key.name), record.fields.value_mark(key.name))
    record.values |= {"grade_labels": labels, "recent": tuple(recent), **told}
    return shares


def _fits(record: Opened, key: Key) -> tuple[tuple[str, str], ...]:
    """Read the answers of the vehicle's life with which a record goes."""
    found = []
    for name, mark, node in record.fields.pairs(key.name):
        answer = record.intake.answer(node)
        record.intake.note((*record.owner, key.name, name), mark)
        found += [] if answer is None else [(name, answer)]
    return tuple(found)


def _guessed(record: Opened, key: Key) -> tuple[Guess, ...]:
    """Read what a background most likely is where nobody told it: chances of its answers, and by what they are guessed."""
    found = []
    for member in record.fields.records(key.name, "guess"):
        chances = {
            answer: number_of(node, record.intake.problems, 0.0, 1.0, "a chance")
            for answer, _, node in member.pairs("is", required=True)
        }
        told = {name: record.intake.answer(node) for name, _, node in member.pairs("told")}
        fewest, most = (member.whole(name, 1, _MOST_SPEEDS, None) for name in ("speeds_from", "speeds_to"))
        member.finish()
        known = {answer: chance for answer, chance in chances.items() if chance is not None}
        found.append(Guess(known, {name: one for name, one in told.items() if one}, fewest, most, mark=member.mark))
    return tuple(found)


def _answers(record: Opened, key: Key) -> dict[str, object]:
    """Read what a textbook case says of findings or backgrounds."""
    found: dict[str, object] = {}
    for name, mark, node in record.fields.pairs(key.name):
        record.intake.note((*record.owner, key.name, name), mark)
        answer = _doubted(node, record.intake) if node.kind == "mapping" else record.intake.answer(node)
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


def _leads_to(record: Opened, key: Key) -> tuple[Link, ...]:
    """Read every line of `leads_to`, short or long form: what it brings about, how often, and where."""
    found: list[Link] = []
    for target, mark, node in record.fields.pairs(key.name):
        if node.kind == "list":
            if not node.items:
                advice = "Write the lines, or delete the target."
                record.fields.add(node.mark, "011", "An empty list stands here", advice)
            found.extend(_one_link(target, member.mark, member, record.intake) for member in node.items)
        else:
            found.append(_one_link(target, mark, node, record.intake))
    return tuple(found)


def _one_link(target: str, mark: Mark, node: Node, intake: Intake) -> Link:
    if node.kind != "mapping" or all(node.get(key) is None for key in _LONG_KEYS):
        return Link(target, strengths_by_grade(node, intake.words, intake.problems), mark=mark)
    fields = Fields(node, intake.problems, "line of leads_to")
    link = Link(
        target, _long_strengths(fields, intake), where=fields.text("where", None), when=fields.text("when", None),
        by_torque=fields.yes_no("by_torque", False), mark=mark,
    )  # fmt: skip
    fields.finish()
    return link


def _long_strengths(fields: Fields, intake: Intake) -> dict[str, Strength]:
    """Take `strength` for a yes/no target or `grades` for a graded one; one of the two must be there."""
    single, by_grade = fields.get("strength"), fields.get("grades")
    if by_grade is not None and single is None:
        return strengths_by_grade(by_grade, intake.words, intake.problems)
    if single is not None and by_grade is None:
        strength = intake.strength(single)
        return {} if strength is None else {"yes": strength}
    what, advice = "A long line needs either strength or grades", "Write strength: often, or grades: {dark: often}."
    fields.add(fields.mark, "011", f"{what}, and not both", advice)
    return {}


KEY_READERS: Mapping[str, Callable[[Opened, Key], Any]] = {
    "id": _id,
    "code": _code,
    "id_of": _id_of,
    "access": _access,
    "parent": lambda record, key: _id_of(record, key) or None,
    "source": _source,
    _NOT_KEPT: lambda record, key: record.fields.text(key.name, key.default),
    "text": lambda record, key: record.fields.text(key.name, key.default),
    "texts": lambda record, key: record.fields.words_list(key.name),
    "ids": lambda record, key: record.intake.ids(record.fields, key.name, record.owner),
    "word": lambda record, key: record.fields.word(key.name, key.words, key.default),
    "yes_no": lambda record, key: record.fields.yes_no(key.name, key.default),
    "number": lambda record, key: record.fields.number(key.name, key.low, key.high, key.default),
    "whole": _whole,
    "price": lambda record, key: record.fields.number(key.name, key.low, key.high, record.values["typical"]),
    "needs": _needs,
    "raised_by": _raised_by,
    "wear": _wear,
    "how_common": _how_common,
    "misreading": _misreading,
    "cures": _cures,
    "grades": _grades,
    "grade_labels": _grade_labels,
    "unexplained": _unexplained,
    "stands_for": _stands_for,
    "looks_like": _looks_like,
    "driven_on": _driven_on,
    "leads_to": _leads_to,
    "shares": _shares,
    "fits": _fits,
    "guessed": _guessed,
    "answers": _answers,
    "gauges": _gauges,
    "traced": _traced,
}
