"""Closed cases of the shop as remembered ones, which a later case may look like."""

from collections.abc import Iterable

from shiftlore.casebook.book_records import Entry
from shiftlore.repairs.memory import SHOP, Remembered


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
