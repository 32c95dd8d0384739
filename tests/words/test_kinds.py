"""Classes go together by what they speak of, and some are no other answer than one: general and special, said beside it."""

import numpy as np
import pytest
from support.trade import shipped

from shiftlore.words.kinds import find_kin, find_layer


@pytest.mark.parametrize(
    ("one", "other", "same"),
    [
        ("slips", "no_reverse", True),
        ("slips", "worse_hot", False),
        ("worse_hot", "after_wet", True),
        ("usage", "age", True),
        ("usage", "slips", False),
    ],
)
def test_find_layer__what_is_found_when_and_how_it_lived(one, other, same):
    assert same == (find_layer(shipped(), one) == find_layer(shipped(), other))


def kin(*keys, beside=()):
    return find_kin(shipped(), keys, np.array([key in beside for key in keys]))


@pytest.mark.parametrize(
    ("one", "other", "expected"),
    [
        ("slips", "slips_gear", True),
        ("slips", "no_reverse", False),
        ("shift_harsh_any", "shift_harsh", True),
        ("shift_harsh_any", "shift_flares_any", False),
    ],
)
def test_find_kin__general_and_special_are(one, other, expected):
    both = kin(one, other)
    assert expected == bool(both[0, 1]) == bool(both[1, 0])


def test_find_kin__each_is_its_own_and_what_is_said_beside_another():
    found = kin("noise_whine", "noise_certain_gears", "no_reverse", beside=("noise_whine", "noise_certain_gears"))
    assert [[True, True, False], [True, True, False], [False, False, True]] == found.tolist()


def test_find_kin__whatever_says_that_nothing_was_found():
    nothing = [key for key, one in shipped().findings.items() if one.none_by is not None][:2]
    assert kin(*nothing).all()
