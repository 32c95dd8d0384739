"""Read every file of the knowledge folder into records, then validate the whole.

Kept apart from `loading`, which needs none of it where the cache has the answer.
"""

from collections.abc import Callable, Mapping
from typing import Any

from shiftlore.basics.problems import Mark, Problem
from shiftlore.knowledge.backgrounds import read_background
from shiftlore.knowledge.causes import read_cause
from shiftlore.knowledge.checks import read_check
from shiftlore.knowledge.codes import read_code
from shiftlore.knowledge.findings import read_finding
from shiftlore.knowledge.folders import KnowledgeFile
from shiftlore.knowledge.intake import Intake
from shiftlore.knowledge.jobs import read_job
from shiftlore.knowledge.reading import Fields, Node, read_yaml
from shiftlore.knowledge.records import Knowledge
from shiftlore.knowledge.shop_things import (
    read_access,
    read_area,
    read_caution,
    read_follow_up,
    read_price,
    read_shop,
)
from shiftlore.knowledge.states import read_state
from shiftlore.knowledge.textbook import read_textbook_case
from shiftlore.knowledge.validators import VALIDATORS
from shiftlore.knowledge.words import NO_WORDS, read_words
from shiftlore.sheets import read_sheet

_Reader = Callable[[Node, Intake], Any]

# Kind of file -> (field of Knowledge, reader of one record).
_READERS: Mapping[str, tuple[str, _Reader]] = {
    "causes": ("causes", read_cause),
    "states": ("states", read_state),
    "findings": ("findings", read_finding),
    "codes": ("codes", read_code),
    "backgrounds": ("backgrounds", read_background),
    "checks": ("checks", read_check),
    "jobs": ("jobs", read_job),
    "access": ("access", read_access),
    "follow_ups": ("follow_ups", read_follow_up),
    "cautions": ("cautions", read_caution),
    "areas": ("areas", read_area),
    "prices": ("prices", read_price),
    "textbook": ("textbook", read_textbook_case),
}


def read_all(files: list[KnowledgeFile]) -> tuple[Knowledge, list[Problem]]:
    """Read the words first, for the numbers, then everything else, then validate the whole.

    Returns: the knowledge, as much as can be read; and every problem once.
    """
    problems: list[Problem] = []
    intake = Intake(_words_of(files, problems), problems)
    gathered: dict[str, Any] = {name: {} for name, _ in _READERS.values()} | {"sheets": {}, "retired": {}, "shop": None}
    for file in files:
        if file.kind != "words":
            _read_file(file, gathered, intake)
    knowledge = Knowledge(words=intake.words, places=intake.places, **gathered)
    for validate in VALIDATORS:
        problems.extend(validate(knowledge))
    return knowledge, list(dict.fromkeys(problems))


def _words_of(files: list[KnowledgeFile], problems: list[Problem]) -> Any:
    for file in files:
        if file.kind == "words":
            node = _node_of(file, problems)
            return NO_WORDS if node is None else read_words(node, problems)
    problems.append(
        Problem(
            Mark("words.yaml"),
            "K001",
            "There is no words.yaml, so no strength word has a number",
            "Copy words.yaml from the knowledge that came with the program.",
        )
    )
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
        gathered["shop"] = read_shop(_shop_fields(node, intake))
    elif file.kind == "retired":
        _read_retired(node, gathered["retired"], intake)
    else:
        field_name, reader = _READERS[file.kind]
        for record_node in _record_nodes(node, file, intake):
            _keep(reader(record_node, intake), _id_mark(record_node), gathered[field_name], intake)


def _shop_fields(node: Node, intake: Intake) -> Fields:
    below = node.get("shop") if node.kind == "mapping" and len(node.pairs) == 1 else None
    return Fields(below or node, intake.problems, "shop")


def _read_retired(node: Node, retired: dict[str, str | None], intake: Intake) -> None:
    """Read only the id of a dead rule and what replaced it; the rest is history."""
    fields = Fields(node, intake.problems, "retired rule")
    record_id = fields.ident("id")
    intake.note(("retired", record_id, "id"), fields.value_mark("id"))
    retired[record_id] = fields.ident("replaced_by", None)


def _read_sheet(file: KnowledgeFile, sheets: dict[str, Any], intake: Intake) -> None:
    sheet, found = read_sheet(file.path if file.content is None else file.content, file.name)
    intake.problems.extend(found)
    if sheet is not None:
        intake.note(("unit sheet", sheet.id, "id"), sheet.mark)
        _keep(sheet, sheet.mark, sheets, intake)


def _record_nodes(node: Node, file: KnowledgeFile, intake: Intake) -> list[Node]:
    """Give the records of a file: itself, or the members of its list."""
    if file.list_key is None:
        return [node]
    fields = Fields(node, intake.problems, f"{file.list_key} file")
    intake.source = fields.text("source", "")
    nodes = fields.nodes(file.list_key, default=())
    if not fields.has(file.list_key):
        fields.add(
            fields.mark, "011", f"The file has no list {file.list_key}", f"Begin it with a line: {file.list_key}:"
        )
    fields.finish()
    return nodes


def _keep(record: Any, mark: Mark, kept: dict[str, Any], intake: Intake) -> None:
    """Keep a record under its id; the first of two with one id stays."""
    key = getattr(record, "code", None) or getattr(record, "id", "")
    if not key:
        return
    if key not in kept:
        kept[key] = record
        return
    first = kept[key].mark
    advice = f"Choose another id; the first stands in {first.file}, line {first.line}."
    intake.problems.append(Problem(mark, "K101", f'The id "{key}" is used a second time', advice))


def _id_mark(node: Node) -> Mark:
    """Say where the id of a record stands."""
    value = node.get("id") or node.get("code") or node
    return value.mark
