"""A shop's settings and prices as text."""

from dataclasses import replace
from pathlib import Path

import pytest
from support.casebook_entries import ENTRY, entry_of
from support.trade import shipped

from shiftlore.casebook import BookCounts, Closing, Imported, Tally
from shiftlore.cases import Case
from shiftlore.knowledge import OwnShop, Price
from shiftlore.reports.shop_text import (
    render_closing,
    render_counts,
    render_entries,
    render_entry,
    render_import,
    render_prices,
    render_shop,
    say_causes,
)


def test_render_shop__marks_each_line() -> None:
    text = render_shop(shipped(), OwnShop(Path("mine.yaml"), {"labour_per_hour": 99.5, "tools": ()}))
    assert "labour_per_hour    99.5 [yours]" in text and "currency           EUR [example]" in text
    assert "tax_percent        0 [not set]" in text and "tools              none [yours]" in text


def test_render_shop__fits_eighty_columns_whatever_the_name() -> None:
    text = render_shop(shipped(), OwnShop(Path("mine.yaml"), {"name": "word " * 40}), strong=str.upper)
    assert max(map(len, text.splitlines())) <= 80
    assert text.startswith("YOUR SHOP: MINE.YAML")


def test_render_prices__own_prices_stand_in() -> None:
    pan, fluid = Price("pan", "A pan", 1.0, 2.5, 4.0), Price("fluid", "A litre", 9.0, 10.0, 12000.0)
    own = OwnShop(Path("mine.yaml"), {}, {"pan": Price("pan", "A pan", 5.0, 6.0, 7.0)})
    lines = render_prices([pan, fluid], own, "GBP").splitlines()
    assert "GBP, without tax" in lines[0]
    assert ["pan", "5", "6", "7", "A", "pan", "[yours]"] == lines[2].split()
    assert ["fluid", "9", "10", "12,000", "A", "litre"] == lines[3].split()


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
