"""Words that only correct what was said before."""

from dataclasses import replace

import pytest
from support.trade import shipped

from shiftlore.cases import Case
from shiftlore.sessions import Interview
from shiftlore.sessions.said_again import read_again


@pytest.mark.parametrize(
    ("said", "text", "expected"),
    [
        ("bangs into second", "it is third not second", {"shift_harsh_2_3": "yes", "shift_harsh_1_2": "no"}),
        ("slips in third", "it's fourth, not third", {"slips_gear_4": "yes", "slips_gear_3": "no"}),
        ("flares 2-3", "it is 3-4 not 2-3", {"shift_flares_3_4": "yes", "shift_flares_2_3": "no"}),
        ("bangs into drive", "it's reverse not drive", {"engage_harsh_reverse": "yes", "engage_harsh_drive": "no"}),
        ("bangs into third", "nice weather", {}),
        ("", "it is third not second", {}),
    ],
)
def test_read_again(said, text, expected):
    interview = Interview(shipped(), Case("trans6", said=(said,) if said else ()))
    assert expected == {one.key: one.grade for one in read_again(interview, text)}


def test_read_again__says_when():
    interview = Interview(shipped(), Case("long8", said=("bangs into third",)))
    found = read_again(interview, "it only does it cold, sorry, hot")
    assert [("shift_harsh_2_3", ("hot",))] == [(one.key, one.when) for one in found]
    assert () == read_again(replace(interview, case=Case("long8")), "it only does it cold, sorry, hot")
