"""Closed cases as vehicles to learn numbers from."""

from collections.abc import Collection, Iterable
from dataclasses import dataclass

from shiftlore.basics import ShiftloreError
from shiftlore.casebook.book_records import Entry
from shiftlore.cases import CONFIRMED_BY, CURED, peek_vehicle, read_case
from shiftlore.compiling import list_known
from shiftlore.knowledge import Knowledge
from shiftlore.repairs import OPEN, WEIGHTS, Confirmed


@dataclass(frozen=True, slots=True)
class Lesson:
    """Vehicles of a casebook to learn from.

    Args:
        set_aside: ids of cases that today's rules cannot read -> why not.
    """

    vehicles: tuple[Confirmed, ...]
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


def _learn_from(knowledge: Knowledge, entry: Entry) -> Confirmed:
    """Read a case as it was filed; a cure that did not last confirms nothing."""
    text = entry.case + "\n"
    case = read_case(text, list_known(knowledge, peek_vehicle(text)), f"casebook {entry.id[:8]}")
    by_cure, _, assumed = CONFIRMED_BY
    known_by = entry.confirmed or (assumed if entry.causes else "")
    if known_by == by_cure and entry.outcome != CURED:
        known_by = assumed
    known = {*knowledge.causes, *list_known(knowledge, case.vehicle).causes}
    if lost := [cause for cause in entry.causes if cause not in known]:
        raise ShiftloreError(f"The rules have no cause {lost[0]} any more.")
    return Confirmed(case, entry.causes, known_by=known_by or OPEN, weight=WEIGHTS[known_by])
