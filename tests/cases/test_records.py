"""A case compares by what it says, not by where that stands."""

from shiftlore.basics import Mark
from shiftlore.cases import Answer, Case


def test_case__marks_do_not_count():
    assert Case("long5", marks={("unit",): Mark("a", 1, 1)}) == Case("long5")


def test_answer__doubt_counts():
    assert Answer("burnt", "yes", "think_so") != Answer("burnt", "yes")
