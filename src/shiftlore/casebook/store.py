"""The casebook: closed cases and rounds of practice, filed, amended, looked up, counted and forgotten.

Every filing is one transaction: it is there whole, or not at all. A case that is filed twice under its id is one.
"""

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from sqlalchemy import ColumnElement, Connection, and_, delete, func, insert, or_, select, update

from shiftlore.basics import UnknownId
from shiftlore.basics.problems import printable
from shiftlore.casebook.book_records import Entry, Forgotten, PracticeRound, PracticeScore, dump_plain, mark_forgotten
from shiftlore.casebook.book_tables import (
    CAUSES,
    ENTRIES,
    FORGOTTEN,
    PRACTICE,
    entry_of_row,
    forgotten_of_row,
    round_of_row,
    row_of_entry,
    row_of_forgotten,
    row_of_round,
)
from shiftlore.casebook.databases import FORGETTING_LOCK, Database, batched
from shiftlore.casebook.places import CasebookError, Place, find_casebook

PATIENCE_SECONDS = 30.0
"""How long a busy casebook is waited for."""
ROWS_AT_ONCE = 500
LEFT_OUT, KNOWN, NEW = -1, 0, 1
"""What became of a record that was to be taken in."""
Record = Entry | Forgotten | PracticeRound


class ForgottenCase(CasebookError):
    """A case that was forgotten on purpose is not taken in again."""


@dataclass(frozen=True, slots=True)
class Tally:
    """How many cases: those that are here, and those that were forgotten and of which only the count is left."""

    here: int = 0
    forgotten: int = 0


@dataclass(frozen=True, slots=True)
class BookCounts:
    """BookCounts of all closed cases, by area, unit, cause (as the rules write it) and outcome; the most frequent first."""

    cases: Tally
    areas: Mapping[str, Tally]
    units: Mapping[str, Tally]
    causes: Mapping[str, Tally]
    outcomes: Mapping[str, Tally]


def open_casebook(place: str | Path | None = None, patience_seconds: float = PATIENCE_SECONDS) -> "Casebook":
    """Open a casebook; it is made, or carried forward to today's form, where that is needed.

    Args:
        place: a file, or the address of a PostgreSQL; None takes the shop's setting, or the user's own data folder.
    Raises: CasebookError: it cannot be used; says why and what to do.
    """
    return Casebook(find_casebook(place), patience_seconds)


class Casebook:
    """Closed cases and rounds of practice; a context manager.

    Args:
        patience_seconds: how long to wait while another program writes.
    Raises: CasebookError: it cannot be used; says why and what to do.
    """

    def __init__(self, place: Place, patience_seconds: float = PATIENCE_SECONDS):
        self.place, self._base = place, Database(place, patience_seconds)

    def __enter__(self) -> "Casebook":
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def close(self) -> None:
        """Let go of the database."""
        self._base.close()

    def file(self, entry: Entry) -> bool:
        """Take a closed case in; one that is here already stays as it is.

        Returns: True where it is new.
        Raises: ForgottenCase: it was forgotten on purpose.
        """
        return self._base.write(lambda connection: self._file_one(connection, entry))

    def amend(self, entry: Entry) -> bool:
        """Take a closed case in, or what a later closing says of it; what it said before stays in its history.

        Returns: True where something is new.
        Raises: ForgottenCase: it was forgotten on purpose.
        """
        own = ENTRIES.c.id == entry.id

        def work(connection: Connection) -> bool:
            if self._file_one(connection, entry):
                return True
            before = entry_of_row(connection.execute(select(ENTRIES).where(own).with_for_update()).mappings().one())
            after = before.amended(entry)
            if after == before:
                return False
            connection.execute(update(ENTRIES).where(own).values(row_of_entry(after)))
            connection.execute(delete(CAUSES).where(CAUSES.c.entry_id == entry.id))
            self._note_causes(connection, [after])
            return True

        return self._base.write(work)

    def get(self, entry_id: str) -> Entry:
        """Give one closed case by its id, or by a beginning of it that only it has.

        Raises: UnknownId: there is none, or there are several.
        """
        begun = entry_id.strip().lower()
        found = self._rows(ENTRIES.c.id.startswith(begun, autoescape=True), most=2) if begun else []
        if len(found) == 1:
            return found[0]
        what = (
            f"More than one case begins with {printable(entry_id)}"
            if found
            else f"No case is called {printable(entry_id)}"
        )
        raise UnknownId(f"{what}. List them: shiftlore casebook list")

    def find(self, entry_id: str) -> Entry | None:
        """Give the closed case that has just this id; None where there is none."""
        return next(iter(self._rows(ENTRIES.c.id == entry_id)), None)

    def entries(
        self,
        area: str | None = None,
        unit: str | None = None,
        cause: str | None = None,
        since: str | None = None,
        person: str | None = None,
    ) -> tuple[Entry, ...]:
        """List closed cases, oldest first.

        Args:
            area, unit: only of these.
            cause: as the rules write it, or as a case names it.
            since: closed on this date (YYYY-MM-DD) or later.
            person: only this person's, in any letter case.
        """
        wanted: list[ColumnElement[bool]] = []
        for column, value in ((ENTRIES.c.area, area), (ENTRIES.c.unit, unit)):
            wanted += [column == value] if value is not None else []
        if since is not None:
            wanted.append(ENTRIES.c.closed_on >= since)
        if cause is not None:
            named = select(CAUSES.c.entry_id).where(CAUSES.c.template == cause)
            as_written = ENTRIES.c.causes.contains(dump_plain(cause), autoescape=True)
            wanted.append(or_(ENTRIES.c.id.in_(named), as_written))
        if person is not None:
            wanted.append(ENTRIES.c.person != "")
        found = self._rows(*wanted)
        return tuple(one for one in found if person is None or one.person.casefold() == person.strip().casefold())

    def each_entry(self) -> Iterator[Entry]:
        """Give every closed case, oldest first, a part at a time, so that a large casebook fits into memory."""
        with self._base.snapshot() as connection:
            yield from self._each_entry(connection)

    def each_record(self) -> Iterator[Record]:
        """Give all that is here, in the order in which it is exported: cases, what is left of forgotten ones, practice."""
        with self._base.snapshot() as connection:
            yield from self._each_entry(connection)
            yield from map(
                forgotten_of_row, connection.execute(select(FORGOTTEN).order_by(FORGOTTEN.c.mark)).mappings()
            )
            rounds = select(PRACTICE).order_by(PRACTICE.c.finished_on, PRACTICE.c.round)
            yield from map(round_of_row, connection.execute(rounds).mappings())

    def _each_entry(self, connection: Connection) -> Iterator[Entry]:
        asked = select(ENTRIES).order_by(ENTRIES.c.closed_on, ENTRIES.c.id).limit(ROWS_AT_ONCE)
        part = connection.execute(asked).mappings().all()
        while part:
            yield from map(entry_of_row, part)
            day, last = part[-1]["closed_on"], part[-1]["id"]
            later = or_(ENTRIES.c.closed_on > day, and_(ENTRIES.c.closed_on == day, ENTRIES.c.id > last))
            part = connection.execute(asked.where(later)).mappings().all()

    def forget(self, name: str) -> int:
        """Forget a person's cases, or one case by its id or the beginning of it; their counts stay.

        Returns: how many were forgotten.
        Raises: UnknownId: nothing here is called so.
        """
        ids = [one.id for one in self.entries(person=name)] if name.strip() else []
        ids = ids or [self.get(name).id]

        def work(connection: Connection) -> int:
            self._base.lock(connection, FORGETTING_LOCK)
            found = connection.execute(select(ENTRIES).where(ENTRIES.c.id.in_(ids))).mappings().all()
            left = [
                Forgotten(mark_forgotten(one.id), one.area, one.unit, one.templates, one.outcome)
                for one in map(entry_of_row, found)
            ]
            self._base.add(connection, FORGOTTEN, list(map(row_of_forgotten, left)))
            connection.execute(delete(CAUSES).where(CAUSES.c.entry_id.in_(ids)))
            connection.execute(delete(ENTRIES).where(ENTRIES.c.id.in_(ids)))
            return len(found)

        count = self._base.write(work)
        self._base.clear_log()
        return count

    def forgotten(self) -> tuple[Forgotten, ...]:
        """List what is left of the cases that were forgotten."""
        asked = select(FORGOTTEN).order_by(FORGOTTEN.c.mark)
        return self._base.read(lambda one: tuple(map(forgotten_of_row, one.execute(asked).mappings())))

    def counts(self) -> BookCounts:
        """Count the cases, those that were forgotten too."""

        def work(connection: Connection) -> tuple[list[dict[str, int]], list[Forgotten]]:
            here = []
            for column in (ENTRIES.c.area, ENTRIES.c.unit, CAUSES.c.template, ENTRIES.c.outcome):
                rows = connection.execute(select(column, func.count()).group_by(column))
                here.append({str(name): int(count) for name, count in rows})
            return here, [forgotten_of_row(row) for row in connection.execute(select(FORGOTTEN)).mappings()]

        (areas, units, causes, outcomes), left = self._base.read(work)
        return BookCounts(
            Tally(sum(outcomes.values()), len(left)),
            _tally(areas, (one.area for one in left)),
            _tally(units, (one.unit for one in left)),
            _tally(causes, (name for one in left for name in set(one.templates))),
            _tally(outcomes, (one.outcome for one in left)),
        )

    def note_practice(self, done: PracticeRound) -> bool:
        """Note a round of practice; the same round noted twice is one. Gives True where it is new."""
        return bool(self._base.write(lambda connection: self._base.add(connection, PRACTICE, [row_of_round(done)])))

    def practice_rounds(self) -> tuple[PracticeRound, ...]:
        """List the rounds of practice, oldest first."""
        asked = select(PRACTICE).order_by(PRACTICE.c.finished_on, PRACTICE.c.round)
        return self._base.read(lambda one: tuple(map(round_of_row, one.execute(asked).mappings())))

    def practice_scores(self) -> Mapping[str, PracticeScore]:
        """Give how practice has gone in each area."""
        scores: dict[str, PracticeScore] = {}
        for one in self.practice_rounds():
            old = scores.get(one.area, PracticeScore(0, 0, 0.0, 0.0))
            spent, planned = old.spent + one.spent, old.planned + one.planned
            scores[one.area] = PracticeScore(old.rounds + 1, old.found + one.found, spent, planned)
        return dict(sorted(scores.items()))

    def take_in(self, records: Sequence[Record]) -> tuple[int, ...]:
        """Take records in, in one transaction; what is here already stays as it is.

        Returns: for each `NEW`, `KNOWN`, or `LEFT_OUT`: a case that was forgotten here, or what is left of one that is here.
        """

        def work(connection: Connection) -> tuple[int, ...]:
            taken = self._file(connection, [one for one in records if isinstance(one, Entry)])
            taken |= self._add_remains(connection, [one for one in records if isinstance(one, Forgotten)])
            rounds = [row_of_round(one) for one in records if isinstance(one, PracticeRound)]
            taken |= dict.fromkeys(self._base.add(connection, PRACTICE, rounds), NEW)
            keys = list(map(_key_of, records))
            return tuple(KNOWN if key in keys[:i] else taken.get(key, KNOWN) for i, key in enumerate(keys))

        return self._base.write(work)

    def _add_remains(self, connection: Connection, remains: Sequence[Forgotten]) -> dict[str, int]:
        """Take in what is left of cases that were forgotten elsewhere, but not of those that are here; mark -> what became."""
        marks: set[str] = set()
        if remains:
            marks = set(map(mark_forgotten, connection.execute(select(ENTRIES.c.id)).scalars()))
        rows = [row_of_forgotten(one) for one in remains if one.mark not in marks]
        new = self._base.add(connection, FORGOTTEN, rows)
        return dict.fromkeys((one.mark for one in remains if one.mark in marks), LEFT_OUT) | dict.fromkeys(new, NEW)

    def _file_one(self, connection: Connection, entry: Entry) -> bool:
        became = self._file(connection, [entry]).get(entry.id, KNOWN)
        if became == LEFT_OUT:
            raise ForgottenCase("This case was forgotten on purpose. To file it anew, take id out of its outcome.")
        return became == NEW

    def _file(self, connection: Connection, entries: Sequence[Entry]) -> dict[str, int]:
        """Take closed cases in; id -> what became of it, where it was not here already."""
        self._base.lock(connection, FORGETTING_LOCK, shared=True)
        marks, gone = {mark_forgotten(one.id): one.id for one in entries}, set[str]()
        for part in batched(list(marks)):
            asked = select(FORGOTTEN.c.mark).where(FORGOTTEN.c.mark.in_(part))
            gone.update(marks[mark] for mark in connection.execute(asked).scalars())
        rows = [row_of_entry(one) for one in entries if one.id not in gone]
        new = self._base.add(connection, ENTRIES, rows)
        first = {one.id: one for one in reversed(entries) if one.id in new}
        self._note_causes(connection, first.values())
        return dict.fromkeys(gone, LEFT_OUT) | dict.fromkeys(new, NEW)

    def _note_causes(self, connection: Connection, entries: Iterable[Entry]) -> None:
        rows = [{"entry_id": one.id, "template": name} for one in entries for name in sorted(set(one.templates))]
        if rows:
            connection.execute(insert(CAUSES), rows)

    def _rows(self, *wanted: ColumnElement[bool], most: int | None = None) -> list[Entry]:
        asked = select(ENTRIES).where(*wanted).order_by(ENTRIES.c.closed_on, ENTRIES.c.id).limit(most)
        return self._base.read(lambda one: [entry_of_row(row) for row in one.execute(asked).mappings()])


def _key_of(record: Record) -> str:
    if isinstance(record, Entry):
        return record.id
    return record.mark if isinstance(record, Forgotten) else record.key


def _tally(here: Mapping[str, int], left: Iterable[str]) -> dict[str, Tally]:
    gone = Counter(left)
    names = sorted({*here, *gone}, key=lambda name: (-here.get(name, 0) - gone[name], name))
    return {name: Tally(here.get(name, 0), gone[name]) for name in names}
