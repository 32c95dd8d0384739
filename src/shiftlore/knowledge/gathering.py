"""Read every file of the knowledge folder into records, the languages' word lists too, then validate the whole.

Kept apart from `loading`, which needs none of it where the cache has the answer.
"""

import re
import warnings
from typing import Any

from shiftlore.basics.problems import Mark, Problem
from shiftlore.knowledge.files import KnowledgeFile
from shiftlore.knowledge.forms import FORMS, SHOP
from shiftlore.knowledge.intake import NO_WORDS, Intake, keep_once, read_words
from shiftlore.knowledge.language import COLUMNS, FIRST_LANGUAGE, LISTS, SIGNS, TURNS, WEIGHTS, Amount, Language, Sign
from shiftlore.knowledge.readers import read_record
from shiftlore.knowledge.records import Words
from shiftlore.knowledge.rulebook import Knowledge, Shop
from shiftlore.knowledge.validators import VALIDATORS
from shiftlore.reading import REQUIRED, Fields, Node, known_words, number_of, quoted, read_yaml, text_of
from shiftlore.sheets import read_sheet


def read_all(files: list[KnowledgeFile]) -> tuple[Knowledge, list[Problem]]:
    """Read the words first, for the numbers, then states of disassembly, then all others, then validate the whole.

    Returns: the knowledge, as much as can be read; and every problem once.
    """
    problems: list[Problem] = []
    intake = Intake(_words_of(files, problems), problems)
    gathered: dict[str, Any] = {kind: {} for kind in (*FORMS, "sheets", "languages", "sayings", "retired")} | {
        "shop": None
    }
    for file in sorted(files, key=lambda file: file.kind != "access"):
        if file.kind != "words":
            _read_file(file, gathered, intake)
        if file.kind == "access":
            intake.unopened = Knowledge(intake.words, access=gathered["access"]).unopened
    knowledge = Knowledge(words=intake.words, places=intake.places, **gathered)
    for validate in VALIDATORS:
        problems.extend(validate(knowledge))
    return knowledge, list(dict.fromkeys(problems))


def _words_of(files: list[KnowledgeFile], problems: list[Problem]) -> Words:
    for file in files:
        if file.kind == "words":
            node = _node_of(file, problems)
            return NO_WORDS if node is None else read_words(node, problems)
    what = "There is no words.yaml, so no strength word has a number"
    advice = "Copy words.yaml from the knowledge that came with the program."
    problems.append(Problem(Mark("words.yaml"), "K001", what, advice))
    return NO_WORDS


def _node_of(file: KnowledgeFile, problems: list[Problem]) -> Node | None:
    node, found = read_yaml(file.path if file.content is None else file.content, file.name)
    problems.extend(found)
    return node


def _read_file(file: KnowledgeFile, gathered: dict[str, Any], intake: Intake) -> None:
    if file.kind == "units":
        _read_sheet(file, gathered["sheets"], intake)
        return
    node = _node_of(file, intake.problems)
    if node is None:
        return
    intake.source = ""
    if file.kind == "shop":
        gathered["shop"] = _read_shop(node, intake)
    elif file.kind == "language":
        keep_once(read_language(node, intake), _id_mark(node), gathered["languages"], intake.problems)
    elif file.kind == "sayings":
        _read_sayings(node, file.name, gathered["sayings"], intake)
    elif file.kind == "retired":
        _read_retired(node, gathered["retired"], intake)
    else:
        form, kept = FORMS[file.kind], gathered[file.kind]
        for record_node in _record_nodes(node, file, intake):
            keep_once(read_record(record_node, form, intake), _id_mark(record_node), kept, intake.problems)


def _read_shop(node: Node, intake: Intake) -> Shop:
    """Read a shop, with or without the heading ``shop:``."""
    below = node.get("shop") if node.kind == "mapping" and len(node.pairs) == 1 else None
    return read_record(below or node, SHOP, intake)


def _read_retired(node: Node, retired: dict[str, str | None], intake: Intake) -> None:
    """Read only the id of a dead rule and what replaced it; the rest is history."""
    fields = Fields(node, intake.problems, "retired rule")
    record_id = fields.ident("id")
    intake.note(("retired", record_id, "id"), fields.value_mark("id"))
    retired[record_id] = fields.ident("replaced_by", None)


def _read_sayings(
    node: Node, name: str, sayings: dict[str, dict[str, dict[str, tuple[str, ...]]]], intake: Intake
) -> None:
    """Read how people say each answer; the language is the folder below `sayings`."""
    fields = Fields(node, intake.problems, "file of sayings")
    language = name.split("/")[1]
    kept = sayings.setdefault(language, {})
    for record_id, mark, below in fields.pairs("says", required=True):
        intake.note(("sayings", language, record_id), mark)
        answers = kept.setdefault(record_id, {})
        said = Fields(below, intake.problems, "list of sayings")
        for key, _ in below.pairs:
            intake.note(("sayings", language, record_id, key.text), key.mark)
            answers[key.text] = (*answers.get(key.text, ()), *said.words_list(key.text))
    fields.text("source")
    fields.finish()


def _read_sheet(file: KnowledgeFile, sheets: dict[str, Any], intake: Intake) -> None:
    sheet, found = read_sheet(file.path if file.content is None else file.content, file.name)
    intake.problems.extend(found)
    if sheet is not None:
        intake.note(("unit sheet", sheet.id, "id"), sheet.mark)
        keep_once(sheet, sheet.mark, sheets, intake.problems)


def _record_nodes(node: Node, file: KnowledgeFile, intake: Intake) -> list[Node]:
    """Give the records of a file: itself, or the members of its list."""
    if file.list_key is None:
        return [node]
    fields = Fields(node, intake.problems, f"{file.list_key} file")
    intake.source = fields.text("source", "")
    nodes = fields.nodes(file.list_key, default=())
    if not fields.has(file.list_key):
        what, advice = f"The file has no list {file.list_key}", f"Begin it with a line: {file.list_key}:"
        fields.add(fields.mark, "011", what, advice)
    fields.finish()
    return nodes


def _id_mark(node: Node) -> Mark:
    """Say where the id of a record stands."""
    return (node.get("id") or node.get("code") or node).mark


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
