"""The casebook as text: what is known is said, what is not known is left out, all in 80 columns."""

from dataclasses import replace

import pytest
from support.casebook_entries import ENTRY, entry_of

from shiftlore.casebook import BookCounts, Closing, Imported, Tally
from shiftlore.cases import Case
from shiftlore.reports.casebook_text import (
    render_closing,
    render_counts,
    render_entries,
    render_entry,
    render_import,
    say_causes,
)

BARE = entry_of(
    1, case="{}", causes=(), templates=(), cause_labels=(), confirmed="", corrections=(), job_labels=(), area="",
    minutes=None, spent=None, odometer_km=None, beliefs={}, areas={},
)  # fmt: skip


def test_render_entries__of_none_and_of_one() -> None:
    assert "No closed case is like that." == render_entries([])
    text = render_entries([BARE], strong=str.upper)
    assert text.startswith("CASE ") and text.endswith("\n\n1 case.")
    assert "\n          not known\n" in text and text.splitlines()[1].endswith("cured")


def test_render_entry__says_what_is_known_and_no_more() -> None:
    text = render_entry(BARE)
    assert ["  vehicle       long6", "  it was        not known", "  came of it    cured"] == text.splitlines()[1:]
    whole = render_entry(
        replace(ENTRY, person="Anna", case='{"said": ["it slips"], "note": "hot", "complaint": ["slips"]}')
    )
    for line in (
        "  whose         Anna",
        "  in words      it slips hot",
        "  came with     slips",
        "  was done      Overhaul",
    ):
        assert line in whole.splitlines()
    assert "  was believed  20 % before the last job, place 1" in whole and "Pump worn (the job cured it)" in whole


def test_render_entry__a_comeback_and_what_was_said_before() -> None:
    later = ENTRY.amended(replace(ENTRY, outcome="came_back", comeback_km=8000, closed_on="2026-05-01"))
    text = render_entry(later)
    assert "came back, after 8,000 km" in text and "said before   2026-03-02: cured; pump_worn." in text
    assert "after 8,000 km; pump_worn." in render_entry(
        later.amended(replace(later, outcome="cured", comeback_km=None))
    )


def test_render_entry__findings_with_doubt_or_none() -> None:
    case = '{"findings": {"slips": {"is": "yes", "doubt": "think_so"}, "fluid_level": null, "P0732": "yes"}}'
    assert "  was found     slips: yes; P0732: yes" in render_entry(replace(ENTRY, case=case)).splitlines()


@pytest.mark.parametrize(
    ("closing", "others", "says"),
    [
        (Closing(Case("x"), ENTRY, True, True), 1, "Closed on 2026-03-02, and in the casebook."),
        (Closing(Case("x"), ENTRY, True, True), 2, "in the casebook, with 1 other."),
        (Closing(Case("x"), ENTRY, True, True), 3, "in the casebook, with 2 others."),
        (Closing(Case("x"), ENTRY, False, True), 3, "Changed in the casebook; what it said before is kept there."),
        (Closing(Case("x"), ENTRY, False, False), 3, "It is in the casebook already, just so."),
    ],
)
def test_render_closing__says_what_was_filed(closing: Closing, others: int, says: str) -> None:
    assert render_closing(closing, others).endswith(says)


def test_render_counts__of_nothing_and_of_some() -> None:
    assert "0 closed cases." == render_counts(BookCounts(Tally(), {}, {}, {}, {}))
    table = {"": Tally(1, 0), "clutch_pack": Tally(2, 3)}
    text = render_counts(BookCounts(Tally(3, 3), table, {}, {}, {}))
    assert "3 closed cases, and the counts of 3 that were forgotten." in text
    assert "       1  not known" in text and "       5  clutch pack   3 of them forgotten" in text


def test_render_import__says_what_is_left_out() -> None:
    assert "1 new, 2 here already." == render_import(Imported(1, 2))
    text = render_import(Imported(1, 2, 3, (), 4))
    assert "1 new, 2 here already; 3 left out, for they were forgotten here or elsewhere; 4 bad and left out." == text


def test_say_causes__in_words_or_by_id() -> None:
    assert ["Pump worn", "pump_worn", "not known"] == [
        say_causes(one) for one in (ENTRY, replace(ENTRY, cause_labels=()), BARE)
    ]
