"""Closed cases used again: as remembered ones, and to learn from."""

import os
import sqlite3
import subprocess
import sys
from collections.abc import Callable
from contextlib import closing
from dataclasses import replace
from functools import partial
from pathlib import Path

import pytest
from support.casebook_entries import ENTRY, entry_of
from support.trade import shipped

import shiftlore
from shiftlore.casebook import Casebook, CasebookError, Entry, gather_lessons, open_casebook, recall_casebook
from shiftlore.casebook.book_records import LATEST
from shiftlore.casebook.recalling import recall_entries, recall_entry

FULL = replace(ENTRY, told="Slips", alone={"pump_worn": 0.6}, signs={"slips": "yes"})


def test_recall_entry__what_it_looked_like_and_what_it_was() -> None:
    one = recall_entry(FULL)
    assert ("0" * 20, "shop", "Slips", "pump", ("pump_worn",), "long6") == (
        one.id, one.source, one.told, one.area, one.causes, one.vehicle,
    )  # fmt: skip
    assert ({"pump_worn": 0.6}, {"slips": "yes"}, "Pump worn") == (one.beliefs, one.signs, one.cause)


def test_recall_entries__what_nobody_knows_and_what_looked_like_nothing_is_left_out() -> None:
    nameless = replace(FULL, area="", causes=(), templates=(), cause_labels=())
    assert [recall_entry(FULL)] == [*recall_entries([nameless, FULL, replace(FULL, alone={})])]
    assert () == recall_entries([])


def test_recall_entry__a_comeback_is_remembered_too() -> None:
    """What it was stays what it was, though the work on it did not last."""
    assert recall_entry(FULL).causes == recall_entry(replace(FULL, outcome="came_back", comeback_km=400.0)).causes


@pytest.fixture
def kept(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Give a casebook of two cases that can be remembered, and one that cannot."""
    path = tmp_path / "book.db"
    monkeypatch.setenv("SHIFTLORE_CASEBOOK", str(path))
    with open_casebook(path) as filed:
        filed.take_in([replace(FULL, id=f"{n:020x}", closed_on=f"2026-03-0{4 - n}") for n in (1, 2)])
        filed.take_in([entry_of(3)])
    return path


def put(statements: str, path: Path) -> None:
    """Change a casebook's file behind its back."""
    with closing(sqlite3.connect(path)) as own:
        own.executescript(statements)


def through_the_library(path: Path) -> tuple:
    with open_casebook(path) as filed:
        return recall_entries(filed.each_entry())


def test_recall_casebook__a_file_says_the_same_as_through_the_database_library(kept: Path) -> None:
    found = recall_casebook(1.0)
    assert (f"{2:020x}", f"{1:020x}") == tuple(one.id for one in found)
    assert through_the_library(kept) == found


def test_recall_casebook__a_file_is_read_without_the_database_library(kept: Path) -> None:
    code = "import sys; from shiftlore.casebook import recall_casebook; print(len(recall_casebook(1.0)), 'sqlalchemy' in sys.modules)"
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert "2 False" == run.stdout.strip()


def test_recall_casebook__sees_what_is_not_yet_in_the_file_itself(kept: Path) -> None:
    """The log beside the file holds what was written while somebody else has it open."""
    with open_casebook(kept) as filed:
        filed.file(replace(FULL, id=f"{9:020x}"))
        assert 3 == len(recall_casebook(1.0))


def test_recall_casebook__an_older_form_is_carried_forward_first(kept: Path) -> None:
    put(
        "UPDATE casebook_version SET version = 1; ALTER TABLE casebook_entries DROP COLUMN currency; "
        "DROP TABLE casebook_practice",
        kept,
    )
    assert 2 == len(recall_casebook(1.0))
    with closing(sqlite3.connect(kept)) as own:
        assert (LATEST,) == own.execute("SELECT version FROM casebook_version").fetchone()


@pytest.mark.parametrize(
    ("spoil", "says"),
    [
        (lambda path: path.write_bytes(b"no casebook at all"), "is no casebook"),
        pytest.param(
            lambda path: path.chmod(0o644),
            "can read the casebook",
            marks=pytest.mark.skipif(os.name != "posix", reason="the system keeps no such bits"),
        ),
        (partial(put, "UPDATE casebook_version SET version = 99"), "newer program"),
        (partial(put, "UPDATE casebook_entries SET alone = '{\"a\": 1e999}'"), "is damaged: what is filed under"),
        (partial(put, "UPDATE casebook_entries SET alone = '[1]'"), "is damaged: what is filed under"),
        (partial(put, "UPDATE casebook_entries SET causes = '7'"), "is damaged: what is filed under"),
        (partial(put, "UPDATE casebook_entries SET signs = '{\"a\": 1}'"), "is damaged: what is filed under"),
        (partial(put, "UPDATE casebook_entries SET told = char(27) || '[31m'"), "is damaged: what is filed under"),
    ],
)
def test_recall_casebook__what_cannot_be_read_is_told_as_ever(kept: Path, spoil: Callable, says: str) -> None:
    spoil(kept)
    with pytest.raises(CasebookError, match=says):
        recall_casebook(0.1)


def test_recall_casebook__none_where_there_is_none(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("SHIFTLORE_CASEBOOK", str(tmp_path / "nowhere.db"))
    assert () == recall_casebook(0.1) and [] == list(tmp_path.iterdir())
    monkeypatch.delenv("SHIFTLORE_CASEBOOK")
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "none"))
    assert () == recall_casebook(0.1) and [] == list(tmp_path.iterdir())


def test_recall_casebook__a_disk_that_is_not_there_today_is_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("SHIFTLORE_CASEBOOK", str(tmp_path / "disk" / "book.db"))
    with pytest.raises(CasebookError, match=r"There is no folder .*disk\. Make it first"):
        recall_casebook(0.1)
    assert [] == list(tmp_path.iterdir())


def learn_from(*entries: Entry) -> list[tuple[str, float]]:
    return [(one.known_by, one.weight) for one in gather_lessons(shipped(), entries).vehicles]


@pytest.mark.parametrize(
    ("change", "expected"),
    [
        ({}, ("cured", 1.0)),
        ({"confirmed": "seen"}, ("seen", 0.8)),
        ({"confirmed": ""}, ("assumed", 0.4)),
        ({"outcome": "came_back"}, ("assumed", 0.4)),
        ({"outcome": "came_back", "confirmed": "seen"}, ("seen", 0.8)),
        ({"causes": (), "templates": (), "confirmed": ""}, ("not_told", 0.2)),
    ],
)
def test_gather_lessons__by_how_surely_it_is_known(change: dict, expected: tuple[str, float]) -> None:
    assert [expected] == learn_from(replace(ENTRY, **change))


def test_gather_lessons__what_cannot_be_read_is_set_aside_and_told() -> None:
    wrong = [
        entry_of(1, case='{"unit": "long66"}'),
        entry_of(2, causes=("gone",)),
        entry_of(3, case='{"unit": "long6", "findings": {"gone": "yes"}}'),
        entry_of(4, case="{}"),
    ]
    found = gather_lessons(shipped(), [*wrong, ENTRY])
    assert 1 == len(found.vehicles) and [one.id for one in wrong] == [name for name, _ in found.set_aside]
    assert (
        "casebook 00000000" in found.set_aside[0][1]
        and "The rules have no cause gone any more." == found.set_aside[1][1]
    )


def test_gather_lessons__without_those_that_are_known_by_their_files() -> None:
    assert () == gather_lessons(shipped(), [ENTRY], {ENTRY.id}).vehicles


def test_learn__from_a_casebook_and_from_files_alike(book: Casebook, tmp_path: object) -> None:
    """The numbers are those that are learned from the same cases as files."""
    for i in range(3):
        book.file(entry_of(i))
    kept = shiftlore.learn(shipped(), [], casebook=book).overlay
    files = []
    for i in range(3):
        files.append(tmp_path / f"{i}.yaml")  # type: ignore[operator]
        files[-1].write_text(
            "unit: long6\ncomplaint: [slips]\nfindings: {slips: yes}\noutcome: {causes: [pump_worn], confirmed: cured}\n"
        )
    assert shiftlore.learn(shipped(), files).overlay == kept and {"cured": 3} == kept.cases
