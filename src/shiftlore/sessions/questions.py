"""Questions and replies of an interview as data, and what was typed at a prompt: an answer, a doubt, or a command."""

import re
from dataclasses import dataclass
from enum import Enum

from shiftlore.basics import UsageProblem

THINK_SO = "think_so"
LONGEST_LINE = 2_000
HIGHEST_NUMBER = 3_000_000


@dataclass(frozen=True, slots=True)
class Choice:
    """One answer that can be picked: `key` is what the case records, `label` what is shown."""

    key: str
    label: str


@dataclass(frozen=True, slots=True)
class Question:
    """One question.

    Args:
        id: finding, background or a name of the interview's own (`unit`, `odometer_km`, `complaint`, ...).
        kind: ``choice`` (one of), ``which`` (any of), ``number``, ``words``, ``confirm`` (any of, all taken at first).
        choices: what can be picked; for a yes/no finding ``yes`` and ``no``.
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


@dataclass(frozen=True, slots=True)
class Reply:
    """What was answered.

    Args:
        keys: picked keys; empty with `known` means none of them.
        text: free text or a number as typed.
        known: False for "don't know".
        doubt: None if sure, else a word of the knowledge such as ``think_so``.
    """

    keys: tuple[str, ...] = ()
    text: str = ""
    known: bool = True
    doubt: str | None = None


class Command(Enum):
    """What can be typed at any prompt instead of an answer."""

    BACK = "back"
    WHY = "why"
    RANKING = "ranking"
    STOP = "stop"
    HELP = "help"
    CHECKS = "checks"


_SIGNS = {"b": Command.BACK, "w": Command.WHY, "why?": Command.WHY, "r": Command.RANKING, "c": Command.CHECKS,
          "q": Command.STOP, "quit": Command.STOP, "h": Command.HELP}  # fmt: skip
_COMMANDS = {command.value: command for command in Command} | _SIGNS
_NOT_KNOWN = {"?", "d", "dk", "don't know", "dont know", "not known", "unknown", "skip", "-"}
_YES, _NO = {"y", "yes"}, {"n", "no", "none", "no one", "0"}
_UNSURE = re.compile(r"^(?:think[ -]?so|i think|probably|maybe)[ :,]*(.*)$|^(.+?)\s*(?:\?|~)$")

HELP_LINES = (
    "y or n: yes or no; a number picks from a list; several numbers pick several, 0 or none picks none",
    "y? or n? (or 2?): you think so, but are not sure",
    "?: not known",
    "say ...: tell it in your own words, such as: say bangs into second when hot",
    "b: back to the last question; w: why is this asked; r: show the ranking; c: the next checks",
    "q: stop; everything answered is saved, and the same command goes on from here",
)


def read_command(text: str) -> Command | None:
    """Give the command that a line is, or None where it is something else."""
    return _COMMANDS.get(text.strip().lower())


def parse_reply(question: Question, line: str) -> Reply | Command | str:
    """Read one line typed at a question.

    Returns: a reply, a command, or the free text after ``say`` (without the word).
    Raises: UsageProblem: nothing can be made of it; says what can be typed.
    """
    text = " ".join(line[:LONGEST_LINE].split())
    lowered = text.lower()
    if (command := read_command(lowered)) is not None:
        return command
    if lowered.startswith("say "):
        return text[len("say ") :].strip()
    if lowered.startswith('"'):
        return text.strip('" ')
    if lowered in _NOT_KNOWN or (not lowered and question.optional and question.kind not in ("confirm", "which")):
        if not question.optional:
            raise UsageProblem("This one is needed. " + _what_to_type(question))
        return Reply(known=False)
    if question.kind == "words":
        return Reply(text=text)
    if question.kind == "number":
        return Reply(text=_read_number(text))
    if unsure := _UNSURE.match(lowered):
        rest = (unsure.group(1) or unsure.group(2) or "yes").strip()
        return Reply(_read_keys(question, rest), doubt=THINK_SO)
    return Reply(_read_keys(question, lowered))


def _read_number(text: str) -> str:
    """Read a distance: thousands separators, a trailing km or a k for thousand are fine; miles are converted."""
    match = re.fullmatch(r"(\d[\d\s,.']*)\s*(k?)\s*(km|kilomet(?:re|er)s?|mi|miles?)?", text.lower())
    try:
        digits, thousand, unit = match.groups("") if match else ("", "", "")
        number = float(re.sub(r"[\s,.'](?=\d{3}\b)", "", digits).rstrip(" ,.'").replace(",", "."))
    except ValueError as error:
        raise UsageProblem("Write the distance in kilometres, such as 182000, or ? if it is not known.") from error
    number *= (1000 if thousand else 1) * (1.609344 if unit.startswith("mi") else 1)
    if not 0 <= number <= HIGHEST_NUMBER:
        raise UsageProblem(f"Write a distance from 0 to {HIGHEST_NUMBER:,} km.")
    return str(round(number))


def _read_keys(question: Question, text: str) -> tuple[str, ...]:
    """Find the picked choices: yes and no, numbers of the list, or words of the labels.

    What is named of things to confirm is wrong: all the others are picked.
    """
    keys = tuple(choice.key for choice in question.choices)
    is_list = question.kind in ("confirm", "which")
    if question.kind == "confirm" and (text in _YES or not text):
        return keys
    if is_list and text == "all":
        return keys
    if is_list and (text in _NO or not text):
        return ()
    if is_list:
        named = tuple(_pick_one(question, word) for word in re.split(r"[,;\s]+", text) if word)
        return named if question.kind == "which" else tuple(key for key in keys if key not in named)
    if keys == ("yes", "no") and text in _YES | _NO:
        return ("yes",) if text in _YES else ("no",)
    return (_pick_one(question, text),)


def _pick_one(question: Question, text: str) -> str:
    """Find one choice by its number, key or label."""
    keys = [choice.key for choice in question.choices]
    if text.isdecimal() and 1 <= int(text) <= len(keys):
        return keys[int(text) - 1]
    exact = [choice.key for choice in question.choices if text in (choice.key.lower(), choice.label.lower())]
    starting = [choice.key for choice in question.choices if text and choice.label.lower().startswith(text)]
    found = exact or starting
    if len(found) != 1:
        raise UsageProblem(_what_to_type(question))
    return found[0]


def _what_to_type(question: Question) -> str:
    """Say what can be typed at a question."""
    count = len(question.choices)
    if question.kind == "number":
        return "Write a number, or ? if it is not known."
    if question.kind == "confirm":
        return "Write y if all of it is right, n if none is, or the numbers that are wrong."
    if [choice.key for choice in question.choices] == ["yes", "no"]:
        return "Write y, n, y? or n? if you only think so, ? if it is not known, or h for help."
    if question.kind == "which":
        return f"Write the numbers that hold, 1 to {count}, or 0 for none, or ? if it is not known."
    return f"Write a number from 1 to {count}" + (", or ? if it is not known." if question.optional else ".")
