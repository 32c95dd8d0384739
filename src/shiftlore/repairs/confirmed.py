"""Vehicles to learn numbers from: finished cases of a shop, and published repairs."""

from collections.abc import Iterable, Iterator
from dataclasses import replace
from pathlib import Path

from shiftlore.basics import CaseError, KnowledgeError, Mark, Problem, ShiftloreError
from shiftlore.cases import CONFIRMED_BY, Case, peek_vehicle, read_case
from shiftlore.compiling import compile_unit, list_known
from shiftlore.knowledge import Knowledge
from shiftlore.reading import read_yaml
from shiftlore.repairs.counting import Confirmed
from shiftlore.repairs.published import LETTER, RECORDS, Repair, read_repairs
from shiftlore.repairs.scoring import enter_repair

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
