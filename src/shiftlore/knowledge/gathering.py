"""Read every file of the knowledge folder into records, then validate the whole.

Kept apart from `loading`, which needs none of it where the cache has the answer.
"""

from typing import Any

from shiftlore.basics.problems import Mark, Problem
from shiftlore.knowledge.files import KnowledgeFile
from shiftlore.knowledge.forms import FORMS, SHOP
from shiftlore.knowledge.intake import NO_WORDS, Intake, keep_once, read_words
from shiftlore.knowledge.language_files import read_language
from shiftlore.knowledge.readers import read_record
from shiftlore.knowledge.records import Words
from shiftlore.knowledge.rulebook import Knowledge, Shop
from shiftlore.knowledge.validators import VALIDATORS
from shiftlore.reading import Fields, Node, read_yaml
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
