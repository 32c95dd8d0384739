"""Questions and replies of an interview as data, and what typed words mean.

An answer, a doubt, a command; trouble codes; answers to confirm; what came of a job.
"""

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from enum import Enum

from shiftlore.basics import Mark, UsageProblem
from shiftlore.basics.quantities import QUANTITIES
from shiftlore.cases import CAME_BACK, CURED, EITHER, NOT_CURED, ODOMETER, Answer, Done, Measured
from shiftlore.compiling import CompiledCase
from shiftlore.reading import CODE_FORM
from shiftlore.words import read_report

THINK_SO = "think_so"
LONGEST_LINE = 2_000
HIGHEST_NUMBER = 3_000_000
KM_A_MILE = 1.609344
LEAST_BARE_KM = 1_000
"""A distance below this is asked for again with its unit: 3 may be meant as 3,000 km, or as no distance at all."""


@dataclass(frozen=True, slots=True)
class Choice:
    """One answer that can be picked: `key` is what the case records, `label` what is shown.

    Args:
        mark: what is typed for it, such as the gear that it names; "" for its number in the list.
    """

    key: str
    label: str
    mark: str = ""


@dataclass(frozen=True, slots=True)
class Question:
    """One question.

    Args:
        id: finding, background or a name of the interview's own (`unit`, `odometer_km`, `complaint`, ...).
        kind: ``choice`` (one of), ``which`` (any of), ``each`` (at most one for each finding, nothing said of the rest),
            ``number``, ``words``, ``confirm`` (any of, all taken at first).
        choices: what can be picked; for a yes/no finding ``yes`` and ``no``; of ``each`` and ``confirm`` `id=answer`.
        members: the ids that the question answers together (``which``), else only its own.
        why: why it is asked, in words.
        cost: what asking costs, in words.
        optional: whether "don't know" is an answer.
    """

    id: str
    kind: str
    text: str
    choices: tuple[Choice, ...] = ()
    members: tuple[str, ...] = ()
    why: str = ""
    cost: str = "nothing"
    optional: bool = True

    @property
    def is_yes_no(self) -> bool:
        """Tell whether yes and no are all that can be answered."""
        return [choice.key for choice in self.choices] == ["yes", "no"]

    @property
    def marks(self) -> tuple[str, ...]:
        """List what is typed for each choice."""
        return tuple(choice.mark or str(place) for place, choice in enumerate(self.choices, 1))


@dataclass(frozen=True, slots=True)
class Reply:
    """What was answered.

    Args:
        keys: picked keys; empty with `known` means none of them.
        text: free text or a number as typed.
        known: False for "don't know".
        doubt: None if sure, else a word of the knowledge such as ``think_so``.
        rest_known: False where nothing is said of what was not picked.
    """

    keys: tuple[str, ...] = ()
    text: str = ""
    known: bool = True
    doubt: str | None = None
    rest_known: bool = True


@dataclass(frozen=True, slots=True)
class Proposal:
    """An answer that was read out of free text, waiting to be confirmed.

    Args:
        key: finding, background, code, the distance, or the name of a number; grade: its answer, or the number.
        doubt, when: as in the case's `Answer`.
        either: answers of which one was said, not which; `key` then joins theirs.
    """

    key: str
    grade: str
    doubt: str | None = None
    when: tuple[str, ...] = ()
    measured: Measured | None = None
    either: tuple[Answer, ...] = ()


class Command(Enum):
    """What can be typed at any prompt instead of an answer."""

    BACK = "back"
    WHY = "why"
    RANKING = "ranking"
    STOP = "stop"
    HELP = "help"
    CHECKS = "checks"
    MORE = "more"
    KNOWN = "known"


_SIGNS = {"b": Command.BACK, "w": Command.WHY, "why?": Command.WHY, "r": Command.RANKING, "c": Command.CHECKS,
          "q": Command.STOP, "quit": Command.STOP, "h": Command.HELP, "m": Command.MORE, "k": Command.KNOWN}  # fmt: skip
_COMMANDS = {command.value: command for command in Command} | _SIGNS
_NOT_KNOWN = {"?", "d", "dk", "don't know", "dont know", "not known", "unknown", "skip", "-"}
_NOT_LOOKED = re.compile(
    r"(?:(?:i|we|they|he|she|it) )?(?:(?:have|has|did|was|were)(?:n't| not)|not|never|(?:nobody|no one)(?: has|'s)?) (?:yet )?"
    r"(?:been )?(?:look(?:ed)?|check(?:ed)?|measured?|tested|tried|seen)(?: (?:at )?it| there)?(?: yet)?"
)
_YES, _NO = {"y", "yes"}, {"n", "no"}
_NONE = {*_NO, "none", "no one", "0"}
_NOTHING = re.compile(r"(?:there (?:is|was) )?(?:nothing|none)(?: (?:in (?:it|there)|there|found|at all))*[.!]?")
_UNSURE = re.compile(r"^(?:think[ -]?so|i think|probably|maybe)[ :,]*(.*)$|^(.+?)\s*(?:\?|~)$")
_REST_OPEN = re.compile(r"[,;\s]*\brest\s*(?:\?|not known|unknown)$")
_ORDINAL = re.compile(r"\b(\d+)(?:st|nd|rd|th)\b")
_PAIR = re.compile(r"\b(\d+)\s*(?:-|–|>|/|to)\s*(\d+)\b")
_NUMERALS = ("first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth", "ninth", "tenth")

HELP_LINES = (
    "y or n: yes or no; what stands before a line picks it; several pick several, 0 or none picks none",
    "y? or n? (or 2?): you think so, but are not sure; 1 3, rest ?: what is left out stays open, else it is no",
    "?: not known; Enter alone answers nothing",
    "a trouble code, such as P0732, is taken wherever it is typed",
    "anything in your own words: bangs into second when hot; no, the fluid is amber. You are asked whether it was "
    "understood; an answer given before is then corrected",
    "b: take the last answer back and ask it again; w: why is this asked; k: all that is known so far",
    "r: the ranking; c: the next checks; m: more questions; explain ...: what a cause, check or job is",
    "q: stop; everything answered is saved, and the same command goes on from here",
)


def read_command(text: str) -> Command | None:
    """Give the command that a line is, or None where it is something else."""
    return _COMMANDS.get(text.strip().lower())


def parse_reply(question: Question, line: str) -> Reply:
    """Read one line typed at a question as its answer.

    Raises: UsageProblem: nothing can be made of it; says what can be typed.
    """
    text = " ".join(line[:LONGEST_LINE].split())
    lowered = text.lower()
    if not lowered:
        raise UsageProblem("Nothing was typed, so nothing is answered. " + what_to_type(question))
    if lowered in _NOT_KNOWN or (question.kind != "words" and _NOT_LOOKED.fullmatch(lowered.rstrip(".!"))):
        if not question.optional or question.kind == "confirm":
            raise UsageProblem("This one is needed. " + what_to_type(question))
        return Reply(known=False)
    if question.kind == "words":
        return Reply(text=text)
    if question.kind == "number":
        return Reply(text=_read_number(text))
    if question.kind == "which" and (rest := _REST_OPEN.search(lowered)):
        return Reply(_read_keys(question, lowered[: rest.start()]), rest_known=False)
    if unsure := _UNSURE.match(lowered):
        rest_of_line = (unsure.group(1) or unsure.group(2) or "yes").strip()
        return Reply(_read_keys(question, rest_of_line), doubt=THINK_SO)
    return Reply(_read_keys(question, lowered))


def _read_number(text: str) -> str:
    """Read a distance: thousands separators, a trailing km or a k for thousand are fine; miles are converted."""
    match = re.fullmatch(r"(\d[\d\s,.']*)\s*(k?)\s*(km|kilomet(?:re|er)s?|mi|miles?)?", text.lower())
    try:
        digits, thousand, unit = match.groups("") if match else ("", "", "")
        number = float(re.sub(r"[\s,.'](?=\d{3}\b)", "", digits).rstrip(" ,.'").replace(",", "."))
    except ValueError as error:
        raise UsageProblem("Write the distance in kilometres, such as 182000, or ? if it is not known.") from error
    if number < LEAST_BARE_KM and not (thousand or unit):
        raise UsageProblem(f"Is that {number:g} km or {number:g},000 km? Write {number:g} km, or {number:g}k.")
    number *= (1000 if thousand else 1) * (KM_A_MILE if unit.startswith("mi") else 1)
    if not 0 <= number <= HIGHEST_NUMBER:
        raise UsageProblem(f"Write a distance from 0 to {HIGHEST_NUMBER:,} km.")
    return str(round(number))


def _read_keys(question: Question, text: str) -> tuple[str, ...]:
    """Find the picked choices: yes and no, what is typed for them, or words of the labels.

    What is named of things to confirm is wrong: all the others are picked.
    """
    keys = tuple(choice.key for choice in question.choices)
    if question.is_yes_no:
        if text not in _YES | _NO:
            raise UsageProblem(what_to_type(question))
        return ("yes",) if text in _YES else ("no",)
    if question.kind == "choice":
        return (_pick_one(question, text),)
    if text == "all" or (question.kind == "confirm" and text in _YES):
        return keys
    if text in _NONE or (question.kind == "which" and _NOTHING.fullmatch(text)):
        return ()
    named = _pick_several(question, text)
    return tuple(key for key in keys if key not in named) if question.kind == "confirm" else named


def _pick_several(question: Question, text: str) -> tuple[str, ...]:
    """Find several choices in one line; a gear is also named as people say it: 2nd, second, gear 2, second to third.

    Raises: UsageProblem: a word is none of them, or two answers are picked for one finding.
    """
    words = [set(re.findall(r"[\w-]+", choice.label.lower())) for choice in question.choices]
    common, named = (
        {"and"},
        {mark.lower(): choice.key for mark, choice in zip(question.marks, question.choices, strict=True)},
    )
    if any(choice.mark for choice in question.choices):
        text = _PAIR.sub(r"\1-\2", _ORDINAL.sub(r"\1", " ".join(map(_as_digit, text.split()))))
        shared = {word for own in words for word in own if sum(word in other for other in words) > 1}
        only = [
            (word, choice.key) for own, choice in zip(words, question.choices, strict=True) for word in own - shared
        ]
        named = {word: key for word, key in only if not word.isdecimal()} | named
        common |= shared
    found = []
    for word in re.split(r"[,;\s]+", text):
        if word and word in named:
            found.append(named[word])
        elif word and word not in common:
            return (_pick_one(question, text),)
    if not found:
        raise UsageProblem(what_to_type(question))
    if question.kind == "each" and len({key.split("=")[0] for key in found}) < len(set(found)):
        raise UsageProblem("Two answers to one thing. " + what_to_type(question))
    return tuple(dict.fromkeys(found))


def _as_digit(word: str) -> str:
    return str(_NUMERALS.index(word) + 1) if word in _NUMERALS else word


def _pick_one(question: Question, text: str) -> str:
    """Find one choice by what is typed for it, key or label."""
    marks = [mark.lower() for mark in question.marks]
    if text in marks:
        return question.choices[marks.index(text)].key
    exact = [choice.key for choice in question.choices if text in (choice.key.lower(), choice.label.lower())]
    starting = [choice.key for choice in question.choices if text and choice.label.lower().startswith(text)]
    if _NOTHING.fullmatch(text):  # "nothing in it", of the pan
        starting = [one.key for one in question.choices if re.match(r"no(?:ne|thing)?\b|hardly any", one.label.lower())]
    found = exact or starting
    if len(found) != 1:
        raise UsageProblem(what_to_type(question))
    return found[0]


def what_to_type(question: Question) -> str:
    """Say what can be typed at a question."""
    marks = question.marks
    span = f"{marks[0]} to {marks[-1]}" if marks else ""
    if question.kind == "number":
        return "Write a number, or ? if it is not known."
    if question.kind == "words":
        return "Say it in your own words, or ? if it is not known."
    if question.kind == "confirm":
        return "Write y if all of it is right, n if none is, or the numbers that are wrong."
    if question.is_yes_no:
        return "Write y, n, y? or n? if you only think so, ? if it is not known, or h for help."
    if question.kind == "which":
        return f"Write those that hold ({span}), or 0 for none, or ? if it is not known."
    if question.kind == "each":
        return f"Write the numbers that hold ({span}), one for each, or ? if nothing is known."
    return f"Write a number from {span}" + (", or ? if it is not known." if question.optional else ".")


MOST_NAMED = 6
LETTERS_COMPARED = 5
"""A word of a label is meant if it begins with so many letters of what was typed (judgement)."""
NAME_FIRST = "Name the transmission first."
NOTHING_NEW = (
    "Nothing new was found in that. Say it in other words, such as: slips in second when hot; bangs into "
    "Reverse; does not shift up. Or answer ? to go on."
)
NOT_DONE = "not done"
_OF_ONE = re.compile(
    rf"(?:the|no\.?|number)\s+(?P<which>\d+(?:st|nd|rd|th)?|{'|'.join(_NUMERALS)}|last)(?:\s+one)?\s+(?P<words>.+)",
    re.IGNORECASE,
)
_ONLY_CODES = re.compile(r"(?:[\s,;.:]|\b(?:and|codes?|stored)\b)*")
CODE_PATTERN = re.compile(rf"\b{CODE_FORM.pattern}\b", re.IGNORECASE)
_CODE_AND_DOUBT = re.compile(f"({CODE_PATTERN.pattern})(\\?)?", re.IGNORECASE)
RATIO = "ratio"
_UNITS = {unit.lower(): unit for quantity in QUANTITIES.values() for unit in quantity.units if unit != RATIO}
_NUMBER = re.compile(
    rf"(?P<number>-?\d+(?:[.,]\d+)?)\s*°?(?P<unit>{'|'.join(sorted(_UNITS, key=len, reverse=True))})\b", re.I
)
_BARE = re.compile(r"(?<![\w.,])(?P<number>\d+[.,]\d+)(?![\w.,]*\d)")
_AFTER = re.compile(r"(\d+(?:[.,]\d+)?|an?)\s*(day|week|month|year|km|kilomet|mile|mi\b)")
_DAYS = {"day": 1.0, "week": 7.0, "month": 30.0, "year": 365.0}
_KM = {"km": 1.0, "kilomet": 1.0, "mile": KM_A_MILE, "mi": KM_A_MILE}
_RESULTS = (
    (NOT_DONE, r"not (?:done|yet)|later|b"),
    (CAME_BACK, r"(?:it )?(?:came|is|has come) back\b.*|back again\b.*"),
    (NOT_CURED, r"(?:it is |it's |is )?(?:still (?:there|the same)|not (?:gone|cured|fixed)|no change|no better)"),
    (CURED, r"(?:it is |it's |is )?(?:gone|cured|fixed)"),
    ("", r"(?:it is |is )?done(?:,? (?:but )?not tried(?: yet)?)?"),
)


def find_codes(text: str) -> dict[str, str | None]:
    """Find the trouble codes of a line that holds nothing else: code -> doubt."""
    is_unsure = text.endswith(" ?")
    found = {match[1].upper(): THINK_SO if match[2] or is_unsure else None for match in _CODE_AND_DOUBT.finditer(text)}
    rest = _CODE_AND_DOUBT.sub("", text).rstrip(" ?").lower()
    return found if _ONLY_CODES.fullmatch(rest) else {}


def find_number(text: str) -> tuple[Measured | None, str]:
    """Find a number with its unit, and the words around it; a ratio has no unit but its name.

    Example:
        >>> number, words = find_number("line pressure 4.2 bar at idle")
        >>> (number.value, number.unit, words)
        (4.2, 'bar', 'line pressure at idle')
    """
    match = _NUMBER.search(text) or (_BARE.search(text) if RATIO in text.lower() else None)
    if match is None:
        return None, text
    unit = _UNITS[match["unit"].lower()] if "unit" in match.groupdict() else RATIO
    rest = " ".join(f"{text[: match.start()]} {text[match.end() :]}".split())
    return Measured(float(match["number"].replace(",", ".")), unit, mark=Mark()), rest


def name_number(compiled: CompiledCase, measured: Measured, words: str) -> str | None:
    """Find what was measured: of the numbers that a case of this unit may hold, the one that the words name best.

    Raises: UsageProblem: several fit as well.
    """
    said = {_as_digit(word)[:LETTERS_COMPARED] for word in re.findall(r"\w+", _ORDINAL.sub(r"\1", words.lower()))}
    nodes, marks = compiled.expansion.findings, {}
    for name, dials in compiled.unit.dials.by_name.items():
        if measured.unit in compiled.unit.dials.units[name]:
            own = re.findall(r"[^\W_]+", f"{name} {' '.join(nodes[dial.finding].label for dial in dials)}".lower())
            marks[name] = len(said & {word[:LETTERS_COMPARED] for word in own})
    best = [name for name, mark in marks.items() if mark and mark == max(marks.values())]
    if len(best) > 1:
        names = ", ".join(name.replace("_", " ") for name in best[:MOST_NAMED])
        raise UsageProblem(f"Say what was measured: {names}.")
    return best[0] if best else None


def read_said(compiled: CompiledCase, text: str) -> tuple[tuple[Proposal, ...], tuple[str, ...]]:
    """Read answers out of words, and list the words that were not understood.

    An either-or is one answer; where a case could not hold it, each member is proposed as a guess.
    """
    if not any(sign.isalnum() for sign in text):
        return (), ()
    parts = re.split(r"[;,]\s+|\s+and\s+", text)
    measured, left = [], []
    for part in parts:
        one, words = find_number(part)
        if one is not None and (name := name_number(compiled, one, words)):
            measured.append(Proposal(name, f"{one.value:g} {one.unit}", measured=one))
        else:
            left.append(part)
    if measured:
        others, unread = read_said(compiled, ", ".join(left))
        return (*measured, *others), unread
    report, aliases = read_report(compiled.knowledge, compiled.expansion, text), compiled.unit.aliases
    guess = next(iter(compiled.knowledge.words.doubts), None)
    found = [Proposal(aliases.get(one.code or "", one.id), one.answer, one.doubt, one.when) for one in report.answers]
    for group in report.either:
        members = [Proposal(aliases.get(one.code or "", one.id), one.answer, guess, one.when) for one in group]
        found += [joined] if (joined := _join_either(compiled, members)) else members
    codes = {code.upper() for code in CODE_PATTERN.findall(text)} - {one.code for one in report.answers}
    found += [Proposal(code, "yes") for code in sorted(codes - {*aliases, *compiled.knowledge.codes})]
    if report.odometer_km is not None:
        found.append(Proposal(ODOMETER, str(report.odometer_km)))
    return tuple(found), report.not_understood


def says_more_than_codes(text: str) -> bool:
    """Tell whether codes are typed with words around them, so that they are read and confirmed: "P0741, but that is gone"."""
    return CODE_PATTERN.search(text) is not None and not find_codes(text)


def tie_to_proposed(compiled: CompiledCase, proposed: Sequence[Proposal], text: str) -> tuple[Proposal, ...] | None:
    """Add what is said of when to what waits to be confirmed: "the first is only when warm"; None where it says more.

    Args:
        proposed: as they stand on the screen; without a number the words belong to the only one.
    """
    match = _OF_ONE.fullmatch(text)
    place = 0 if match is None else _as_place(match["which"].lower(), len(proposed))
    if not 0 <= place < len(proposed) or (match is None and len(proposed) > 1):
        return None
    found, _ = read_said(compiled, text if match is None else match["words"])
    records = compiled.knowledge.findings
    names = [records[one.key].condition for one in found if one.key in records and one.grade == "yes"]
    if not names or len(names) < len(found) or not all(names):
        return None
    when = tuple(dict.fromkeys((*proposed[place].when, *(name for name in names if name))))
    return (*proposed[:place], replace(proposed[place], when=when), *proposed[place + 1 :])


def _as_place(word: str, count: int) -> int:
    return count - 1 if word == "last" else int(re.sub(r"\D", "", _as_digit(word))) - 1


def _join_either(compiled: CompiledCase, members: Sequence[Proposal]) -> Proposal | None:
    """Make one answer of an either-or; None where a case could not hold it: mixed kinds, or a sound answer in it."""
    answers = dict.fromkeys(Answer(one.key, one.grade) for one in members)
    lives, nodes = compiled.knowledge.backgrounds, compiled.expansion.findings
    kinds = {one.finding in lives for one in answers}
    is_sound = any(one.finding in nodes and one.grade == nodes[one.finding].grades[0] for one in answers)
    if len(answers) == 1 or len(kinds) > 1 or is_sound:
        return None
    return Proposal(join_keys(answers), "", either=tuple(answers))


def join_keys(answers: Iterable[Answer]) -> str:
    """Give the name under which an either-or is asked and taken back."""
    return EITHER.join(f"{one.finding}={one.grade}" for one in answers)


def read_result(text: str) -> Done | None:
    """Read what came of a job; the id of the result is empty, or ``not done``. None where the words say nothing of it.

    Example:
        >>> read_result("came back after 3 weeks").after_days
        21.0
        >>> read_result("maybe") is None
        True
    """
    said = " ".join(text.lower().replace(",", " ").split()).rstrip(".!")
    result = next((result for result, pattern in _RESULTS if re.fullmatch(pattern, said)), None)
    if result is None or result == NOT_DONE:
        return None if result is None else Done(NOT_DONE)
    match = _AFTER.search(said) if result == CAME_BACK else None
    if match is None:
        return Done("", result)
    number = 1.0 if match[1].startswith("a") else float(match[1])
    days, km = _DAYS.get(match[2]), _KM.get(match[2])
    return Done("", result, after_km=km and number * km, after_days=days and number * days)
