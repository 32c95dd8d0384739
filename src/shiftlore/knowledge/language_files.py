"""Read one file of `language/`: word lists, signs, groups of words and weights, each problem with its place."""

import re
import warnings

from shiftlore.knowledge.intake import Intake
from shiftlore.knowledge.language import COLUMNS, FIRST_LANGUAGE, LISTS, SIGNS, TURNS, WEIGHTS, Amount, Language, Sign
from shiftlore.reading import REQUIRED, Fields, Node, known_words, number_of, quoted, text_of

_PART = re.compile(r"\{([a-z_]+)\}")
_LARGEST = 1e6


def read_language(node: Node, intake: Intake) -> Language:
    """Read a language from its mapping; a first language must give every weight."""
    fields = Fields(node, intake.problems, "language file")
    language_id = fields.ident("id")
    fields.named = language_id
    intake.note(("language", language_id, "id"), fields.value_mark("id"))
    ordinals, amounts = _texts(fields, "ordinals"), _amounts(fields)
    parts = {
        "ordinal": _one_of(ordinals),
        "numeral": _one_of(numbers := _texts(fields, "numbers")),
        "unit": _one_of(unit for amount in amounts.values() for unit in amount.units),
        "lever": _one_of(levers := _texts(fields, "levers")),
    }
    for name, _, below in fields.pairs("parts"):
        parts[name] = _filled(below, parts, fields)
    language = Language(
        id=language_id,
        stemmer=fields.text("stemmer", ""),
        forms=_texts(fields, "forms"),
        lists=_lists(fields, "lists", LISTS),
        turns=_lists(fields, "turns", TURNS),
        moments=_lists(fields, "moments"),
        alike=_lists(fields, "alike"),
        ordinals=ordinals,
        numbers=numbers,
        levers=levers,
        rows=_lists(fields, "rows"),
        amounts=amounts,
        signs=_signs(fields, parts),
        fills=_lists(fields, "fills"),
        columns=_lists(fields, "columns", COLUMNS),
        breaks={name: _number(below, fields, 1.0) for name, _, below in fields.pairs("breaks")},
        weights=_weights(fields, language_id == FIRST_LANGUAGE),
        mark=fields.mark,
    )
    fields.text("source")
    fields.finish()
    return language


def _lists(fields: Fields, key: str, known: tuple[str, ...] | None = None) -> dict[str, tuple[str, ...]]:
    """Read named lists of words; a list that is left out is empty."""
    below = fields.mapping(key)
    if below is None:
        return {}
    names = [name for name, _, _ in below.own_pairs()] if known is None else known
    found = {name: below.words_list(name) for name in names}
    below.finish()
    return {name: words for name, words in found.items() if words}


def _texts(fields: Fields, key: str) -> dict[str, str]:
    found = {name: text_of(node, fields.problems) for name, _, node in fields.pairs(key)}
    return {name: text for name, text in found.items() if text is not None}


def _number(node: Node, fields: Fields, high: float = _LARGEST) -> float:
    number = number_of(node, fields.problems, 0.0, high)
    return 0.0 if number is None else number


def _amounts(fields: Fields) -> dict[str, Amount]:
    found = {}
    for name, _, node in fields.pairs("amounts"):
        below = Fields(node, fields.problems, f"amount {name}")
        units = {unit: _number(value, below) for unit, _, value in below.pairs("units", required=True)}
        found[name] = Amount(units, tuple(_number(bound, below) for bound in below.nodes("bounds")))
        below.finish()
    return found


def _one_of(words: object) -> str:
    """Make the expression that finds any of the words, the longest first; in "10 %" a space may be missing."""
    assert hasattr(words, "__iter__")
    longest = sorted(words, key=len, reverse=True)
    return "(?:" + "|".join(re.escape(word).replace(r"\ ", r"\s*") for word in longest) + ")"


def _filled(node: Node, parts: dict[str, str], fields: Fields) -> str:
    """Fill the parts into a regular expression, and tell where it is none."""
    text = text_of(node, fields.problems, "a regular expression") or ""
    for name in _PART.findall(text):
        if name not in parts:
            fields.add(node.mark, "014", f"There is no part {quoted(name)}", known_words(name, parts))
    filled = _PART.sub(lambda found: parts.get(found[1], ""), text)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error", FutureWarning)
            re.compile(filled)
    except (re.error, FutureWarning) as error:
        what = f"{quoted(text)} is no regular expression: {error}"
        fields.add(node.mark, "015", what, "Write one as the module re of Python takes it.")
        return ""
    return filled


def _signs(fields: Fields, parts: dict[str, str]) -> tuple[Sign, ...]:
    found = []
    for member in fields.records("signs", "sign"):
        kind = member.word("as", SIGNS)
        find = member.read("find", REQUIRED, "", lambda node: _filled(node, parts, fields))
        member.finish()
        found.append(Sign(kind, find))
    return tuple(sign for sign in found if sign.find)


def _weights(fields: Fields, is_first: bool) -> dict[str, float]:
    """Read the weights; each says what it is and where it comes from."""
    below = fields.mapping("weights", "list of weights", required=is_first)
    if below is None:
        return {}
    found: dict[str, float] = {}
    for name in WEIGHTS:
        entry = below.mapping(name, "weight", required=is_first)
        if entry is not None:
            entry.named = name
            found[name] = entry.number("value", 0.0, _LARGEST)
            entry.text("says")
            entry.text("source")
            entry.finish()
    below.finish()
    return found
