"""Read what was typed at a prompt: an answer, a doubt, or one of the interview's commands."""

import re
from enum import Enum

from shiftlore.basics import UsageProblem
from shiftlore.sessions.questions import Question, Reply

THINK_SO = "think_so"
LONGEST_LINE = 2_000
HIGHEST_NUMBER = 3_000_000


class Command(Enum):
    """What can be typed at any prompt instead of an answer."""

    BACK = "back"
    WHY = "why"
    RANKING = "ranking"
    STOP = "stop"
    HELP = "help"
    CHECKS = "checks"


_COMMANDS = {
    "b": Command.BACK, "back": Command.BACK,
    "w": Command.WHY, "why": Command.WHY, "why?": Command.WHY,
    "r": Command.RANKING, "ranking": Command.RANKING,
    "c": Command.CHECKS, "checks": Command.CHECKS,
    "q": Command.STOP, "stop": Command.STOP, "quit": Command.STOP,
    "h": Command.HELP, "help": Command.HELP,
}
_NOT_KNOWN = {"?", "d", "dk", "don't know", "dont know", "not known", "unknown", "skip", "-"}
_YES = {"y", "yes"}
_NO = {"n", "no", "none", "no one", "0"}
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
    if lowered.startswith("say ") or lowered.startswith('"'):
        return text[4:].strip() if lowered.startswith("say ") else text.strip('" ')
    if lowered in _NOT_KNOWN or (not lowered and question.optional and question.kind not in ("confirm", "which")):
        if not question.optional:
            raise UsageProblem("This one is needed. " + _what_to_type(question))
        return Reply(known=False)
    if question.kind == "words":
        return Reply(text=text)
    if question.kind == "number":
        return Reply(text=_read_number(text))
    doubt, lowered = _split_doubt(lowered)
    return Reply(_read_keys(question, lowered), doubt=doubt)


def _split_doubt(text: str) -> tuple[str | None, str]:
    """Take the sign of doubt off an answer: `y?`, `think so yes`."""
    match = _UNSURE.match(text)
    if match is None:
        return None, text
    rest = (match.group(1) or match.group(2) or "yes").strip()
    return THINK_SO, rest


def _read_number(text: str) -> str:
    """Read a distance: thousands separators, a trailing km or a k for thousand are fine; miles are converted."""
    match = re.fullmatch(r"(\d[\d\s,.']*)\s*(k?)\s*(km|kilomet(?:re|er)s?|mi|miles?)?", text.lower())
    if match is None:
        raise UsageProblem("Write the distance in kilometres, such as 182000, or ? if it is not known.")
    digits = re.sub(r"[\s,.'](?=\d{3}\b)", "", match.group(1)).rstrip(" ,.'")
    try:
        number = float(digits.replace(",", "."))
    except ValueError as error:
        raise UsageProblem("Write the distance in kilometres, such as 182000, or ? if it is not known.") from error
    number *= 1000 if match.group(2) else 1
    number *= 1.609344 if (match.group(3) or "").startswith("mi") else 1
    if not 0 <= number <= HIGHEST_NUMBER:
        raise UsageProblem(f"Write a distance from 0 to {HIGHEST_NUMBER:,} km.")
    return str(round(number))


def _read_keys(question: Question, text: str) -> tuple[str, ...]:
    """Find the picked choices: yes and no, numbers of the list, or words of the labels."""
    keys = [choice.key for choice in question.choices]
    if question.kind == "confirm":
        return _confirmed(question, text)
    if question.kind == "which":
        if text in _NO or not text:
            return ()
        if text == "all":
            return tuple(keys)
        return tuple(_pick_one(question, word) for word in re.split(r"[,;\s]+", text) if word)
    if keys == ["yes", "no"]:
        if text in _YES:
            return ("yes",)
        if text in _NO:
            return ("no",)
    return (_pick_one(question, text),)


def _confirmed(question: Question, text: str) -> tuple[str, ...]:
    """Take all that was understood, none, or all but the numbers named as wrong."""
    keys = [choice.key for choice in question.choices]
    if text in _YES or not text or text == "all":
        return tuple(keys)
    if text in _NO:
        return ()
    wrong = {_pick_one(question, word) for word in re.split(r"[,;\s]+", text) if word}
    return tuple(key for key in keys if key not in wrong)


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
    keys = [choice.key for choice in question.choices]
    if question.kind == "number":
        return "Write a number, or ? if it is not known."
    if question.kind == "confirm":
        return "Write y if all of it is right, n if none is, or the numbers that are wrong."
    if keys == ["yes", "no"]:
        return "Write y, n, y? or n? if you only think so, ? if it is not known, or h for help."
    if question.kind == "which":
        return f"Write the numbers that hold, 1 to {len(keys)}, or 0 for none, or ? if it is not known."
    return f"Write a number from 1 to {len(keys)}" + (", or ? if it is not known." if question.optional else ".")
