"""Closed cases used again: as remembered ones, and to learn from."""

from dataclasses import replace

import pytest
from support.casebook_entries import ENTRY, entry_of
from support.trade import shipped

import shiftlore
from shiftlore.casebook import Casebook, Entry, gather_lessons, recall_entries
from shiftlore.casebook.recalling import recall_entry

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
