"""A number answers where limits are stated that hold on every unit, whatever the words beside it say."""

import pytest
from support.trade import shipped, unit_of

from shiftlore.words import choose_vocabulary, read_report
from shiftlore.words.said_numbers import answer_by_number, find_stated


def by_number(key, text):
    vocabulary = choose_vocabulary(shipped())
    tokens = vocabulary.split(text)
    words = [token for token in tokens if token.is_telling and token.kind != "stated"]
    return answer_by_number(shipped().findings.get(key), words, vocabulary, tokens)


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


@pytest.mark.parametrize(
    ("key", "text", "expected"),
    [
        ("line_pressure_idle", "line pressure 45 psi, spec 60 to 70", "low"),
        ("line_pressure_idle", "line pressure 45, spec 60 to 70 psi", "low"),
        ("line_pressure_idle", "line pressure 65 psi (spec 60-70 psi)", "right"),
        ("line_pressure_idle", "5 bar, spec 60 to 70 psi", "high"),
        ("line_pressure_idle", "4 bar at idle, should be 4 to 5", "right"),
        ("stall_speed_drive", "stall 1600, book 2100", "low"),
        ("stall_speed_drive", "stall 2900 rpm, spec 2200", "high"),
        ("stall_speed_drive", "stall 2,900 rpm, spec 2200", "high"),
        ("stall_speed_drive", "stall 2,150 rpm, spec 2,200", "right"),
        ("stall_speed_drive", "stall 2150, book 2200", "right"),  # within a tenth of the only number that is stated
        ("stall_speed_drive", "book says 2100, stalls at 1600", "low"),
        ("tcc_slip_live", "slip 35 rpm, should be under 20", "slips"),
        ("solenoid_resistance", "24 ohm instead of 12 ohm", "high"),
        ("solenoid_resistance", "11 ohm, should be at least 10", "right"),
    ],
)
def test_answer_by_number__against_what_is_stated_beside_it(key, text, expected):
    assert expected == by_number(key, text)


@pytest.mark.parametrize(
    ("key", "text"),
    [
        ("line_pressure_idle", "2900 rpm, spec 2200 rpm"),
        ("line_pressure_idle", "0 psi, spec 60"),
        ("line_pressure_idle", "line pressure, spec 60 to 70"),
        ("line_pressure_idle", "not 45 psi, spec 60 to 70"),
        ("slips", "45, spec 60"),
    ],
)
def test_answer_by_number__says_nothing_where_the_two_do_not_compare(key, text):
    assert by_number(key, text) is None


def test_find_stated__the_next_one_behind_the_number():
    tokens = choose_vocabulary(shipped()).split("idle 45, spec 60 to 70, stall 150, spec 180 to 200")
    idle, stall = ([token for token in tokens if token.written == one] for one in ("45", "150"))
    assert ["spec 60 to 70", "spec 180 to 200"] == [find_stated(one, tokens).written for one in (idle, stall)]
    assert find_stated([], tokens) is None


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("Line pressure 45 psi at idle, spec 60 to 70.", ("line_pressure_idle", "low")),
        ("Stall 1600 in D, book 2100.", ("stall_speed_drive", "low")),
        ("nothing in reverse for four seconds then it goes", ("engage_delay_reverse", "long")),
    ],
)
def test_find_stated__a_number_and_what_it_should_be_are_one_answer(text, expected):
    report = read_report(shipped(), unit_of("step").expansion, text)
    assert [expected] == [(one.id, one.answer) for one in report.answers]


def test_find_stated__what_cannot_be_compared_is_not_right():
    said = read_report(shipped(), unit_of("step").expansion, "Idle speed 950, should be 700.").answers
    assert "right" not in [one.answer for one in said if one.id == "idle_speed"]


@pytest.mark.parametrize("text", ["spec 60 to 70", "bangs, book value 2200", "should be 700"])
def test_find_stated__what_should_be_is_nothing_by_itself_and_not_lost(text):
    report = read_report(shipped(), unit_of("step").expansion, text)
    assert not [one for one in report.answers if one.matched and any(char.isdigit() for char in "".join(one.matched))]
    assert any(char.isdigit() for char in "".join(report.not_understood))
