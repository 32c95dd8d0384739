"""Closed cases of the shop as remembered ones, which a later case may look like."""

import json
from collections.abc import Iterable, Mapping

from shiftlore.casebook.records import Entry
from shiftlore.repairs.memory import SHOP, Remembered, shorten

_YES = {True: "yes", False: "no"}


def recall_entries(entries: Iterable[Entry]) -> tuple[Remembered, ...]:
    """Give closed cases of which it is known what they were, and of which something was believed, as remembered ones."""
    return tuple(recall_entry(entry) for entry in entries if entry.area and entry.beliefs)


def recall_entry(entry: Entry) -> Remembered:
    """Give one closed case as a remembered one; its belief is what the answers said before the outcome was known."""
    case = json.loads(entry.case)
    complaint = [str(key) for key in _listed(case.get("complaint"))]
    found = case.get("findings")
    signs = dict.fromkeys(complaint, _YES[True])
    for key, told in (found if isinstance(found, Mapping) else {}).items():
        grade = told.get("is") if isinstance(told, Mapping) else told
        if grade is not None:
            signs[key] = _YES[grade] if isinstance(grade, bool) else str(grade)
    telling = complaint or [key for key, grade in signs.items() if grade != _YES[False]]
    return Remembered(
        id=entry.id,
        source=SHOP,
        told=shorten(key.replace("_", " ") for key in telling),
        area=entry.area,
        causes=entry.causes,
        vehicle=entry.unit,
        beliefs=entry.beliefs,
        signs=signs,
        cause=", ".join(entry.cause_labels),
    )


def _listed(value: object) -> list[object]:
    return list(value) if isinstance(value, (list, tuple)) else []
