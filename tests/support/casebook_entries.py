"""Entries to test with, and a program that files many of them: `python -m support.casebook_entries PLACE WRITER COUNT`."""

import sys
from dataclasses import replace
from typing import Any

from shiftlore.casebook import Entry, open_casebook

ENTRY = Entry(
    "0" * 20,
    "2026-03-02",
    '{"shiftlore": 1, "unit": "long6", "complaint": ["slips"], "findings": {"slips": "yes"}}',
    unit="long6",
    area="pump",
    causes=("pump_worn",),
    templates=("pump_worn",),
    cause_labels=("Pump worn",),
    confirmed="cured",
    corrections=("overhaul",),
    job_labels=("Overhaul",),
    outcome="cured",
    minutes=210.0,
    spent=640.5,
    currency="EUR",
    odometer_km=164_000.0,
    areas={"pump": 0.25, "clutch_pack": 0.1},
    beliefs={"pump_worn": 0.2},
)


def entry_of(number: int, **changes: Any) -> Entry:
    """Make an entry of its own."""
    return replace(ENTRY, **{"id": f"{number:020x}", **changes})


SHARED = 4
"""Every so many entries one is filed by all writers, and must be there once."""
CASE = '{"shiftlore": 1, "unit": "long6", "complaint": ["slips"], "findings": {"slips": "yes"}, "note": "%s"}'


def make_entry(writer: int, number: int) -> Entry:
    """Make one of the entries of a writer; each `SHARED`th is the same for all."""
    who = 0 if number % SHARED == 0 else writer + 1
    return Entry(
        f"{who:08x}{number:012x}",
        f"2026-03-{1 + number % 28:02}",
        CASE % f"{who} {number} é",
        unit="long6",
        area="pump",
        causes=("pump_worn",),
        templates=("pump_worn",),
        outcome="cured",
        minutes=float(number),
        spent=number / 3,
        beliefs={f"cause_{i}": i / 300 for i in range(200)},
    )


def file_all(place: str, writer: int, count: int, amends: bool = False) -> int:
    """File the entries of one writer; tell how many were new."""
    with open_casebook(place) as book:
        return sum((book.amend if amends else book.file)(make_entry(writer, number)) for number in range(count))


if __name__ == "__main__":
    print(file_all(sys.argv[1], int(sys.argv[2]), int(sys.argv[3])))
