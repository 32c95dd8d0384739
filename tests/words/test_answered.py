"""What somebody asks and answers himself."""

import re

import pytest
from support.trade import shipped, unit_of

from shiftlore.words import read_report
from shiftlore.words.answered import join_choices, settle_questions
from shiftlore.words.vocabulary import choose_vocabulary


def settle(text):
    return settle_questions(text, choose_vocabulary(shipped(), "en"))


def answers(text):
    return {one.id: one.answer for one in read_report(shipped(), unit_of("step").expansion, text).answers}


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("Leaks? None. Noise? no, slips", "no Leaks. no Noise, slips"),
        ("is there any whine? never", "no whine"),
        ("Slipping? Not that I noticed.", "no Slipping."),
        ("fluid level? ok", "fluid level ok"),
        ("does it slip? yes in third", "slip in third"),
    ],
)
def test_settle_questions__what_is_said_is_as_long_as_it_was(text, expected):
    said = settle(text)
    assert len(said) == len(text)
    assert expected == re.sub(r" +(?=[.,]|$)", "", said)


@pytest.mark.parametrize(
    "text",
    [
        "is it the filter?",
        "filter blocked? It whines after five minutes",
        "Does it slip? No idea",
        "should I drive it home from there tomorrow or not? no",
        "is the fluid all right? fine by me",
    ],
)
def test_settle_questions__what_is_only_asked_stays_so(text):
    assert text == settle(text)


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("Leaks? None.", {"leak_outside": "no"}),
        ("any whine? no", {"noise_whine": "no"}),
        ("reverse? fine", {"no_reverse": "no"}),
        ("does it slip? yes in third", {"slips_gear_3": "yes"}),
        ("Is the pump whining?", {}),
    ],
)
def test_read_report__an_answer_belongs_to_its_question(text, expected):
    assert expected == answers(text)


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("slips in 2nd. or maybe 3rd", "slips in 2nd  or maybe 3rd"),
        ("slips in 2nd, or 3rd, cold", "slips in 2nd  or 3rd, cold"),
        ("slips in 2nd. Or it bangs", "slips in 2nd. Or it bangs"),
        ("slips. Orange lamp", "slips. Orange lamp"),
    ],
)
def test_join_choices__one_more_place_belongs_to_what_was_said_before(text, expected):
    assert expected == join_choices(text, choose_vocabulary(shipped(), "en"))


def test_join_choices__neither_place_is_sure():
    said = read_report(shipped(), unit_of("step").expansion, "slips in 2nd. or maybe 3rd").answers
    assert {"slips_gear_2", "slips_gear_3"} == {one.id for one in said if one.doubt}
