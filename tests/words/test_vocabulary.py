"""Words are cut to stems, and gears, shifts, speeds and codes to one form each."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from support.english import english, split_words

from shiftlore.words.tokens import FINE, NO, UNCURED


def stems(text):
    return [token.stem for token in split_words(text)]


@pytest.mark.parametrize(
    "family",
    [
        "slip slips slipped slipping",
        "shudder shudders shuddered shuddering judder",
        "leak leaks leaking leaked leaky",
        "engage engages engaged engaging",
        "shift shifts shifted shifting",
        "burnt burned burn",
        "noise noises noisy",
        "lose loses losing lost",
        "delay delays delayed",
        "vibrate vibrates vibrating",
        "stall stalls stalling stalled",
        "fluid fluids",
        "bus",
        "harsh harshly",
        "carry carries carried",
        "whine whines whining",
    ],
)
def test_stem__brings_a_family_together(family):
    assert 1 == len({english().stem(word) for word in family.split()})


@pytest.mark.parametrize(
    ("text", "stem"),
    [
        ("2-3 shift", "#2>3"),
        ("2 - 3", "#2>3"),
        ("from 2nd to 3rd", "#2>3"),
        ("second to third", "#2>3"),
        ("2->3", "#2>3"),
        ("between 2nd and 3rd", "#2>3"),
        ("3-2 downshift", "#3>2"),
        ("3rd gear", "#3"),
        ("gear 3", "#3"),
        ("into third", "#3"),
        ("in 3", "#3"),
        ("p0741", "P0741"),
        ("70 km/h", "midspeed"),
        ("45 mph", "midspeed"),
        ("35 to 45 mph", "midspeed"),
        ("below 20 mph", "slowspeed"),
        ("over 65 mph", "fastspeed"),
        ("doesn't", NO),
        ("won’t", NO),
        ("okay", FINE),
        ("take-off", "takeoff"),
        ("won't move in D", "driv"),
        ("P to R", "revers"),
        ("into r", "revers"),
    ],
)
def test_split__one_form_for_each(text, stem):
    assert stem in stems(text)


@pytest.mark.parametrize(
    "text", ["takes 2 to 3 seconds", "in 3 seconds", "within a second", "2-3 times a week", "1-2 litres"]
)
def test_split__times_and_amounts_are_no_gears(text):
    assert not [stem for stem in stems(text) if stem.startswith("#")]


@pytest.mark.parametrize("text", ["vitamin d", "P0741", "D4", "r.p.m."])
def test_split__other_letters_are_no_ranges(text):
    assert not {"park", "revers", "neutral", "driv"} & set(stems(text))


def test_split__a_speed_bound_is_kmh_below_35_and_above_105():
    assert ["slowspeed", "midspeed", "midspeed", "fastspeed"] == [stems(f"{kmh} km/h")[0] for kmh in (34, 36, 104, 106)]


@given(st.text(max_size=60))
def test_split__never_fails(text):
    assert all(token.stem for token in split_words(text))


@pytest.mark.parametrize(
    ("said", "settled"),
    [
        ("doesnt slip every time", "sometimes slip"),
        ("it does not only slip", "it does also slip"),
        ("no noise at all", "no noise"),
        ("fine grey paste, shifts fine", "small grey paste, shifts fine"),
    ],
)
def test_settle__puts_one_meaning_into_one_form(said: str, settled: str) -> None:
    assert settled == " ".join(english().settle(said).split())


def test_settle__a_part_renewed_in_vain_is_uncured() -> None:
    assert UNCURED in english().settle("new filter no help").split()


def test_settle__a_distance_is_no_gear() -> None:
    assert "60" not in english().settle("slips at 60,000 miles")


def test_settle__a_count_of_times_is_no_gear() -> None:
    assert "~second" in english().settle("the second time this month")
