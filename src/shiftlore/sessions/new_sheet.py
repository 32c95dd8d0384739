"""Write a unit sheet by questions and answers, from what a workshop manual prints; no input or output here.

Only how the words of one line follow each other is told here. An answer is written into the draft as YAML and read
as any sheet is, so that what may stand there, and what is wrong with it, is said by `sheets` alone.
A draft is never changed: every answer gives a new one, so that a step back costs nothing.
"""

import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field, replace

from shiftlore.basics import Problem
from shiftlore.gearing import check_sheet
from shiftlore.sheets import ELEMENT_TYPES, SET_KINDS, SHAFTS, SOLENOID_TYPES, read_sheet

_SHAFT = re.compile(r"[a-z][a-z0-9]*(_[a-z0-9]+)*")
_PLAIN = re.compile(r"[A-Za-z0-9_.-]+")
_RATIO = re.compile(r"-|-?[0-9]+(\.[0-9]+)?")


@dataclass(frozen=True, slots=True)
class SheetQuestion:
    """One question on the way to a sheet.

    Args:
        key: what it fills in.
        ask: the question.
        example: an answer as it may look.
        many: asked again until the answer is empty; then what is listed counts.
        may_skip: an empty answer is fine.
        listed: what has been given so far, for questions asked again.
    """

    key: str
    ask: str
    example: str
    many: bool = False
    may_skip: bool = False
    listed: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class SheetDraft:
    """The answers so far.

    Args:
        place: number of the question asked next.
        answers: key -> lines given, in order.
        before: the draft before the last answer, for going back.
    """

    place: int = 0
    answers: tuple[tuple[str, tuple[str, ...]], ...] = ()
    before: "SheetDraft | None" = field(default=None, repr=False)

    def lines(self, key: str) -> tuple[str, ...]:
        """Give the lines answered under a key."""
        return dict(self.answers).get(key, ())

    def names(self, *keys: str) -> list[str]:
        """Give the first word of every line answered under these keys."""
        return [line.split()[0] for key in keys for line in self.lines(key)]


QUESTIONS = (
    SheetQuestion("id", "Short name of the unit: small letters, digits, underscores?", "own5"),
    SheetQuestion("label", "What is it, in words?", "Five-speed longitudinal automatic"),
    SheetQuestion("tags", "Which of these fit: step, cvt or dct; fwd, rwd; converter, module_inside, range_switch_inside,"
                  " transfer_case?", "step rwd converter module_inside"),
    SheetQuestion("sets", "One gear set: name, kind and, if printed, its teeth (kinds: " + ", ".join(SET_KINDS) + ")."
                  " Empty when all are named, or if the manual does not show them.", "front simple sun 37 ring 71",
                  many=True, may_skip=True),
    SheetQuestion("input", "Which members are fast to the input shaft? Empty if only clutches lead there.",
                  "front.ring", may_skip=True),
    SheetQuestion("output", "Which member is fast to the output shaft?", "rear.carrier", may_skip=True),
    SheetQuestion("held", "Which members never turn? Empty if none.", "front.sun", may_skip=True),
    SheetQuestion("joined", "Members that always turn together, one group at a time. Empty when done.",
                  "front.carrier rear.ring", many=True, may_skip=True),
    SheetQuestion("elements", "One clutch, brake, band or one-way clutch: name, type, then the member it holds, or the"
                  " two it joins. Empty when done.", "c1 clutch input front.sun", many=True),
    SheetQuestion("gears", "One line of the chart: gear, printed ratio or -, then what is applied; ( ) round what only"
                  " gives engine braking. Empty when done.", "1 3.59 c1 f1 (b2)", many=True),
    SheetQuestion("ranges", "Held ranges: name, gear it holds, then what is applied. Empty when done.",
                  "1_held 1 c1 b2", many=True, may_skip=True),
    SheetQuestion("solenoids", "One solenoid: name, type (" + ", ".join(SOLENOID_TYPES) + "), code letter or -, then"
                  " what it controls and 'releases' or 'applies' for what happens without power; or 'on' and the gears"
                  " in which it is on. Empty when done.", "sol_a on_off A on 1 2", many=True, may_skip=True),
    SheetQuestion("failsafe_gear", "Which gear is left when the module gives up? Empty if not known.", "4",
                  may_skip=True),
    SheetQuestion("lockup_gears", "In which gears may the converter clutch work?", "3 4 5", may_skip=True),
    SheetQuestion("fill_litres", "Fluid for a dry fill, in litres?", "9.0", may_skip=True),
)  # fmt: skip
REPAIR = SheetQuestion("repair", "Give a line again to put it right, with set, element, gear, range or solenoid (or"
                       " joined, input, output, held) before it. Empty to leave it.", "gear 3 1.41 c1 c2 b2",
                       many=True, may_skip=True)  # fmt: skip
_REPAIRS = {question.key.removesuffix("s"): question for question in QUESTIONS if question.key != "tags"}
_NEEDS_SETS = ("input", "output", "held", "joined")


def next_question(draft: SheetDraft) -> SheetQuestion | None:
    """Give the question to put next, or None when the sheet is done."""
    if draft.place < len(QUESTIONS):
        question = QUESTIONS[draft.place]
        return replace(question, listed=draft.lines(question.key)) if question.many else question
    if draft.place == len(QUESTIONS) and any(problem.severity == "error" for problem in check_draft(draft)):
        return REPAIR
    return None


def answer_question(draft: SheetDraft, text: str) -> tuple[SheetDraft, str]:
    """Take one answer.

    Returns: the new draft and an empty text; or the same draft and what is wrong with the answer.
    """
    question = next_question(draft)
    if question is None:
        return draft, "The sheet is done."
    words = text.replace(",", " ").split()
    if question.key == "repair":
        return _repair(draft, words)
    if not words:
        if question.may_skip or (question.many and draft.lines(question.key)):
            return _step(draft), ""
        return draft, f"Something must stand here, such as: {question.example}"
    added, fault = _put(draft, question, text.strip() if question.key == "label" else " ".join(words))
    return (draft, fault) if fault else (added if question.many else _step(added, draft), "")


def go_back(draft: SheetDraft) -> SheetDraft:
    """Take the last answer back."""
    return draft.before or draft


def check_draft(draft: SheetDraft) -> list[Problem]:
    """Give every problem that the sheet would have as it stands."""
    sheet, problems = read_sheet(write_sheet(draft), f"{''.join(draft.lines('id')) or 'sheet'}.yaml")
    if sheet is None or any(problem.severity == "error" for problem in problems):
        return problems
    return [*problems, *check_sheet(sheet)]


def _put(draft: SheetDraft, question: SheetQuestion, line: str, again: bool = False) -> tuple[SheetDraft, str]:
    """Add a line, or put it in the place of the one with the same name; joined groups have none, unless given again.

    Returns: the draft with the line, and what is wrong with the line or an empty text.
    """
    old = draft.lines(question.key) if question.many else ()
    named = again or question.key != "joined"
    same = [item for item in old if named and item.split()[0] == line.split()[0]]
    lines = tuple(line if item in same else item for item in old) if same else (*old, line)
    added = SheetDraft(draft.place, tuple({**dict(draft.answers), question.key: lines}.items()), draft)
    return added, _find_fault(draft, added, question.key, line)


def _step(draft: SheetDraft, before: SheetDraft | None = None) -> SheetDraft:
    place = draft.place + 1
    while place < len(QUESTIONS) and not draft.lines("sets") and QUESTIONS[place].key in _NEEDS_SETS:
        place += 1
    return replace(draft, place=place, before=before or draft)


def _repair(draft: SheetDraft, words: list[str]) -> tuple[SheetDraft, str]:
    if not words:
        return replace(draft, place=draft.place + 1, before=draft), ""
    question = _REPAIRS.get(words[0])
    if question is None or len(words) < 2:
        return draft, "Begin with one of: " + ", ".join(_REPAIRS) + f". Such as: {REPAIR.example}"
    added, fault = _put(draft, question, " ".join(words[1:]), again=True)
    return (draft, fault) if fault else (added, "")


def _find_fault(draft: SheetDraft, added: SheetDraft, key: str, line: str) -> str:
    """Say what is wrong with a line: how its words follow each other, or else what the sheet has against it."""
    fault = _FORMS[key](draft, line.split()) if key in _FORMS else ""
    if fault:
        return fault
    text, file = write_sheet(added), "sheet.yaml"
    place = text.splitlines().index(_write(key, line)) + 1
    before = {(problem.code, problem.what) for problem in read_sheet(write_sheet(draft), file)[1]}
    for problem in read_sheet(text, file)[1]:
        # What is missing as yet is told at the sheet's first column.
        here = problem.mark.line == place and problem.mark.column > 1 and problem.severity == "error"
        if here and (problem.code, problem.what) not in before:
            return f"{problem.what}. {problem.write_instead}"
    return ""


def _check_type(words: list[str], what: str, choices: Iterable[str]) -> str:
    return _check_second(
        words, lambda word: word in choices, f"the name comes its {what}, one of: {', '.join(choices)}"
    )


def _check_set(draft: SheetDraft, words: list[str]) -> str:
    fault = _check_type(words, "kind", SET_KINDS)
    if fault or len([word for word in words if word != "idler"]) % 2 == 0:
        return fault
    kind = SET_KINDS[words[1]]
    numbers = [*(f"{name} 40" for name in kind.teeth), *(f"or {name} 1.8" for name in kind.ratios)]
    return "Teeth stand as name and number: " + " ".join(numbers) + "."


def _check_element(draft: SheetDraft, words: list[str]) -> str:
    fault = _check_type(words, "type", ELEMENT_TYPES)
    if fault or not draft.lines("sets") or words[1] == "converter_clutch":
        return fault
    wanted = (1,) if words[1] in ("brake", "band") else (2,) if words[1] == "clutch" else (1, 2)
    if len(words) - 2 in wanted:
        return ""
    return "Name the member that it holds, or the two that it joins (brakes hold one, clutches join two)."


def _check_second(words: list[str], is_good: Callable[[str], object], wanted: str) -> str:
    """Say what has to come after the first word unless it does."""
    return "" if len(words) > 1 and is_good(words[1]) else f"After {wanted}."


_FORMS: dict[str, Callable[[SheetDraft, list[str]], str]] = {
    "sets": _check_set,
    "elements": _check_element,
    "gears": lambda draft, words: _check_second(
        words, _RATIO.fullmatch, "the gear comes its ratio, or - if none is printed"
    ),
    "ranges": lambda draft, words: _check_second(
        words,
        lambda word: word in draft.names("gears"),
        f"the range's name comes the gear that it holds, one of: {', '.join(draft.names('gears'))}",
    ),
    "solenoids": lambda draft, words: _check_type(words, "type", SOLENOID_TYPES),
}


def write_sheet(draft: SheetDraft) -> str:
    """Write the draft as the YAML text of a unit sheet."""
    rows = []
    for question in QUESTIONS:
        lines = draft.lines(question.key)
        rows += ["", f"{question.key}:"] if question.many and lines else []
        rows += [_write(question.key, line) for line in lines]
    shafts = sorted(_free_shafts(draft))
    rows += ["", f"shafts: {_list(shafts)}"] if shafts else []
    return "\n".join(rows) + "\n"


def _free_shafts(draft: SheetDraft) -> set[str]:
    """Find the names of shafts that belong to no set, such as a hub between two clutches."""
    words = {word for line in draft.lines("joined") for word in line.split()}
    words |= {word for line in draft.lines("elements") for word in line.split()[2:]}
    return {word for word in words if _SHAFT.fullmatch(word)} - {*SHAFTS}


def _write(key: str, line: str) -> str:
    """Write one answer as one row of the sheet."""
    if key == "label":
        return f"label: {_quote(line)}"
    words = line.split()
    if key in _WRITERS:
        return _WRITERS[key](words)
    return f"{key}: {_list(words) if key in ('tags', 'lockup_gears', *_NEEDS_SETS) else _word(line)}"


def _quote(text: str) -> str:
    return '"' + text.replace("\\", "\\\\").replace('"', '\\"') + '"'


def _word(text: str) -> str:
    """Write a word bare where YAML takes it as it is; whatever else is typed cannot break the sheet."""
    return text if _PLAIN.fullmatch(text) else _quote(text)


def _list(words: Iterable[str]) -> str:
    return "[" + ", ".join(map(_word, words)) + "]"


def _write_set(words: list[str]) -> str:
    rest = [word for word in words[2:] if word != "idler"]
    stated = dict(zip(rest[0::2], rest[1::2], strict=True))
    ratios = {name: stated.pop(name) for name in SET_KINDS[words[1]].ratios if name in stated}
    parts = [f"kind: {words[1]}", *(["idler: yes"] if "idler" in words else [])]
    parts += [f"{name}: {_word(ratio)}" for name, ratio in ratios.items()]
    teeth = ", ".join(f"{_word(name)}: {_word(count)}" for name, count in stated.items())
    parts += [f"teeth: {{{teeth}}}"] if teeth else []
    return f"  {_word(words[0])}: {{{', '.join(parts)}}}"


def _write_element(words: list[str]) -> str:
    ends = words[2:]
    tie = f", holds: {_word(ends[0])}" if len(ends) == 1 else f", between: {_list(ends)}" if ends else ""
    return f"- {{id: {_word(words[0])}, type: {words[1]}{tie}}}"


def _applied(words: list[str]) -> str:
    """Write what is applied, and in brackets what only gives engine braking."""
    text = " ".join(words)
    coast = [word for group in re.findall(r"\(([^)]*)\)", text) for word in group.split()]
    on = re.sub(r"\([^)]*\)", " ", text).split()
    return f"on: {_list(on)}" + (f", coast: {_list(coast)}" if coast else "")


def _write_gear(words: list[str]) -> str:
    ratio = "" if words[1] == "-" else f"ratio: {words[1]}, "
    return f"  {_quote(words[0])}: {{{ratio}{_applied(words[2:])}}}"


def _write_solenoid(words: list[str]) -> str:
    rest = words[3:]
    parts = [f"id: {_word(words[0])}", f"type: {words[1]}"]
    parts += [f"code_letter: {_quote(words[2])}"] if len(words) > 2 and words[2] != "-" else []
    if "on" in rest:
        cut = rest.index("on")
        parts.append(f"on_in: {_list(rest[cut + 1 :])}")
        rest = rest[:cut]
    without_power = [word for word in rest if word in ("releases", "applies")]
    controls = [word for word in rest if word not in without_power]
    parts += [f"controls: {_list(controls)}"] if controls else []
    parts += [f"unpowered: {without_power[0]}"] if without_power else []
    return "- {" + ", ".join(parts) + "}"


_WRITERS: dict[str, Callable[[list[str]], str]] = {
    "sets": _write_set,
    "joined": lambda words: f"- {_list(words)}",
    "elements": _write_element,
    "gears": _write_gear,
    "ranges": lambda words: f"  {_quote(words[0])}: {{gear: {_quote(words[1])}, {_applied(words[2:])}}}",
    "solenoids": _write_solenoid,
    "fill_litres": lambda words: f"fluid: {{fill_litres: {_word(' '.join(words))}}}",
}
