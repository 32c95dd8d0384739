"""Closed cases of the shop as remembered ones."""

from dataclasses import replace

from support.casebook_entries import ENTRY

from shiftlore.casebook import recall_entries
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
