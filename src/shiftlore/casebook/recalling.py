"""Closed cases used again: as remembered ones, which a later case may look like, and as vehicles to learn numbers from."""

import json
import sqlite3
from collections.abc import Collection, Iterable, Mapping
from contextlib import closing
from itertools import chain
from pathlib import Path
from typing import TYPE_CHECKING, Any

from shiftlore.basics import ShiftloreError
from shiftlore.basics.problems import HIDDEN
from shiftlore.basics.structs import Value
from shiftlore.casebook.book_records import LATEST, Entry
from shiftlore.casebook.places import find_casebook, ready_file
from shiftlore.cases import CONFIRMED_BY, CURED, Case, peek_vehicle, read_case
from shiftlore.compiling import list_known
from shiftlore.knowledge import Knowledge, find_data_folder
from shiftlore.repairs.memory import SHOP, Remembered

if TYPE_CHECKING:
    from shiftlore.repairs import Confirmed


_COLUMNS = ("id", "told", "area", "causes", "unit", "alone", "signs", "cause_labels")
_AS_JSON = ("causes", "alone", "signs", "cause_labels")


def recall_casebook(patience_seconds: float) -> tuple[Remembered, ...]:
    """Give the closed cases of the shop's casebook; none where there is no casebook.

    Args:
        patience_seconds: how long to wait while another program writes.
    Raises: CasebookError: it cannot be read; says why and what to do.
    """
    place = find_casebook()
    if not place.is_there:
        if place.path is not None and place.path.parent != find_data_folder() and not place.path.parent.is_dir():
            ready_file(place.path)  # tells that the folder is gone, as of a disk that is not there today
        return ()
    found = None if place.path is None else _recall_file(place.path, patience_seconds)
    if found is not None:
        return found
    from shiftlore.casebook.store import Casebook

    with Casebook(place, patience_seconds) as book:
        return recall_entries(book.each_entry())


def _recall_file(path: Path, patience_seconds: float) -> tuple[Remembered, ...] | None:
    """Read a file by Python's own reader: importing the database library takes longer; None where that one must help."""
    ready_file(path)
    try:
        address = f"{path.absolute().as_uri()}?mode=ro"
        with closing(sqlite3.connect(address, timeout=patience_seconds, uri=True)) as book:
            book.row_factory = sqlite3.Row
            if book.execute("SELECT max(version) FROM casebook_version").fetchone()[0] != LATEST:
                return None
            wanted = f"SELECT {', '.join(_COLUMNS)} FROM casebook_entries WHERE area != '' ORDER BY closed_on, id"
            rows = [dict(row) | {name: json.loads(row[name]) for name in _AS_JSON} for row in book.execute(wanted)]
    except (sqlite3.Error, ValueError, TypeError, RecursionError):
        return None
    return tuple(_recall(row) for row in rows if row["alone"]) if all(map(_is_whole, rows)) else None


def _is_whole(row: Mapping[str, Any]) -> bool:
    """Tell whether a row can have been filed so; else it is read with all that tells what is wrong."""
    shares, signs = row["alone"], row["signs"]
    if not (isinstance(shares, dict) and isinstance(signs, dict)):
        return False
    lists = (row["causes"], row["cause_labels"])
    if not all(isinstance(one, list) for one in lists):
        return False
    texts = (*(row[name] for name in _COLUMNS if name not in _AS_JSON), *chain(*lists), *signs.values())
    return all(isinstance(text, str) and not HIDDEN.search(text) for text in texts) and all(
        isinstance(share, int | float) and 0 <= share <= 1 for share in shares.values()
    )


def recall_entries(entries: Iterable[Entry]) -> tuple[Remembered, ...]:
    """Give closed cases as remembered ones; those of which nobody knows what they were, or looked like, are left out."""
    return tuple(recall_entry(entry) for entry in entries if entry.area and entry.alone)


def recall_entry(entry: Entry) -> Remembered:
    """Give one closed case as a remembered one, with what it looked like before its outcome was known."""
    return _recall({name: getattr(entry, name) for name in _COLUMNS})


def _recall(kept: Mapping[str, Any]) -> Remembered:
    return Remembered(
        id=kept["id"],
        source=SHOP,
        told=kept["told"],
        area=kept["area"],
        causes=tuple(kept["causes"]),
        vehicle=kept["unit"],
        beliefs=kept["alone"],
        signs=kept["signs"],
        cause=", ".join(kept["cause_labels"]),
    )


class Lesson(Value, frozen=True):
    """Vehicles of a casebook to learn from.

    Args:
        set_aside: ids of cases that today's rules cannot read -> why not.
    """

    vehicles: "tuple[Confirmed, ...]"
    set_aside: tuple[tuple[str, str], ...]


def gather_lessons(knowledge: Knowledge, entries: Iterable[Entry], without: Collection[str] = ()) -> Lesson:
    """Make vehicles to learn from out of closed cases.

    Args:
        without: ids of cases that are learned from already, by their files.
    """
    vehicles, set_aside = [], []
    for entry in entries:
        if entry.id in without:
            continue
        try:
            vehicles.append(_learn_from(knowledge, entry))
        except ShiftloreError as error:
            set_aside.append((entry.id, str(error).split("\n")[0]))
    return Lesson(tuple(vehicles), tuple(set_aside))


def read_filed(knowledge: Knowledge, entry: Entry) -> Case:
    """Read the case of an entry under today's rules.

    Raises: CaseError: these cannot read it.
    """
    text = entry.case + "\n"
    return read_case(text, list_known(knowledge, peek_vehicle(text)), f"casebook {entry.id[:8]}")


def _learn_from(knowledge: Knowledge, entry: Entry) -> "Confirmed":
    """Read a case as it was filed; a cure that did not last confirms nothing."""
    from shiftlore.repairs import (  # they bring the reader of words, which a ranking does without
        OPEN,
        WEIGHTS,
        Confirmed,
    )

    case = read_filed(knowledge, entry)
    by_cure, _, assumed = CONFIRMED_BY
    known_by = entry.confirmed or (assumed if entry.causes else "")
    if known_by == by_cure and entry.outcome != CURED:
        known_by = assumed
    known = {*knowledge.causes, *list_known(knowledge, case.vehicle).causes}
    if lost := [cause for cause in entry.causes if cause not in known]:
        raise ShiftloreError(f"The rules have no cause {lost[0]} any more.")
    return Confirmed(case, entry.causes, known_by=known_by or OPEN, weight=WEIGHTS[known_by])
