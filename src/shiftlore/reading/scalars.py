"""Take one scalar as what its place asks for: a text, an id, a word of a list, a number, yes or no.

Every function gathers problems instead of raising, and gives None where the value cannot be used.
"""

import re
import unicodedata
from collections.abc import Iterable
from functools import lru_cache

import yaml

from shiftlore.basics.problems import HIDDEN, Problem, nearest, printable
from shiftlore.basics.quantities import as_thousands
from shiftlore.reading.nodes import Node

# One letter for the system and four hexadecimal digits: the form of SAE J2012 and ISO 15031-6.
CODE_FORM = re.compile(r"[PBCU][0-3][0-9A-F]{3}")
_ID = re.compile(r"[a-z][a-z0-9]*(_[a-z0-9]+)*")
_NUMBER = re.compile(r"[-+]?(0|[1-9][0-9]*)(\.[0-9]+)?")
_LARGE = 1_000_000  # of what may be so large nobody gives three decimals
_LOOSE_NUMBER = re.compile(r"[-+]?[0-9._]*[0-9][0-9._]*([eE][-+]?[0-9]+)?")
_TRUE = frozenset({"yes", "Yes", "YES", "true", "True", "TRUE"})
_FALSE = frozenset({"no", "No", "NO", "false", "False", "FALSE"})
_ON_OFF = {"on": "true", "off": "false"}
_LONGEST_SHOWN = 40
# Small letters of other alphabets that are drawn like those of ASCII. Source: the confusables table of Unicode (UTS 39).
_LOOK_ALIKE = dict(zip("аеорсухіјѕԁһӏνοαгпԛԝ", "aeopcyxijsdhlvoarnqw", strict=True))
_MAX_DIGITS = 300


def problem_at(node: Node, number: str, what: str, write_instead: str) -> Problem:
    """Make a problem at this node; its code begins with the letter of the node's text."""
    return Problem(node.mark, node.origin.letter + number, what, write_instead)


def tell(problems: list[Problem], node: Node, number: str, what: str, write_instead: str) -> None:
    """Add a problem at this node to the list."""
    problems.append(problem_at(node, number, what, write_instead))


def quoted(text: str) -> str:
    """Show a text in double quotes, cut where it is long."""
    shown = text if len(text) <= _LONGEST_SHOWN else text[: _LONGEST_SHOWN - 3] + "..."
    return '"' + printable(shown.replace("\n", " ").replace('"', "'")) + '"'


def known_words(word: str, choices: Iterable[str]) -> str:
    """Write the advice for a word that is not among those allowed, nearest first."""
    allowed = _in_order(frozenset(choices))
    odd = next((letter for letter in word if not letter.isascii()), "")
    near = nearest("".join(map(_plain_letter, word)) if odd else word, allowed)
    if odd and allowed:
        name = unicodedata.name(odd, "a hidden character").lower()
        advice = f"It holds U+{ord(odd):04X} ({name}), which no id has; type the word again"
        return advice + (f": {near[0]}." if near else ".")
    if len(allowed) <= 12:
        advice = "Write one of: " + ", ".join(allowed) + "." if allowed else "There is none to choose from yet."
        return advice + (f" Nearest: {near[0]}." if near else "")
    return "Nearest: " + ", ".join(near) + "." if near else f"None of the {len(allowed)} known ones is spelled alike."


@lru_cache(8)
def _in_order(words: frozenset[str]) -> list[str]:
    """Sort the words allowed at a place, once for the thousands of wrong ones that may stand there."""
    return sorted(words)


def _plain_letter(letter: str) -> str:
    """Take a letter for the one of ASCII that it looks like; one that cannot be seen for none."""
    plain = unicodedata.normalize("NFKD", letter)[:1]
    return "" if HIDDEN.match(letter) else _LOOK_ALIKE.get(letter, plain if plain.isascii() else "_")


def bare_meaning(text: str) -> str | None:
    """Say what YAML makes of a bare text: None (it stays text) or ``true``, ``a number``, ``a date``, ``nothing``."""
    resolvers = yaml.SafeLoader.yaml_implicit_resolvers
    for tag, pattern in resolvers.get(text[:1], ()):
        if pattern.match(text):
            return _meaning(tag.rsplit(":", 1)[-1], text)
    return None


def _meaning(tag: str, text: str) -> str:
    if tag == "bool":
        lower = text.lower()
        return _ON_OFF.get(lower, "true" if lower in ("yes", "true") else "false")
    if tag in ("int", "float"):
        return f"the number {_yaml_number(text)}"
    return {"null": "nothing", "timestamp": "a date", "merge": "a merge"}.get(tag, "something else")


def _yaml_number(text: str) -> str:
    """What stock YAML makes of a bare number, shown to explain why it is refused."""
    if len(text) > _LONGEST_SHOWN:
        return "it spells"
    try:
        return str(yaml.safe_load(text))
    except (ValueError, yaml.YAMLError):
        return "it spells"


def _scalar(node: Node, problems: list[Problem], wanted: str) -> bool:
    if node.kind != "scalar":
        tell(problems, node, "013", f"A {node.kind} stands here where {wanted} should", f"Write {wanted}.")
    return node.kind == "scalar"


def text_of(node: Node, problems: list[Problem], wanted: str = "a text") -> str | None:
    """Read a text; a bare word that YAML would turn into something else is a problem."""
    if not _scalar(node, problems, wanted):
        return None
    if node.is_null or not node.text.strip():
        tell(problems, node, "011", f"Nothing stands here where {wanted} should", f"Write {wanted}.")
        return None
    meaning = bare_meaning(node.text) if node.bare else None
    if meaning is None:
        return node.text
    what = f"YAML reads a bare {node.text} as {meaning}, not as the word"
    tell(problems, node, "021", what, f'Write it in quotes: "{node.text}".')
    return None


def id_of(node: Node, problems: list[Problem], wanted: str = "an id") -> str | None:
    """Read an id: small ASCII letters, digits and single underscores."""
    text = text_of(node, problems, wanted)
    if text is None or _ID.fullmatch(text):
        return text
    suggestion = re.sub(r"[^a-z0-9]+", "_", text.lower()).strip("_") or "some_words_like_this"
    advice = f"Use small letters, digits and single underscores: {suggestion[:60]}."
    tell(problems, node, "015", f"{quoted(text)} is no id", advice)
    return None


def word_of(node: Node, choices: Iterable[str], problems: list[Problem], wanted: str = "word") -> str | None:
    """Read one word of a fixed list."""
    text = text_of(node, problems, f"a {wanted}" if wanted[:1] not in "aeiou" else f"an {wanted}")
    allowed = list(choices)
    if text is None or text in allowed:
        return text
    tell(problems, node, "014", f"Unknown {wanted} {quoted(text)}", known_words(text, allowed))
    return None


def number_of(
    node: Node, problems: list[Problem], low: float | None = None, high: float | None = None, wanted: str = "a number"
) -> float | None:
    """Read a number between low and high; what YAML would read differently from people is a problem."""
    if not _scalar(node, problems, wanted):
        return None
    if not (node.bare and _NUMBER.fullmatch(node.text)) or len(node.text) > _MAX_DIGITS:
        problems.append(_number_problem(node, wanted))
        return None
    if (high or 0) >= _LARGE and (plain := as_thousands(node.text)):
        what = f"{quoted(node.text)} may be meant as {plain} and is read as {_say_number(float(node.text))}"
        problems.append(problem_at(node, "021", what, f"Write {plain}, or the number without three decimals."))
        return None
    value = float(node.text)
    if (low is not None and value < low) or (high is not None and value > high):
        tell(problems, node, "016", f"{quoted(node.text)} is out of range", _range_advice(wanted, low, high))
        return None
    return value


def bare_number(node: Node) -> int | float | None:
    """Give the number that stands bare at a node, or None."""
    if not node.bare or not _NUMBER.fullmatch(node.text) or len(node.text) > _MAX_DIGITS:
        return None
    return float(node.text) if "." in node.text else int(node.text)


def _range_advice(wanted: str, low: float | None, high: float | None) -> str:
    if low is not None and high is not None:
        return f"Write {wanted} from {_say_number(low)} to {_say_number(high)}."
    if low is not None:
        return f"Write {wanted} of {_say_number(low)} or more."
    return f"Write {wanted} of {_say_number(high or 0)} or less."


def _say_number(value: float) -> str:
    """Write a bound as people do: 3,000,000 and not 3e+06."""
    return f"{value:,.0f}" if value == int(value) else f"{value:g}"


def _number_problem(node: Node, wanted: str) -> Problem:
    text = node.text
    if node.is_null or not text:
        return problem_at(node, "011", f"Nothing stands here where {wanted} should", f"Write {wanted}.")
    if not node.bare and _NUMBER.fullmatch(text):
        what = f"{quoted(text)} stands in quotes, so it is text"
        return problem_at(node, "017", what, f"Take the quotes off: {text}.")
    meaning = (bare_meaning(text) or "text") if node.bare else "text"
    if re.fullmatch(r"[0-9]+(:[0-5]?[0-9])+(\.[0-9]*)?", text):
        what = f"YAML reads a bare {quoted(text)[1:-1]} as {bare_meaning(text) or 'text'}"
        return problem_at(node, "021", what, "Write one plain number in the unit asked for, such as 90.")
    if _LOOSE_NUMBER.fullmatch(text):
        advice = f"Write {wanted} in plain digits, with no leading zero, exponent or separator{_plainly(text)}."
        return problem_at(node, "021", f"YAML reads {quoted(text)[1:-1]} as {meaning}", advice)
    return problem_at(node, "013", f"{quoted(text)} is no number", f"Write {wanted} in plain digits, without a unit.")


def _plainly(text: str) -> str:
    """Suggest the number as it was probably meant."""
    try:
        value = float(text.replace("_", ""))
    except ValueError:
        return ""
    return f": {value:.15g}" if abs(value) < 1e15 and "e" not in f"{value:.15g}" else ""


def whole_of(node: Node, problems: list[Problem], low: int | None = None, high: int | None = None) -> int | None:
    """Read a whole number between low and high."""
    value = number_of(node, problems, low, high, "a whole number")
    if value is None or value == int(value):
        return None if value is None else int(value)
    tell(problems, node, "016", f"{node.text} is no whole number", f"Write a whole number, such as {round(value)}.")
    return None


def yes_no_of(node: Node, problems: list[Problem]) -> bool | None:
    """Read yes or no (also true or false), with or without quotes."""
    if not _scalar(node, problems, "yes or no"):
        return None
    if node.text in _TRUE | _FALSE:
        return node.text in _TRUE
    tell(problems, node, "014", f"{quoted(node.text)} is neither yes nor no", "Write yes or no.")
    return None


def answer_of(node: Node, problems: list[Problem]) -> str | None:
    """Read an answer: yes, no, true and false may stand bare; a grade is a word like any other."""
    if node.kind == "scalar" and node.text in _TRUE | _FALSE:
        return "yes" if node.text in _TRUE else "no"
    return text_of(node, problems, "an answer")
