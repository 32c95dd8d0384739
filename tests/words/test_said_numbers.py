"""A number answers where limits are stated that hold on every unit, whatever the words beside it say."""

import pytest
from support.trade import shipped, unit_of

from shiftlore.words import choose_vocabulary, read_report
from shiftlore.words.said_numbers import answer_by_number


def by_number(key, text):
    return answer_by_number(shipped().findings.get(key), choose_vocabulary(shipped()).split(text))


@pytest.mark.parametrize(
    ("key", "text", "expected"),
    [
        ("tcc_slip_live", "tcc slip 10 rpm", "right"),
        ("tcc_slip_live", "tcc slip 350 rpm", "slips"),
        ("tcc_slip_live", "tcc slip 700 rpm", "open"),
        ("runs_hot", "fluid at 128 C", "yes"),
        ("runs_hot", "fluid at 85 C", "no"),
        ("engage_delay_reverse", "takes 2.5 seconds", "delayed"),
        ("engage_delay_reverse", "takes 5 sec", "long"),
        ("line_pressure_idle", "1.5 bar", "low"),
        ("line_pressure_idle", "15 bar", "high"),
    ],
)
def test_answer_by_number__by_its_limits(key, text, expected):
    assert expected == by_number(key, text)


@pytest.mark.parametrize(
    ("key", "text"),
    [
        ("line_pressure_idle", "5 bar"),  # right on one unit and wrong on another
        ("tcc_slip_live", "slips at 80 km/h"),
        ("tcc_slip_live", "never over 200 rpm"),
        ("battery_weak", "12.5 V"),  # enough at rest, too little in charging
        ("solenoid_resistance", "24 ohm"),
        ("slips", "300 rpm"),
        ("no_such", "300 rpm"),
    ],
)
def test_answer_by_number__says_nothing_without_limits(key, text):
    assert by_number(key, text) is None


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("tcc slip 10 rpm, locks fine", ("tcc_slip_live", "right")),
        ("takes 5 seconds to go into reverse", ("engage_delay_reverse", "long")),
        ("battery 11.4 V at rest", ("battery_weak", "yes")),
    ],
)
def test_answer_by_number__as_it_is_read(text, expected):
    said = read_report(shipped(), unit_of("step").expansion, text).answers
    assert expected in [(one.id, one.answer) for one in said]
