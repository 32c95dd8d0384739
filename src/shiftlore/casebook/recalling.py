"""Closed cases used again: as remembered ones, which a later case may look like, and as vehicles to learn numbers from."""

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from shiftlore.basics import ShiftloreError
from shiftlore.casebook.book_records import Entry
from shiftlore.cases import CONFIRMED_BY, CURED, Case, peek_vehicle, read_case
from shiftlore.compiling import list_known
from shiftlore.knowledge import Knowledge
from shiftlore.repairs.memory import SHOP, Remembered

if TYPE_CHECKING:
    from shiftlore.repairs import Confirmed


def recall_entries(entries: Iterable[Entry]) -> tuple[Remembered, ...]:
    """Give closed cases as remembered ones; those of which nobody knows what they were, or looked like, are left out."""
    return tuple(recall_entry(entry) for entry in entries if entry.area and entry.alone)


def recall_entry(entry: Entry) -> Remembered:
    """Give one closed case as a remembered one, with what it looked like before its outcome was known."""
    return Remembered(
        id=entry.id,
        source=SHOP,
        told=entry.told,
        area=entry.area,
        causes=entry.causes,
        vehicle=entry.unit,
        beliefs=entry.alone,
        signs=entry.signs,
        cause=", ".join(entry.cause_labels),
    )


@dataclass(frozen=True, slots=True)
class Lesson:
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
