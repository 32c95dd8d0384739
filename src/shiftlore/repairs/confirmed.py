"""Vehicles of which it is told what they had: published repairs, read from lists and entered as cases; and finished cases.

What is read here is ranked (`scoring`) and learned from (`counting`).
"""

from collections.abc import Callable, Collection, Iterable, Iterator
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TypeVar

from shiftlore.basics import CaseError, KnowledgeError, Mark, Problem, ShiftloreError
from shiftlore.cases import CONFIRMED_BY, HIGHEST_ODOMETER_KM, LAYOUTS, Case, Vehicle, peek_vehicle, read_case
from shiftlore.compiling import compile_unit, list_known
from shiftlore.knowledge import Knowledge
from shiftlore.reading import REQUIRED, Fields, Node, read_yaml, text_of, word_of
from shiftlore.repairs.counting import Confirmed
from shiftlore.words import make_case, read_report

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


def enter_repair(knowledge: Knowledge, repair: Repair) -> Case:
    """Give the case that was entered by hand, or the one that is read in the repair's words on the vehicle that it names.

    Raises: CaseError: the entered case has problems.
    """
    if repair.entered is not None:
        return read_case(repair.entered, list_known(knowledge, peek_vehicle(repair.entered)))
    return read_words(knowledge, repair.vehicle, repair.text, repair.odometer_km)


def read_words(knowledge: Knowledge, vehicle: Vehicle, text: str, odometer_km: float | None = None) -> Case:
    """Give the case that the program reads in somebody's words of a vehicle.

    Args:
        odometer_km: what it has run, where the words do not say.
    """
    report = read_report(knowledge, compile_unit(knowledge, vehicle).expansion, text)
    case = make_case(knowledge, report, vehicle.unit)
    km = odometer_km if case.odometer_km is None else case.odometer_km
    return replace(case, odometer_km=km, speeds=vehicle.speeds, layout=vehicle.layout)


WEIGHTS = {"cured": 1.0, "seen": 0.8, "assumed": 0.4, "": 0.2}
"""Vehicles that a case counts for, by how its outcome is known; "" while nobody knows (judgement)."""
RECORD_WEIGHTS = dict(zip(RECORDS, (0.8, 0.4, 0.4), strict=True))
"""The same of published repairs: an area is less than a cause, and a campaign speaks of one family of vehicles."""
OPEN = "not_told"
_CURED = CONFIRMED_BY[0]
TOLD_UNASKED = 0.3
"""Share of an owner's signs that a published repair names (judgement: reports name a few of what there was)."""


def gather_confirmed(knowledge: Knowledge, paths: Iterable[Path]) -> list[Confirmed]:
    """Read vehicles from case files, and from folders of cases or of lists of repairs.

    Raises: CaseError: every problem of what is read, each with its place and what to write instead.
    """
    problems: list[Problem] = []
    found: list[Confirmed] = []
    for path in (one for given in paths for one in _list_sources(given)):
        try:
            found += _read_lists(knowledge, path) if path.is_dir() else [_read_file(knowledge, path)]
        except (KnowledgeError, CaseError) as error:
            problems += error.problems
    if problems:
        raise CaseError(problems)
    return found


def _list_sources(path: Path) -> list[Path]:
    """List what is read by itself: a case, or a folder of lists of repairs as a whole."""
    files = (
        sorted(one for ending in ("*.yaml", "*.yml", "*.json") for one in path.glob(ending)) if path.is_dir() else []
    )
    if path.is_dir() and not files:
        problem = Problem(Mark(str(path)), f"{LETTER}011", "There is no case in this folder", "Name a folder of cases.")
        raise CaseError([problem])
    return [path] if any(map(_is_list, files)) else files or [path]


def _read_lists(knowledge: Knowledge, folder: Path) -> list[Confirmed]:
    repairs = read_repairs(folder, knowledge)
    return [one for repair in repairs for one in _of_repair(knowledge, repair)]


def _is_list(path: Path) -> bool:
    node, _ = read_yaml(path, path.name, LETTER)
    return node is not None and node.kind == "list"


def _read_file(knowledge: Knowledge, path: Path) -> Confirmed:
    case = read_case(path, list_known(knowledge, peek_vehicle(path)))
    outcome, cured = case.outcome, tuple(_cured_by(knowledge, case))
    if outcome is not None and outcome.causes:
        known_by = outcome.confirmed or "assumed"
        return Confirmed(case, outcome.causes, known_by=known_by, weight=WEIGHTS[known_by])
    if cured:
        return Confirmed(case, cured, known_by=_CURED, weight=WEIGHTS[_CURED])
    return Confirmed(case, known_by=OPEN, weight=WEIGHTS[""])


def _cured_by(knowledge: Knowledge, case: Case) -> Iterator[str]:
    """Name what may have been cured: all that a job puts right which is said to have cured it."""
    jobs = compile_unit(knowledge, case.vehicle).expansion.cures
    for item in case.done:
        if item.result == _CURED:
            yield from jobs.get(item.id, ())


def _of_repair(knowledge: Knowledge, repair: Repair) -> list[Confirmed]:
    try:
        case = enter_repair(knowledge, repair)
    except ShiftloreError:
        return []
    return [
        Confirmed(
            replace(case, said=()),
            repair.causes,
            areas=() if repair.causes else repair.areas,
            known_by=repair.record,
            weight=RECORD_WEIGHTS[repair.record],
            is_sample=repair.record == RECORDS[0],
            told_unasked=TOLD_UNASKED,
        )
    ]
