"""What is heard, doubted or long over is no sure fact, and least of all a code."""

import pytest
from support.trade import shipped, unit_of

from shiftlore.words import read_report


def report(text):
    return read_report(shipped(), unit_of("step").expansion, text)


def doubts(text):
    return {one.id: one.doubt for one in report(text).answers}


@pytest.mark.parametrize(
    "text",
    [
        "P0740 maybe",
        "P0740? I think",
        "garage says P0740 but I don't trust them",
        "they cleared P0740",
        "it was P0740, I don't remember",
    ],
)
def test_read_codes__a_doubted_code(text):
    assert "think_so" == doubts(text).get("P0740")


@pytest.mark.parametrize("text", ["P0740", "garage read P0740", "P0740, cleared, came back", "is P0740 dangerous?"])
def test_read_codes__a_sure_code(text):
    assert {"P0740": None}.items() <= doubts(text).items()


@pytest.mark.parametrize(
    "text",
    [
        "they cleared the codes, P0741 was in there last year",
        "there was P0741 once but that was last year and is gone",
        "P0741 last year, cleared, now P0730",
        "they had P0741 stored years ago",
    ],
)
def test_read_codes__a_code_of_long_ago_tells_nothing_and_is_listed(text):
    read = report(text)
    assert "P0741" not in {one.id for one in read.answers}
    assert any("P0741" in one for one in read.not_understood)


def test_read_codes__what_is_dated_may_be_something_else():
    assert {"P0741": None}.items() <= doubts("converter replaced last year and now P0741").items()


@pytest.mark.parametrize("text", ["P0842 maybe or was it P0841", "P0842 or P0841"])
def test_read_codes__one_of_two(text):
    read = report(text)
    (group,) = read.either
    assert ["P0842", "P0841"] == [one.id for one in group] and not read.answers


@pytest.mark.parametrize(
    ("text", "key"),
    [
        ("the oil level was ok they said", "fluid_level"),
        ("they say the oil is black", "fluid_colour"),
        ("checked with the engine off, the oil is above the mark", "fluid_level"),
    ],
)
def test_is_doubted__what_others_have_seen_or_was_looked_at_amiss(text, key):
    assert "think_so" == doubts(text).get(key, "")


@pytest.mark.parametrize(
    ("text", "key"),
    [("the oil is black", "fluid_colour"), ("my husband says it slips in third", "slips_gear_3")],
)
def test_is_doubted__not_what_is_seen_or_what_anybody_notices(text, key):
    assert doubts(text).get(key, "") is None


def test_is_distrusted__in_the_next_breath():
    assert "think_so" == doubts("it slips in third, not sure")["slips_gear_3"]
