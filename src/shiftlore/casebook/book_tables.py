"""The casebook's tables, and the numbered steps that carry an older casebook forward.

A step is plain SQL that SQLite and PostgreSQL both read. It is never changed once it was released: what a casebook of
that number looks like is what the step says. A new field is a new step below, and a column in the table above it.
"""

import json
from collections.abc import Callable, Sequence
from dataclasses import fields
from typing import Any, TypeVar

from sqlalchemy import BigInteger, Boolean, Column, Double, Integer, MetaData, RowMapping, Table, Text

from shiftlore.basics.problems import printable
from shiftlore.casebook.book_records import (
    LISTS,
    SHARES,
    DamagedRow,
    Entry,
    Forgotten,
    PracticeRound,
    dump_plain,
)

Made = TypeVar("Made")
METADATA = MetaData()
_KEY_SHOWN = 32


def _texts(names: Sequence[str]) -> list[Column]:
    return [Column(name, Text, nullable=False) for name in names]


def _numbers(names: Sequence[str]) -> list[Column]:
    return [Column(name, Double) for name in names]


VERSION = Table("casebook_version", METADATA, Column("version", Integer, nullable=False))
_ENTRY_TEXTS = ("closed_on", "case", "unit", "area", *LISTS, "confirmed", "outcome", "person", "told", "signs", *SHARES)
_ENTRY_NUMBERS = ("minutes", "spent", "comeback_km", "odometer_km")
ENTRIES = Table(
    "casebook_entries",
    METADATA,
    Column("id", Text, primary_key=True),
    *_texts((*_ENTRY_TEXTS, "history", "program", "currency")),
    *_numbers(_ENTRY_NUMBERS),
)
"""One row for each closed case; lists and mappings stand as JSON."""
CAUSES = Table(
    "casebook_causes", METADATA, Column("entry_id", Text, primary_key=True), Column("template", Text, primary_key=True)
)
"""What each was, as the rules write it, to look cases up by."""
FORGOTTEN = Table(
    "casebook_forgotten",
    METADATA,
    Column("mark", Text, primary_key=True),
    *_texts(("area", "unit", "templates", "outcome")),
)
PRACTICE = Table(
    "casebook_practice",
    METADATA,
    Column("round", Text, primary_key=True),
    *_texts(("area", "cause", "unit", "level", "finished_on")),
    *_numbers(("spent", "planned")),
)
PRACTICE.append_column(Column("seed", BigInteger, nullable=False))
PRACTICE.append_column(Column("found", Boolean, nullable=False))

STEPS: tuple[tuple[str, ...], ...] = (
    (
        """CREATE TABLE casebook_entries (
            id TEXT NOT NULL PRIMARY KEY, closed_on TEXT NOT NULL, "case" TEXT NOT NULL, unit TEXT NOT NULL,
            area TEXT NOT NULL, causes TEXT NOT NULL, templates TEXT NOT NULL, cause_labels TEXT NOT NULL,
            confirmed TEXT NOT NULL, corrections TEXT NOT NULL, job_labels TEXT NOT NULL, outcome TEXT NOT NULL,
            minutes DOUBLE PRECISION, spent DOUBLE PRECISION,
            comeback_km DOUBLE PRECISION, odometer_km DOUBLE PRECISION, person TEXT NOT NULL, told TEXT NOT NULL,
            signs TEXT NOT NULL, areas TEXT NOT NULL, beliefs TEXT NOT NULL, alone TEXT NOT NULL,
            history TEXT NOT NULL, program TEXT NOT NULL)""",
        "CREATE INDEX casebook_entries_closed_on ON casebook_entries (closed_on, id)",
        "CREATE INDEX casebook_entries_person ON casebook_entries (person)",
        """CREATE TABLE casebook_causes (
            entry_id TEXT NOT NULL REFERENCES casebook_entries (id) ON DELETE CASCADE, template TEXT NOT NULL,
            PRIMARY KEY (entry_id, template))""",
        "CREATE INDEX casebook_causes_template ON casebook_causes (template)",
        """CREATE TABLE casebook_forgotten (
            mark TEXT NOT NULL PRIMARY KEY, area TEXT NOT NULL, unit TEXT NOT NULL, templates TEXT NOT NULL,
            outcome TEXT NOT NULL)""",
    ),
    (
        "ALTER TABLE casebook_entries ADD COLUMN currency TEXT NOT NULL DEFAULT ''",
        """CREATE TABLE casebook_practice (
            round TEXT NOT NULL PRIMARY KEY, area TEXT NOT NULL, cause TEXT NOT NULL, unit TEXT NOT NULL,
            level TEXT NOT NULL, seed BIGINT NOT NULL, found BOOLEAN NOT NULL, spent DOUBLE PRECISION NOT NULL,
            planned DOUBLE PRECISION NOT NULL, finished_on TEXT NOT NULL)""",
        "CREATE INDEX casebook_practice_area ON casebook_practice (area)",
    ),
)
"""Step by step from nothing: after the n-th step a casebook has version n."""
_LISTS, _AS_JSON = (*LISTS, "history"), ("signs", *SHARES)
_ROUND = "round"


def row_of_entry(entry: Entry) -> dict[str, Any]:
    """Give the row of a closed case."""
    row = {item.name: getattr(entry, item.name) for item in fields(entry)}
    return row | {name: dump_plain(row[name]) for name in (*_LISTS, *_AS_JSON)}


def entry_of_row(row: RowMapping) -> Entry:
    """Give the closed case of a row."""
    return _read_row(row, _LISTS, _AS_JSON, Entry)


def _read_row(row: RowMapping, lists: Sequence[str], mappings: Sequence[str], make: Callable[..., Made]) -> Made:
    """Make a record of a row.

    Raises: DamagedRow: its record would have been refused.
    """
    try:
        plain = dict(row)
        plain |= {name: tuple(json.loads(plain[name])) for name in lists}
        return make(**plain | {name: json.loads(plain[name]) for name in mappings})
    except (ValueError, TypeError, RecursionError) as error:
        key = printable(str(next(iter(row.values()))))[:_KEY_SHOWN]
        raise DamagedRow(f"what is filed under {key} cannot be read ({printable(str(error))})") from error


def row_of_forgotten(left: Forgotten) -> dict[str, Any]:
    """Give the row of what is left of a case."""
    return {item.name: getattr(left, item.name) for item in fields(left)} | {"templates": dump_plain(left.templates)}


def forgotten_of_row(row: RowMapping) -> Forgotten:
    """Give what is left of a case from its row."""
    return _read_row(row, ("templates",), (), Forgotten)


def row_of_round(done: PracticeRound) -> dict[str, Any]:
    """Give the row of a round of practice."""
    return {_ROUND: done.key} | {item.name: getattr(done, item.name) for item in fields(done)}


def round_of_row(row: RowMapping) -> PracticeRound:
    """Give the round of practice of a row."""

    def make(round: str, **told: Any) -> PracticeRound:
        return PracticeRound(**told)

    return _read_row(row, (), (), make)
