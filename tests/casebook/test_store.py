"""The casebook: filed once, looked up, amended, counted, forgotten; rounds of practice beside it."""

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path

import pytest
from support.casebook_entries import ENTRY, entry_of

from shiftlore.basics import UnknownId
from shiftlore.casebook import Casebook, PracticeRound, PracticeScore, Tally, open_casebook
from shiftlore.casebook.book_records import Forgotten
from shiftlore.casebook.store import KNOWN, LEFT_OUT, NEW, ROWS_AT_ONCE, ForgottenCase

ROUND = PracticeRound("pump", "pump_worn", "long6", "any", 7, True, 120.0, 90.5, "2026-03-02T10:15:00")


def test_file__the_same_case_twice_is_one(book: Casebook, place: str) -> None:
    assert [True, False] == [book.file(ENTRY), book.file(ENTRY)]
    assert (ENTRY,) == book.entries()
    with open_casebook(place) as again:
        assert not again.file(replace(ENTRY, spent=1.0)) and ENTRY == again.find(ENTRY.id)


def test_entries__by_each_of_its_sides(book: Casebook) -> None:
    clutch = entry_of(
        2, closed_on="2026-01-05", area="clutch_pack", unit="long8", causes=("burnt_c1", "a"), templates=("burnt", "a")
    )
    anna = entry_of(3, closed_on="2026-04-01", person="Änna", outcome="not_cured")
    for one in (anna, clutch, ENTRY):
        book.file(one)
    assert (clutch, ENTRY, anna) == book.entries()
    assert (clutch,) == book.entries(area="clutch_pack") == book.entries(unit="long8") == book.entries(cause="burnt")
    assert (clutch,) == book.entries(cause="burnt_c1") and () == book.entries(cause="burnt_c") == book.entries(
        cause="burnt%"
    )
    assert (ENTRY, anna) == book.entries(since="2026-03-02") and (anna,) == book.entries(
        person=" äNNA", since="2026-03-02"
    )
    assert () == book.entries(area="pump", unit="long8") == book.entries(person="")


def test_each_entry__of_more_than_one_part(book: Casebook) -> None:
    made = [entry_of(i, closed_on=f"2026-01-{1 + i % 9:02}") for i in range(ROWS_AT_ONCE + 3)]
    book.take_in(made)
    assert sorted(made, key=lambda one: (one.closed_on, one.id)) == list(book.each_entry())


def test_get__by_the_beginning_of_its_id(book: Casebook) -> None:
    first, second = entry_of(0xA << 72), entry_of(0xB << 72)
    book.file(first)
    book.file(second)
    assert (first, second) == (book.get("0A"), book.get(second.id))
    for wanted, says in (
        ("0", "More than one case begins with 0"),
        ("c", "No case is called c"),
        ("", "No case"),
        ("0_", "No case"),
    ):
        with pytest.raises(UnknownId, match=says):
            book.get(wanted)


def test_amend__keeps_what_was_said_before(book: Casebook) -> None:
    later = replace(
        ENTRY, outcome="came_back", comeback_km=900.0, closed_on="2026-04-01", causes=("x",), templates=("x",)
    )
    assert [True, True, False] == [book.amend(ENTRY), book.amend(later), book.amend(later)]
    found = book.get(ENTRY.id)
    assert ("came_back", 900.0, 1) == (found.outcome, found.comeback_km, len(found.history))
    assert ((found,), ()) == (book.entries(cause="x"), book.entries(cause="pump_worn"))
    assert {"x": Tally(1)} == book.counts().causes


def test_amend__eight_at_once_lose_no_step(place: str) -> None:
    with open_casebook(place) as book:
        book.file(ENTRY)

    def amend(number: int) -> bool:
        with open_casebook(place) as own:
            return own.amend(replace(ENTRY, spent=float(number)))

    with ThreadPoolExecutor(8) as pool:
        assert all(pool.map(amend, range(8)))
    with open_casebook(place) as book:
        found = book.get(ENTRY.id)
    assert {640.5, *map(float, range(8))} == {found.spent, *(one["spent"] for one in found.history)}
    assert 8 == len(found.history)


def test_forget__takes_the_cases_and_leaves_the_counts(book: Casebook) -> None:
    hers = [entry_of(i, person="Anna", templates=("pump_worn", "pump_worn", "b")) for i in range(3)]
    for one in (*hers, entry_of(9, person="Ben")):
        book.file(one)
    assert 3 == book.forget("ANNA") and ["Ben"] == [one.person for one in book.entries()]
    counts = book.counts()
    assert (Tally(1, 3), {"pump": Tally(1, 3)}, {"long6": Tally(1, 3)}) == (counts.cases, counts.areas, counts.units)
    assert {"pump_worn": Tally(1, 3), "b": Tally(0, 3)} == counts.causes and {"cured": Tally(1, 3)} == counts.outcomes
    assert ["pump_worn", "b"] == list(counts.causes)
    for again in (hers[0], replace(hers[1], person="")):
        with pytest.raises(ForgottenCase, match="take id out of its outcome"):
            book.file(again)
    with pytest.raises(UnknownId):
        book.forget("Anna")
    with pytest.raises(UnknownId):
        book.forget("  ")


def test_forget__leaves_no_byte_of_a_name_in_the_file(tmp_path: Path) -> None:
    path = tmp_path / "book.db"
    with open_casebook(path) as book:
        for i in range(20):
            book.file(entry_of(i, person="Wilhelmina Unmistakable"))
        assert any(b"Wilhelmina" in one.read_bytes() for one in tmp_path.iterdir())
        book.forget("Wilhelmina Unmistakable")
        assert not any(b"Wilhelmina" in one.read_bytes() for one in tmp_path.iterdir())


def test_forget__by_id(book: Casebook) -> None:
    book.file(ENTRY)
    assert 1 == book.forget(ENTRY.id[:6]) and () == book.entries()


def test_take_in__tells_what_became_of_each(book: Casebook) -> None:
    gone, here = entry_of(5, person="Anna"), entry_of(6)
    book.file(gone)
    book.forget("Anna")
    (left,) = book.forgotten()
    other = Forgotten("f" * 32, "pump", "long6", ("pump_worn",), "cured")
    still_here = replace(left, mark=_mark(here.id))
    lines = [here, gone, here, ROUND, left, other, ROUND]
    assert (NEW, LEFT_OUT, KNOWN, NEW, KNOWN, NEW, KNOWN) == book.take_in(lines)
    assert (LEFT_OUT, KNOWN) == book.take_in([still_here, other])
    assert 1 == len(book.entries()) and 2 == book.counts().cases.forgotten and () == book.take_in([])


def _mark(entry_id: str) -> str:
    from shiftlore.casebook.book_records import mark_forgotten

    return mark_forgotten(entry_id)


def test_note_practice__scores_by_area(book: Casebook) -> None:
    rounds = [ROUND, replace(ROUND, seed=8, found=False, spent=10.0), replace(ROUND, area="band", seed=-(2**62))]
    assert [True, True, True, False] == [book.note_practice(one) for one in (*rounds, ROUND)]
    assert ["band", "pump"] == list(book.practice_scores())
    assert PracticeScore(2, 1, 130.0, 181.0) == book.practice_scores()["pump"]
    assert set(rounds) == set(book.practice_rounds())


def test_counts__of_an_empty_casebook(book: Casebook) -> None:
    assert (Tally(), {}, {}) == (book.counts().cases, book.counts().areas, book.practice_scores())


def test_counts__agree_with_counting_by_hand(book: Casebook) -> None:
    """Checked against the entries themselves."""
    made = [entry_of(i, area=f"area_{i % 3}", unit=f"u{i % 2}", templates=(f"t{i % 4}",)) for i in range(12)]
    book.take_in(made)
    counts = book.counts()
    assert {
        name: Tally(sum(one.area == name for one in made)) for name in ("area_0", "area_1", "area_2")
    } == counts.areas
    assert {"t0": Tally(3), "t1": Tally(3), "t2": Tally(3), "t3": Tally(3)} == counts.causes
    assert 12 == counts.cases.here == sum(one.here for one in counts.units.values())


def test_open_casebook__keeps_what_was_filed(fresh: Callable[[], str]) -> None:
    place = fresh()
    for _ in range(2):
        with open_casebook(place) as book:
            book.file(ENTRY)
    with open_casebook(place) as book:
        assert (ENTRY,) == book.entries()
