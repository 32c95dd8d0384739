"""Read published repairs: lists of records in YAML files of a folder, and the cases that somebody entered by hand for them."""

from collections.abc import Callable, Collection
from dataclasses import dataclass, field
from pathlib import Path
from typing import TypeVar

from shiftlore.basics import KnowledgeError, Mark, Problem
from shiftlore.cases import HIGHEST_ODOMETER_KM, LAYOUTS, Vehicle
from shiftlore.knowledge import Knowledge
from shiftlore.reading import REQUIRED, Fields, Node, read_yaml, text_of, word_of

RECORDS = ("repair", "bulletin", "recall")
"""What kind of report it is; only repairs are a sample of what comes in."""
ENTERED = "entered"
"""Folder beside the lists: `ID.yaml`, the case that somebody entered from what was presented, without knowing the cause."""
_Record = TypeVar("_Record")
LETTER = "R"
"""Begins the codes of problems in these lists."""
_UNKNOWN = "unknown"
_ALSO_PRESENTED = ("service_history", "measured", "codes", "fluid", "usage")
_LEARNED_AFTERWARDS = ("found_after", "fix", "confidence", "note")


@dataclass(frozen=True, slots=True)
class Repair:
    """One published repair.

    Args:
        source: kind of publisher and a hash of the address.
        record: one of `RECORDS`.
        unit: id of the kind that a case of it may name.
        speeds, layout: forward gears and one of `LAYOUTS`; None and "" if not told.
        presented: what was said, seen and measured before anybody knew the cause.
        areas: the area of what it was, and others that are as right.
        cause: what it was, in words; causes: the same in ids of the rules, none where they have no such cause.
        entered: the case that somebody entered by hand, or None.
    """

    id: str
    source: str
    record: str
    unit: str
    presented: tuple[str, ...]
    areas: tuple[str, ...]
    cause: str = ""
    causes: tuple[str, ...] = ()
    speeds: int | None = None
    layout: str = ""
    odometer_km: float | None = None
    entered: Path | None = None
    mark: Mark = field(default=Mark(), compare=False)

    @property
    def vehicle(self) -> Vehicle:
        """What is told of the vehicle."""
        return Vehicle(self.unit, self.speeds, self.layout)

    @property
    def text(self) -> str:
        """All that was presented, as one text."""
        return ". ".join(line.rstrip(". ") for line in self.presented) + "."


def unit_of(kinds: Collection[str], kind: str, layout: str = "") -> str:
    """Name the kind of unit that fits a record's words: `step-automatic` and `fwd` are `step-fwd`, where there is one.

    A word that names no kind falls to the one that most others are kinds of.
    Args:
        kinds: ids that a case may name.
    Example:
        >>> kinds = ["cvt", "step", "step-fwd", "step-rwd"]
        >>> unit_of(kinds, "step-automatic", "fwd"), unit_of(kinds, "cvt", "fwd"), unit_of(kinds, "unknown", "awd")
        ('step-fwd', 'cvt', 'step')
    """
    common = max(kinds, key=lambda one: sum(other.startswith(f"{one}-") for other in kinds))
    named = next((one for one in (kind, kind.partition("-")[0]) if one in kinds), common)
    return f"{named}-{layout}" if f"{named}-{layout}" in kinds else named


def read_repairs(folder: Path, knowledge: Knowledge) -> tuple[Repair, ...]:
    """Read every list of records in a folder, in the order of the files' names.

    Args:
        knowledge: the areas, causes and kinds of unit that a record may name.
    Raises: KnowledgeError: carries every problem, each with its place and what to write instead.
    """
    listed, problems = read_lists(folder, "repair", lambda fields: _read_one(fields, knowledge, folder / ENTERED))
    found: dict[str, Repair] = {}
    for repair in listed:
        first = found.setdefault(repair.id, repair)
        if first is not repair:
            what = f"{repair.id} is also in {first.mark.file}, line {first.mark.line}"
            problems.append(Problem(repair.mark, f"{LETTER}018", what, "Give one of the two another id."))
    if not found and not problems:
        what, advice = "There is no list of repairs in this folder", "Name a folder that holds *.yaml lists of repairs."
        problems.append(Problem(Mark(str(folder)), f"{LETTER}011", what, advice))
    if any(problem.severity == "error" for problem in problems):
        raise KnowledgeError(problems)
    return tuple(found.values())


def read_lists(folder: Path, what: str, read_one: Callable[[Fields], _Record]) -> tuple[list[_Record], list[Problem]]:
    """Read the records of every list in a folder, in the order of the files' names; and all problems.

    Args:
        what: a record is called.
    """
    problems: list[Problem] = []
    found: list[_Record] = []
    for path in sorted(folder.glob("*.yaml")):
        node, more = read_yaml(path, path.name, LETTER)
        problems += more
        found += [
            read_one(Fields(item, problems, what)) for item in ([] if node is None else Fields.list_of(node, problems))
        ]
    return found, problems


def _read_one(fields: Fields, knowledge: Knowledge, entered: Path) -> Repair:
    areas, causes = knowledge.areas, knowledge.causes
    name, layout, speeds = fields.text("id"), fields.text("layout", ""), fields.get("speeds")
    presented = [text_of(node, fields.problems) or "" for node in fields.nodes("presented", REQUIRED)]
    for key in _ALSO_PRESENTED:
        node = fields.get(key)
        presented += [] if node is None or node.text == _UNKNOWN else _told(node, key)
    also = [word_of(node, areas, fields.problems, "area") or "" for node in fields.nodes("also_accept")]
    case = entered / f"{name}.yaml"
    repair = Repair(
        id=name,
        source=fields.text("source", ""),
        record=fields.word("record", RECORDS, RECORDS[0]),
        unit=unit_of(knowledge.sheets, fields.text("kind", _UNKNOWN), layout),
        presented=tuple(presented),
        areas=tuple(dict.fromkeys([fields.word("area", areas), *also])),
        cause=fields.text("confirmed_cause", ""),
        causes=tuple(word_of(node, causes, fields.problems, "cause") or "" for node in fields.nodes("causes")),
        speeds=int(speeds.text) if speeds is not None and speeds.text.isdecimal() else None,
        layout=layout if layout in LAYOUTS else "",
        odometer_km=fields.number("odometer_km", 0, HIGHEST_ODOMETER_KM, None),
        entered=case if case.is_file() else None,
        mark=fields.mark,
    )
    for key in _LEARNED_AFTERWARDS:
        fields.has(key)
    fields.finish()
    return repair


def _told(node: Node, name: str) -> list[str]:
    """Write what a value tells as lines: texts as they stand, the keys of a mapping before theirs."""
    if node.kind == "list":
        texts = [item.text for item in node.items if not item.is_null]
        return [f"{name} {', '.join(texts)}"] if texts and all(text.isalnum() for text in texts) else texts
    if node.kind == "mapping":
        return [f"{name} {key.text} {value.text}" for key, value in node.pairs if not value.is_null]
    return [node.text]
