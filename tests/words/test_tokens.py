"""Two words are near when a slip of the fingers lies between them."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shiftlore.words.tokens import FINE, Token, count_slips, is_near

LIMITS = 4, 8


@given(st.text("abcd", max_size=6), st.text("abcd", max_size=6))
def test_count_slips__is_symmetric_and_bounded(one, other):
    slips = count_slips(one, other, 10)
    assert slips == count_slips(other, one, 10)
    assert abs(len(one) - len(other)) <= slips <= max(len(one), len(other))
    assert (slips == 0) == (one == other)


# Damerau 1964: a letter too many, missing, changed or two swapped is one slip.
@pytest.mark.parametrize(
    ("one", "other"), [("slips", "slps"), ("slip", "slipp"), ("shudder", "shuddar"), ("bangs", "bnags")]
)
def test_is_near__takes_one_slip(one, other):
    assert (1, True) == (count_slips(one, other, 3), is_near(one, other, *LIMITS))


@pytest.mark.parametrize(("one", "other"), [("hot", "hat"), ("slip", "snap"), ("2>3", "2>4"), ("gear", "rear")])
def test_is_near__refuses_short_words_numbers_and_other_beginnings(one, other):
    assert not is_near(one, other, *LIMITS)


@pytest.mark.parametrize(
    ("stem", "is_code", "is_instance"),
    [("P0741", True, True), ("#3", False, True), ("#2>3", False, True), ("slip", False, False), (FINE, False, False)],
)
def test_token__a_gear_or_a_code_describes_nothing(stem: str, is_code: bool, is_instance: bool) -> None:
    assert (is_code, is_instance) == (Token(stem, "x").is_code, Token(stem, "x").is_instance)


def test_token__has_the_roles_that_it_was_given() -> None:
    token = Token("slip", "slips", roles=frozenset({"bare"}))
    assert (True, False) == (token.has("bare"), token.has("code"))


def test_is_near__two_slips_only_in_long_words() -> None:
    assert (2, True) == (count_slips("solenoids", "solnoidz", 3), is_near("solenoids", "solnoidz", *LIMITS))
    assert (2, False) == (count_slips("shifts", "shfitz", 3), is_near("shifts", "shfitz", *LIMITS))


@given(st.text("abcd", max_size=6), st.text("abcd", max_size=6))
def test_count_slips__stops_above_the_most(one: str, other: str) -> None:
    whole = count_slips(one, other, 12)
    for most in range(4):
        slips = count_slips(one, other, most)
        assert slips == whole if whole <= most else slips > most
