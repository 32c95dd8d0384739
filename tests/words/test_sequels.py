"""What a later sentence makes of an earlier one."""

import pytest
from support.trade import shipped, unit_of

from shiftlore.words import read_report
from shiftlore.words.sequels import came_back, narrow, without_general
from shiftlore.words.statements import SaidAnswer, Statement
from shiftlore.words.trained import Segment
from shiftlore.words.turns import TurnPhrase
from shiftlore.words.vocabulary import Token


def answers(text):
    return {one.id: one.answer for one in read_report(shipped(), unit_of("step").expansion, text).answers}


def tried(key, answer="yes"):
    said = SaidAnswer("background", key, "", answer, 1.0, (), template=key)
    return Statement(Segment(0, 1, f"{key}:{answer}", 1.0), (said,), (Token("x", "x", start=10, end=11),))


@pytest.mark.parametrize(
    ("key", "answer", "start", "expected"),
    [
        ("replaced_solenoids", "yes", 20, "for_a_time"),
        ("replaced_module", "yes", 20, "for_a_time"),
        ("replaced_solenoids", "yes", 5, "yes"),
        ("replaced_solenoids", "no", 20, "no"),
        ("overheated", "yes", 20, "yes"),
    ],
)
def test_came_back__what_was_tried_helped_for_a_time(key, answer, start, expected):
    one = came_back(shipped(), tried(key, answer), [TurnPhrase("returned", start, start + 4, start + 4)])
    assert expected == one.answers[0].answer


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("TCM REPLACED 3 MTHS AGO, SAME COMPLAINT BACK AFTER 2 WKS", ("replaced_module", "for_a_time")),
        ("P0741 two years ago. New converter was fitted, code gone for a year.", ("replaced_converter", "for_a_time")),
        ("Replaced all the solenoids. The fault came back after a month.", ("replaced_solenoids", "for_a_time")),
        ("Replaced all the solenoids, came back at once.", ("replaced_solenoids", "yes")),
    ],
)
def test_follow_up__a_cure_that_did_not_last(text, expected):
    assert expected in answers(text).items()


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("fluid was black, changed it, now red", ("fluid_colour", "clear")),
        ("fluid was low, topped up, now ok", ("fluid_level", "right")),
        ("fluid was black, is brown", ("fluid_colour", "black")),
    ],
)
def test_as_now__what_is_now_counts(text, expected):
    assert expected in answers(text).items()


def test_as_now__what_was_is_left_out_where_it_is_not_said_how_it_is_now():
    assert "fluid_colour" not in answers("fluid was black, now I have to see")


def test_follow_up__what_is_over_is_left_out():
    assert "jerk_on_off_throttle" not in answers("Clunk on taking up drive. Fitted a mount, clunk gone.")


def test_without_general__none_of_a_kind_where_one_is_there():
    said = [
        SaidAnswer("finding", key, "", answer, 1.0, (), template=key)
        for key, answer in (("noise_any", "no"), ("noise_whine", "yes"))
    ]
    assert ["noise_whine"] == [one.id for one in without_general(shipped(), said)]
    assert ["noise_any"] == [one.id for one in without_general(shipped(), said[:1])]


@pytest.mark.parametrize(
    ("said", "expected"),
    [
        ({"no_drive_any": "yes", "no_reverse": "no"}, {"no_drive_forward": "yes", "no_reverse": "no"}),
        ({"no_drive_any": "yes", "no_drive_forward": "no"}, {"no_reverse": "yes", "no_drive_forward": "no"}),
        ({"no_drive_any": "yes", "no_reverse": "yes"}, {"no_drive_any": "yes", "no_reverse": "yes"}),
        ({"no_drive_any": "no", "no_reverse": "no"}, {"no_drive_any": "no", "no_reverse": "no"}),
        (
            {"no_drive_any": "yes", "no_reverse": "no", "no_drive_forward": "no"},
            {"no_reverse": "no", "no_drive_forward": "no"},
        ),
    ],
)
def test_narrow__what_nobody_denies_is_left(said, expected):
    given = [SaidAnswer("finding", key, "", answer, 1.0, (), template=key) for key, answer in said.items()]
    assert expected == {one.id: one.answer for one in narrow(shipped(), given)}
