"""Records: what they take, what they refuse, and what of a case is amended."""

from dataclasses import replace
from typing import Any

import pytest

from shiftlore.casebook import Entry, PracticeRound
from shiftlore.casebook.book_records import EntryProblem, Forgotten, dump_plain, make_id, mark_forgotten

PLAIN = Entry("0123456789abcdef0123", "2026-03-02", '{"unit":"long6"}', outcome="cured")
ROUND = PracticeRound("pump", "pump_worn", "long6", "any", 7, True, 120, 90.5, "2026-03-02T10:15:00")


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"id": "abc"}, '"abc" is no id of a case. Write 20 hexadecimal digits.'),
        ({"id": "0123456789ABCDEF0123"}, "is no id of a case"),
        ({"closed_on": "2.3.2026"}, 'closed_on "2.3.2026" is no date. Write it like 2026-03-02.'),
        ({"closed_on": "20260302"}, "is no date"),
        ({"closed_on": 20260302}, "is no date"),
        ({"outcome": "better"}, 'outcome "better" will not do. Write one of: cured, not_cured, came_back.'),
        ({"confirmed": "yes"}, "Write one of: cured, seen, assumed."),
        ({"minutes": -1}, 'minutes "-1" will not do. Write a number from 0 to 100,000, or null.'),
        ({"minutes": True}, 'minutes "True" will not do.'),
        ({"spent": float("nan")}, 'spent "nan" will not do.'),
        ({"spent": float("inf")}, 'spent "inf" will not do.'),
        ({"spent": "12"}, 'spent "12" will not do.'),
        ({"person": "An\x00na"}, 'person "An?na" will not do. Write at most 2000 visible characters.'),
        ({"person": "\ud800"}, 'person "?" will not do.'),
        ({"person": None}, "person is no text. Write it in quotes."),
        ({"causes": "pump_worn"}, "causes is no list. Write it in brackets."),
        ({"causes": [1]}, "causes is no text."),
        ({"areas": []}, "areas is no mapping."),
        ({"areas": {"pump": 1.5}}, 'areas: pump "1.5" will not do. Write a number from 0 to 1.'),
        ({"case": "unit: long6"}, "case is no JSON object. Write the case as JSON."),
        ({"case": "[]"}, "case is no JSON object."),
        ({"case": '{"a": NaN}'}, "case is no JSON object."),
        ({"case": '{"a": 1e999}'}, "This cannot be kept: Out of range float"),
        ({"case": '{"a": "\\ud800"}'}, "This cannot be kept:"),
        ({"case": '{"a": "' + "x" * 1_000_001 + '"}'}, "case is too long. Write at most 1,000,000 characters."),
        ({"history": [{"outcome": "cured"}]}, "history does not hold what was said before. Write for each: closed_on,"),
    ],
)
def test_entry__refuses_what_cannot_be_kept(change: dict[str, Any], says: str) -> None:
    with pytest.raises(EntryProblem) as told:
        replace(PLAIN, **change)
    assert says in str(told.value)


def test_entry__is_written_in_one_way() -> None:
    made = replace(PLAIN, minutes=3, spent=-0.0, case=' {"unit" : "long6"}', causes=["a"])
    assert ("3.0", "0.0", '{"unit": "long6"}', ("a",)) == (repr(made.minutes), repr(made.spent), made.case, made.causes)


def test_amended__keeps_what_was_said_before_and_what_was_believed_first() -> None:
    first = replace(PLAIN, causes=("pump_worn",), beliefs={"pump_worn": 0.2}, person="Anna")
    later = replace(PLAIN, outcome="came_back", comeback_km=900, closed_on="2026-04-01", beliefs={"pump_worn": 0.9})
    found = first.amended(later)
    assert ("came_back", 900.0, "2026-04-01", "Anna") == (
        found.outcome,
        found.comeback_km,
        found.closed_on,
        found.person,
    )
    assert {"pump_worn": 0.2} == found.beliefs
    assert [("2026-03-02", "cured", ["pump_worn"])] == [
        (one["closed_on"], one["outcome"], one["causes"]) for one in found.history
    ]
    assert 2 == len(found.amended(replace(later, spent=3.0)).history)


def test_amended__nothing_new_is_the_same() -> None:
    assert PLAIN == PLAIN.amended(replace(PLAIN, closed_on="2026-05-05"))


def test_make_id__no_two_are_alike() -> None:
    assert 1000 == len({make_id() for _ in range(1000)})
    assert replace(PLAIN, id=make_id())


def test_mark_forgotten__does_not_tell_the_id() -> None:
    mark = mark_forgotten(PLAIN.id)
    assert mark == mark_forgotten(PLAIN.id) != mark_forgotten("1" * 20)
    assert PLAIN.id not in mark and Forgotten(mark, outcome="cured")


@pytest.mark.parametrize("change", [{"mark": "x"}, {"outcome": ""}, {"templates": [1]}, {"area": "\x1b"}])
def test_forgotten__refuses_what_cannot_be_kept(change: dict[str, Any]) -> None:
    with pytest.raises(EntryProblem):
        replace(Forgotten("0" * 32, outcome="cured"), **change)


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"seed": 2**63}, "Write a whole number below"),
        ({"seed": 1.0}, 'seed "1.0" will not do.'),
        ({"found": 1}, 'found "1" will not do. Write true or false.'),
        ({"spent": None}, "spent is missing. Write what was spent, or 0."),
        ({"planned": -1}, 'planned "-1" will not do.'),
        ({"finished_on": "yesterday"}, 'finished_on "yesterday" is no date.'),
        ({"level": "\n"}, "level"),
    ],
)
def test_practice_round__refuses_what_cannot_be_kept(change: dict[str, Any], says: str) -> None:
    with pytest.raises(EntryProblem, match=says.replace(".", r"\.")):
        replace(ROUND, **change)


def test_practice_round__its_key_is_all_that_is_told() -> None:
    assert ROUND.key == replace(ROUND, spent=120.0).key
    assert 4 == len({ROUND.key, *(replace(ROUND, **one).key for one in ({"seed": 8}, {"found": False}, {"spent": 1}))})


def test_dump_plain__refuses_what_json_has_not() -> None:
    assert '{"a": "é\\u0000"}' == dump_plain({"a": "é\0"})
    with pytest.raises(EntryProblem):
        dump_plain({"a": object()})
