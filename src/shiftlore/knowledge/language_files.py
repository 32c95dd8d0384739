"""Read one file of `language/`: word lists, endings, turns of speech and weights, each problem with its place."""

import re
import warnings
from collections.abc import Iterable

from shiftlore.knowledge.intake import Intake
from shiftlore.knowledge.language import (
    COUNTS,
    FIRST_LANGUAGE,
    SHARES,
    STEM_LISTS,
    WRITTEN_LISTS,
    Ending,
    Language,
    Rewriting,
    Speeds,
    Stemming,
)
from shiftlore.reading import REQUIRED, Fields, Node, known_words, quoted, text_of

_MOST_LETTERS = 20
_FASTEST_KMH = 500.0
_PART = re.compile(r"\{([a-z_]+)\}")
_SPEED_GROUPS = {"over", "number", "unit"}


def read_language(node: Node, intake: Intake) -> Language:
    """Read a language from its mapping; a first language must give every weight."""
    fields = Fields(node, intake.problems, "language file")
    language_id = fields.ident("id")
    fields.named = language_id
    intake.note(("language", language_id, "id"), fields.value_mark("id"))
    parts = _parts(fields)
    numbers = fields.mapping("numbers")
    speeds = fields.mapping("speeds")
    language = Language(
        id=language_id,
        written=_lists(fields, "written", WRITTEN_LISTS),
        stems=_lists(fields, "stems", STEM_LISTS),
        essential=_free_lists(fields, "essential"),
        stemming=_stemming(fields.mapping("stemming")),
        as_written=_rewritings(fields, "as_written", parts),
        turns=_rewritings(fields, "turns", parts),
        numbers_where=_pattern(numbers, "where", parts) if numbers else "",
        number_rules=_rewritings(numbers, "rules", parts) if numbers else (),
        speeds=_speeds(speeds) if speeds else None,
        weights=_weights(fields, language_id == FIRST_LANGUAGE),
        names=_free_lists(fields, "names"),
        mark=fields.mark,
    )
    for name, mark, _ in fields.pairs("names"):
        intake.note(("language", language_id, "names", name), mark)
    rules = (*language.as_written, *language.turns, *language.number_rules)
    if speeds is None and any(rule.is_speed for rule in rules):
        fields.add(fields.mark, "011", "A rule finds speeds, but the file has no speeds", "Add: speeds: ...")
    if numbers:
        numbers.finish()
    fields.text("source")
    fields.finish()
    return language


def _lists(fields: Fields, key: str, known: Iterable[str]) -> dict[str, tuple[str, ...]]:
    """Read the word lists of which the names are known; a list that is left out is empty."""
    below = fields.mapping(key)
    found = {} if below is None else {name: below.words_list(name) for name in known}
    if below is not None:
        below.finish()
    return {name: words for name, words in found.items() if words}


def _free_lists(fields: Fields, key: str) -> dict[str, tuple[str, ...]]:
    below = fields.mapping(key)
    return {} if below is None else {name: below.words_list(name) for name, _, _ in below.own_pairs()}


def _texts(fields: Fields, key: str) -> dict[str, str]:
    found = {name: text_of(node, fields.problems) for name, _, node in fields.pairs(key)}
    return {name: text for name, text in found.items() if text is not None}


def _stemming(fields: Fields | None) -> Stemming:
    if fields is None:
        return Stemming()
    endings = []
    for member in fields.records("endings", "ending"):
        cut, leaves = member.text("cut"), member.whole("leaves", 0, _MOST_LETTERS, 0)
        endings.append(Ending(cut, leaves, member.text("write", ""), member.words_list("not_after")))
        member.finish()
    stemming = Stemming(
        whole_up_to=fields.whole("whole_up_to", 1, _MOST_LETTERS, 3),
        endings=tuple(endings),
        double_stays=fields.text("double_stays", None),
        silent=fields.text("silent", ""),
        forms=_texts(fields, "forms"),
        numbers=_texts(fields, "numbers"),
    )
    fields.finish()
    return stemming


def _parts(fields: Fields) -> dict[str, str]:
    """Read the named parts of patterns; a part may stand in those below it."""
    parts: dict[str, str] = {}
    for name, _, node in fields.pairs("parts"):
        parts[name] = _filled(node, parts, fields)
    return parts


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


def _pattern(fields: Fields, key: str, parts: dict[str, str]) -> str:
    return fields.read(key, REQUIRED, "", lambda node: _filled(node, parts, fields))


def _rewritings(fields: Fields, key: str, parts: dict[str, str]) -> tuple[Rewriting, ...]:
    found = []
    for member in fields.records(key, "turn of speech"):
        rule = Rewriting(
            find=_pattern(member, "find", parts),
            write=member.text("write", " "),
            words=_texts(member, "words"),
            needs=member.words_list("needs"),
            is_speed=member.yes_no("speed", False),
        )
        member.finish()
        _check_rewriting(rule, member)
        found.append(rule)
    return tuple(rule for rule in found if rule.find)


def _check_rewriting(rule: Rewriting, fields: Fields) -> None:
    """Tell of a group that is written but never found."""
    pattern = re.compile(rule.find)
    if rule.is_speed and not set(pattern.groupindex) >= _SPEED_GROUPS:
        what = "A speed is found without its over, number or unit"
        fields.add(fields.value_mark("find"), "015", what, "Name the groups: (?P<over>...), (?P<number>...) ...")
    try:
        pattern.sub(rule.write, "")
    except (re.error, IndexError) as error:
        what = f"{quoted(rule.write)} cannot be written: {error}"
        fields.add(fields.value_mark("write"), "015", what, "Write groups as \\1 and \\2, as many as are found.")


def _speeds(fields: Fields) -> Speeds:
    speeds = Speeds(
        units=_units(fields),
        over_by_kmh=fields.number("over_by_kmh", 0.0, _FASTEST_KMH, 0.0),
        slow=fields.text("slow"),
        slow_below_kmh=fields.number("slow_below_kmh", 0.0, _FASTEST_KMH),
        middle=fields.text("middle"),
        fast=fields.text("fast"),
        fast_above_kmh=fields.number("fast_above_kmh", 0.0, _FASTEST_KMH),
    )
    fields.text("source")
    fields.finish()
    return speeds


def _units(fields: Fields) -> dict[str, float]:
    below = fields.mapping("units", required=True)
    return {} if below is None else {name: below.number(name, 0.0, _FASTEST_KMH) for name, _, _ in below.own_pairs()}


def _weights(fields: Fields, is_first: bool) -> dict[str, float]:
    """Read the weights; each says what it is and where it comes from."""
    below = fields.mapping("weights", "list of weights", required=is_first)
    if below is None:
        return {}
    found: dict[str, float] = {}
    for name in (*SHARES, *COUNTS):
        entry = below.mapping(name, "weight", required=is_first)
        if entry is not None:
            entry.named = name
            is_count = name in COUNTS
            found[name] = entry.whole("value", 0, _MOST_LETTERS) if is_count else entry.number("value", 0.0, 1.0)
            entry.text("says")
            entry.text("source")
            entry.finish()
    below.finish()
    return found
