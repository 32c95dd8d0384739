"""What the vehicle has run, among all distances that are said."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from support.trade import shipped

from shiftlore.words.mileage import find_mileage, in_one_unit, is_mileage
from shiftlore.words.vocabulary import choose_vocabulary


def mileage(text):
    vocabulary = choose_vocabulary(shipped())
    return find_mileage(in_one_unit(vocabulary.split(text), vocabulary), vocabulary)


@pytest.mark.parametrize(
    ("text", "km"),
    [
        ("slips, 182 000 km", 182000),
        ("182000", 182000),
        ("182.000", 182000),
        ("slips in third, 96,500. No codes", 96500),
        ("bought in 2015, slips", None),
        ("12345678", None),
        ("code 12345 stored, slips", None),
        ("172k miles on it", 276807),
        ("fluid changed 20,000 km ago", None),
        ("every 60,000 miles", None),
        ("done 500 km since", None),
        ("fluid at 60 000 km, now has 210 000 km", 210000),
        ("fluid changed two months ago, 156000 km", 156000),
        ("156000 km, fluid changed two months ago", 156000),
        ("serviced three years ago 156000 km on the clock", 156000),
        ("began a week ago at 156000 km", 156000),
        ("over 200,000 miles", 321869),
        ("182000 km since new", 182000),
        ("another 20,000 km later", None),
        ("20,000 km since the service", None),
        ("bought it at 90k miles, now at 104k", 167372),
        ("MI 88,400. shudders", 142266),
        ("km: 88400, shudders", 88400),
        ("has 104k on it", 104000),
        ("rebuilt 3 months ago, 5000 km, slips again", None),
        ("serviced 8 months ago, 12,000 miles", None),
    ],
)
def test_find_mileage__what_the_vehicle_has_run(text, km):
    assert km == mileage(text)


@settings(deadline=None)  # the first one makes the language ready
@given(st.integers(3000, 999_000))
def test_find_mileage__whatever_it_is(km):
    assert km == mileage(f"slips, {km} km, level right")


@pytest.mark.parametrize("text", ["2999 km", "slips", "", "9 litres", "3000 rpm"])
def test_find_mileage__none_where_nothing_is_long_enough(text):
    assert mileage(text) is None


def test_in_one_unit__thousands_follow_the_other_distances():
    vocabulary = choose_vocabulary(shipped())
    tokens = in_one_unit(vocabulary.split("bought at 90k miles, now at 104k, shudders"), vocabulary)
    assert [True] == [is_mileage(token, 167372) for token in tokens if token.written == "104k"]


def test_is_mileage__the_distance_that_was_found_alone():
    tokens = choose_vocabulary(shipped()).split("fluid at 60000 km, now 90000 km, 90 km/h")
    assert [False, True, False] == [is_mileage(token, 90_000) for token in tokens if token.kind == "amount"]


@pytest.mark.parametrize(
    ("text", "km"),
    [
        ("oil was done at 60k", None),
        ("fluid changed at 40000 km", None),
        ("it began at 156000 km", None),
        ("now at 104k miles, fluid changed at 95k", 167372),
        ("stands at 60000 km", 60000),
        ("done 120000 km", 120000),
    ],
)
def test_find_mileage__not_where_something_was_done_then(text, km):
    assert km == mileage(text)
