"""Write a unit sheet by questions and answers, from what a workshop manual prints; no input or output here.

A draft is never changed: every answer gives a new one, so that a step back costs nothing.
"""

import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field, replace

from shiftlore.basics import Problem, nearest
from shiftlore.gearing import check_sheet
from shiftlore.sheets import read_sheet

SET_KINDS = ("simple", "double_pinion", "ravigneaux", "stepped", "pair", "chain", "variator")
ELEMENT_TYPES = ("clutch", "brake", "band", "one_way_clutch", "dog", "converter_clutch")
SOLENOID_TYPES = ("on_off", "pressure_control", "tcc", "line")
TEETH = {
    "simple": ("sun", "ring"),
    "double_pinion": ("sun", "ring"),
    "ravigneaux": ("small_sun", "large_sun", "ring"),
    "stepped": ("sun", "pinion_at_sun", "pinion_at_ring", "ring"),
    "pair": ("drive", "driven"),
    "chain": ("drive", "driven"),
    "variator": (),
}
_ID = re.compile(r"[a-z][a-z0-9]*(_[a-z0-9]+)*")


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

    def first(self, key: str) -> str:
        """Give the one line answered under a key, or an empty text."""
        return next(iter(self.lines(key)), "")


QUESTIONS = (
    SheetQuestion("id", "Short name of the unit: small letters, digits, underscores?", "long5"),
    SheetQuestion("label", "What is it, in words?", "Five-speed longitudinal automatic"),
    SheetQuestion(
        "tags",
        "Which of these fit: step, cvt or dct; fwd, rwd; converter, module_inside, range_switch_inside, transfer_case?",
        "step rwd converter module_inside",
    ),
    SheetQuestion(
        "sets",
        "One gear set: name, kind and, if printed, its teeth (kinds: " + ", ".join(SET_KINDS) + ")."
        " Empty when all are named, or if the manual does not show them.",
        "front simple sun 37 ring 71",
        many=True,
        may_skip=True,
    ),
    SheetQuestion(
        "input",
        "Which members are fast to the input shaft? Empty if only clutches lead there.",
        "front.ring",
        may_skip=True,
    ),
    SheetQuestion("output", "Which member is fast to the output shaft?", "rear.carrier", may_skip=True),
    SheetQuestion("held", "Which members never turn? Empty if none.", "front.sun", may_skip=True),
    SheetQuestion(
        "joined",
        "Members that always turn together, one group at a time. Empty when done.",
        "front.carrier rear.ring",
        many=True,
        may_skip=True,
    ),
    SheetQuestion(
        "elements",
        "One clutch, brake, band or one-way clutch: name, type, then the member it holds, or the two it joins."
        " Empty when done.",
        "c1 clutch input front.sun",
        many=True,
    ),
    SheetQuestion(
        "gears",
        "One line of the chart: gear, printed ratio or -, then what is applied; ( ) round what only gives engine"
        " braking. Empty when done.",
        "1 3.59 c1 f1 (b2)",
        many=True,
    ),
    SheetQuestion(
        "ranges",
        "Held ranges: name, gear it holds, then what is applied. Empty when done.",
        "1_held 1 c1 b2",
        many=True,
        may_skip=True,
    ),
    SheetQuestion(
        "solenoids",
        "One solenoid: name, type (" + ", ".join(SOLENOID_TYPES) + "), code letter or -, then what it controls and"
        " 'releases' or 'applies' for what happens without power; or 'on' and the gears in which it is on. Empty when"
        " done.",
        "sol_a on_off A on 1 2",
        many=True,
        may_skip=True,
    ),
    SheetQuestion(
        "failsafe_gear", "Which gear is left when the module gives up? Empty if not known.", "4", may_skip=True
    ),
    SheetQuestion("lockup_gears", "In which gears may the converter clutch work?", "3 4 5", may_skip=True),
    SheetQuestion("fill_litres", "Fluid for a dry fill, in litres?", "9.0", may_skip=True),
)
REPAIR = SheetQuestion(
    "repair",
    "Give a line again to put it right, with set, element, gear, range or solenoid before it. Empty to leave it.",
    "gear 3 1.41 c1 c2 b2",
    many=True,
    may_skip=True,
)
_REPAIRS = {"set": "sets", "element": "elements", "gear": "gears", "range": "ranges", "solenoid": "solenoids"}
_NEEDS_SETS = ("input", "output", "held", "joined")


def start_sheet() -> SheetDraft:
    """Begin an empty draft."""
    return SheetDraft()


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
    fault = _CHECKS.get(question.key, _accept)(draft, words)
    if fault:
        return draft, fault
    line = text.strip() if question.key == "label" else " ".join(words)
    added = _put(draft, question.key, line, question.many)
    return (added if question.many else _step(added, draft)), ""


def go_back(draft: SheetDraft) -> SheetDraft:
    """Take the last answer back."""
    return draft.before or draft


def check_draft(draft: SheetDraft) -> list[Problem]:
    """Give every problem that the sheet would have as it stands."""
    sheet, problems = read_sheet(write_sheet(draft), f"{draft.first('id') or 'sheet'}.yaml")
    if sheet is None or any(problem.severity == "error" for problem in problems):
        return problems
    return [*problems, *check_sheet(sheet)]


def _put(draft: SheetDraft, key: str, line: str, many: bool) -> SheetDraft:
    """Add a line, or put it in the place of the one with the same name."""
    name = line.split()[0]
    old = draft.lines(key) if many else ()
    same = [item for item in old if item.split()[0] == name and key != "joined"]
    lines = tuple(line if item in same else item for item in old) if same else (*old, line)
    return SheetDraft(draft.place, tuple({**dict(draft.answers), key: lines}.items()), draft)


def _step(draft: SheetDraft, before: SheetDraft | None = None) -> SheetDraft:
    place = draft.place + 1
    skip = not draft.lines("sets")
    while place < len(QUESTIONS) and skip and QUESTIONS[place].key in _NEEDS_SETS:
        place += 1
    return replace(draft, place=place, before=before or draft)


def _repair(draft: SheetDraft, words: list[str]) -> tuple[SheetDraft, str]:
    if not words:
        return replace(draft, place=draft.place + 1, before=draft), ""
    key = _REPAIRS.get(words[0])
    if key is None or len(words) < 2:
        return draft, "Begin with one of: " + ", ".join(_REPAIRS) + f". Such as: {REPAIR.example}"
    fault = _CHECKS[key](draft, words[1:])
    return (draft, fault) if fault else (_put(draft, key, " ".join(words[1:]), True), "")


def _accept(draft: SheetDraft, words: list[str]) -> str:
    return ""


def _check_id(draft: SheetDraft, words: list[str]) -> str:
    good = len(words) == 1 and _ID.fullmatch(words[0])
    return "" if good else "Use small letters, digits and single underscores, such as long5."


def _check_set(draft: SheetDraft, words: list[str]) -> str:
    if not _ID.fullmatch(words[0]):
        return "Begin with a name in small letters, such as front."
    if len(words) < 2 or words[1] not in SET_KINDS:
        return "After the name comes its kind, one of: " + ", ".join(SET_KINDS) + "."
    rest = [word for word in words[2:] if word != "idler"]
    names, counts = rest[0::2], rest[1::2]
    wrong = [name for name in names if name not in TEETH[words[1]]]
    if wrong or len(names) != len(counts) or not all(count.isdigit() for count in counts):
        return "Teeth stand as name and number: " + " ".join(f"{name} 40" for name in TEETH[words[1]]) + "."
    return ""


def _members(draft: SheetDraft) -> list[str]:
    found = ["input", "output", "engine", "case"]
    parts = {
        "ravigneaux": ("small_sun", "large_sun", "ring", "second_ring", "carrier"),
        "pair": ("drive", "driven"),
        "chain": ("drive", "driven"),
        "variator": ("primary", "secondary"),
        "stepped": ("sun", "ring", "second_sun", "second_ring", "carrier"),
    }
    for line in draft.lines("sets"):
        name, kind = line.split()[:2]
        found += [f"{name}.{part}" for part in parts.get(kind, ("sun", "ring", "carrier"))]
    return found


def _check_known(words: Iterable[str], known: list[str], what: str) -> str:
    for word in words:
        if word not in known:
            near = nearest(word, known, 1)
            return f'There is no {what} "{word}". ' + (
                f"Nearest: {near[0]}." if near else f"Known: {', '.join(known)}."
            )
    return ""


def _check_members(draft: SheetDraft, words: list[str]) -> str:
    return _check_known((word for word in words if "." in word or not _ID.fullmatch(word)), _members(draft), "member")


def _check_element(draft: SheetDraft, words: list[str]) -> str:
    if not _ID.fullmatch(words[0]):
        return "Begin with a name in small letters, such as c1."
    if len(words) < 2 or words[1] not in ELEMENT_TYPES:
        return "After the name comes its type, one of: " + ", ".join(ELEMENT_TYPES) + "."
    ends = words[2:]
    if draft.lines("sets") and words[1] != "converter_clutch":
        wanted = (1,) if words[1] in ("brake", "band") else (2,) if words[1] == "clutch" else (1, 2)
        if len(ends) not in wanted:
            return "Name the member that it holds, or the two that it joins (brakes hold one, clutches join two)."
    return _check_members(draft, ends)


def _elements(draft: SheetDraft) -> list[str]:
    return [line.split()[0] for line in draft.lines("elements")]


def _check_gear(draft: SheetDraft, words: list[str]) -> str:
    if len(words) < 2 or (words[1] != "-" and not _is_number(words[1])):
        return "After the gear comes its ratio, or - if none is printed."
    return _check_known((word.strip("()") for word in words[2:] if word.strip("()")), _elements(draft), "element")


def _check_range(draft: SheetDraft, words: list[str]) -> str:
    gears = [line.split()[0] for line in draft.lines("gears")]
    if len(words) < 2 or words[1] not in gears:
        return "After the range's name comes the gear that it holds, one of: " + ", ".join(gears) + "."
    return _check_known((word.strip("()") for word in words[2:]), _elements(draft), "element")


def _check_solenoid(draft: SheetDraft, words: list[str]) -> str:
    if not _ID.fullmatch(words[0]) or len(words) < 2 or words[1] not in SOLENOID_TYPES:
        return "Write its name and its type, one of: " + ", ".join(SOLENOID_TYPES) + "."
    rest = words[3:]
    if "on" in rest:
        gears = [line.split()[0] for key in ("gears", "ranges") for line in draft.lines(key)]
        cut = rest.index("on")
        return _check_known(rest[cut + 1 :], gears, "gear")
    return _check_known((word for word in rest if word not in ("releases", "applies")), _elements(draft), "element")


def _check_gear_names(draft: SheetDraft, words: list[str]) -> str:
    return _check_known(words, [line.split()[0] for line in draft.lines("gears")], "gear")


def _check_litres(draft: SheetDraft, words: list[str]) -> str:
    return "" if len(words) == 1 and _is_number(words[0]) else "Write one number, such as 9.0."


def _is_number(word: str) -> bool:
    return bool(re.fullmatch(r"-?[0-9]+(\.[0-9]+)?", word))


_CHECKS: dict[str, Callable[[SheetDraft, list[str]], str]] = {
    "id": _check_id,
    "sets": _check_set,
    "input": _check_members,
    "output": _check_members,
    "held": _check_members,
    "joined": _check_members,
    "elements": _check_element,
    "gears": _check_gear,
    "ranges": _check_range,
    "solenoids": _check_solenoid,
    "failsafe_gear": _check_gear_names,
    "lockup_gears": _check_gear_names,
    "fill_litres": _check_litres,
}


def write_sheet(draft: SheetDraft) -> str:
    """Write the draft as the YAML text of a unit sheet."""
    rows = [f"id: {draft.first('id')}", f"label: {_quote(draft.first('label'))}"]
    rows.append(f"tags: [{_list(draft.first('tags').split())}]")
    if draft.first("fill_litres"):
        rows.append(f"fluid: {{fill_litres: {draft.first('fill_litres')}}}")
    rows += _section("sets", draft, _write_set)
    shafts = sorted(_free_shafts(draft))
    if shafts:
        rows.append(f"shafts: [{_list(shafts)}]")
    for key in ("input", "output", "held"):
        if draft.first(key):
            rows.append(f"{key}: [{_list(draft.first(key).split())}]")
    rows += _section("joined", draft, lambda words: f"- [{_list(words)}]")
    rows += _section("elements", draft, _write_element)
    rows += _section("gears", draft, _write_gear)
    rows += _section("ranges", draft, _write_range)
    rows += _section("solenoids", draft, _write_solenoid)
    if draft.first("failsafe_gear"):
        rows.append(f"failsafe_gear: {_quote(draft.first('failsafe_gear'))}")
    if draft.first("lockup_gears"):
        rows.append("lockup_gears: [" + ", ".join(_quote(name) for name in draft.first("lockup_gears").split()) + "]")
    return "\n".join(rows) + "\n"


def _section(key: str, draft: SheetDraft, write: Callable[[list[str]], str]) -> list[str]:
    lines = draft.lines(key)
    return ["", f"{key}:", *(write(line.split()) for line in lines)] if lines else []


def _free_shafts(draft: SheetDraft) -> set[str]:
    """Find the names of shafts that belong to no set, such as a hub between two clutches."""
    words = {word for line in draft.lines("joined") for word in line.split()}
    words |= {word for line in draft.lines("elements") for word in line.split()[2:]}
    return {word for word in words if "." not in word} - {"input", "output", "engine", "case"}


def _quote(text: str) -> str:
    return '"' + text.replace("\\", "\\\\").replace('"', '\\"') + '"'


def _list(words: Iterable[str]) -> str:
    return ", ".join(words)


def _write_set(words: list[str]) -> str:
    rest = [word for word in words[2:] if word != "idler"]
    teeth = _list(f"{name}: {count}" for name, count in zip(rest[0::2], rest[1::2], strict=True))
    idler = ", idler: yes" if "idler" in words else ""
    return f"  {words[0]}: {{kind: {words[1]}{idler}" + (f", teeth: {{{teeth}}}" if teeth else "") + "}"


def _write_element(words: list[str]) -> str:
    ends = words[2:]
    tie = f", holds: {ends[0]}" if len(ends) == 1 else f", between: [{_list(ends)}]" if ends else ""
    return f"- {{id: {words[0]}, type: {words[1]}{tie}}}"


def _applied(words: list[str]) -> str:
    """Write what is applied, and in brackets what only gives engine braking."""
    text = " ".join(words)
    coast = [word for group in re.findall(r"\(([^)]*)\)", text) for word in group.split()]
    on = re.sub(r"\([^)]*\)", " ", text).split()
    return f"on: [{_list(on)}]" + (f", coast: [{_list(coast)}]" if coast else "")


def _write_gear(words: list[str]) -> str:
    ratio = "" if words[1] == "-" else f"ratio: {words[1]}, "
    return f"  {_quote(words[0])}: {{{ratio}{_applied(words[2:])}}}"


def _write_range(words: list[str]) -> str:
    return f"  {_quote(words[0])}: {{gear: {_quote(words[1])}, {_applied(words[2:])}}}"


def _write_solenoid(words: list[str]) -> str:
    rest = words[3:]
    parts = [f"id: {words[0]}", f"type: {words[1]}"]
    if len(words) > 2 and words[2] != "-":
        parts.append(f"code_letter: {_quote(words[2])}")
    if "on" in rest:
        cut = rest.index("on")
        parts.append("on_in: [" + ", ".join(_quote(name) for name in rest[cut + 1 :]) + "]")
        rest = rest[:cut]
    without_power = [word for word in rest if word in ("releases", "applies")]
    controls = [word for word in rest if word not in without_power]
    if controls:
        parts.append(f"controls: [{_list(controls)}]")
    if without_power:
        parts.append(f"unpowered: {without_power[0]}")
    return "- {" + ", ".join(parts) + "}"
