"""Closed cases teach: how surely each is known, and what today's rules cannot read is set aside."""

from dataclasses import replace

import pytest
from support.casebook_entries import ENTRY, entry_of
from support.trade import shipped

import shiftlore
from shiftlore.casebook import Casebook, Entry, gather_lessons


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
