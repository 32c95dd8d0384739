"""Turns of speech."""

import pytest

from shiftlore.knowledge.turns import UNCURED, settle_turns


@pytest.mark.parametrize(
    ("said", "settled"),
    [
        ("doesnt slip every time", "sometimes slip"),
        ("it does not only slip", "it does also slip"),
        ("no noise at all", "no noise"),
        ("fine grey paste, shifts fine", "small grey paste, shifts fine"),
    ],
)
def test_settle_turns__puts_one_meaning_into_one_form(said: str, settled: str) -> None:
    assert settled == " ".join(settle_turns(said).split())


def test_settle_turns__a_part_renewed_in_vain_is_uncured() -> None:
    assert UNCURED in settle_turns("new filter no help").split()


def test_settle_turns__a_distance_is_no_gear() -> None:
    assert "60" not in settle_turns("slips at 60,000 miles")


def test_settle_turns__a_count_of_times_is_no_gear() -> None:
    assert "~second" in settle_turns("the second time this month")
