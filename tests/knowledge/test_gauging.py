"""What a number answers by the bounds of a gauge."""

import pytest

from shiftlore.knowledge import Gauge, answer_number

INSIDE = Gauge("time", "delay", high=1.5, above="delayed", further={"long": 3.0})
WIDE = Gauge("pressure", "line", low=250, high=1000, below="low", above="high", wide=True)


@pytest.mark.parametrize(
    ("value", "expected"), [(1.0, "right"), (1.5, "right"), (2.0, "delayed"), (3.0, "long"), (9.0, "long")]
)
def test_answer_number__within_and_beyond_its_bounds(value, expected):
    assert expected == answer_number(INSIDE, value, "right")


@pytest.mark.parametrize(("value", "expected"), [(100, "low"), (500, None), (2000, "high")])
def test_answer_number__wide_bounds_say_nothing_of_what_is_within(value, expected):
    assert expected == answer_number(WIDE, value, "right")


@pytest.mark.parametrize(("value", "expected"), [(400, "low"), (500, "right"), (700, "high")])
def test_answer_number__stated_bounds_go_first(value, expected):
    assert expected == answer_number(WIDE, value, "right", stated=(450, 600))


def test_answer_number__nothing_without_bounds():
    assert answer_number(Gauge("pressure", "x", below="low"), 5, "right") is None
