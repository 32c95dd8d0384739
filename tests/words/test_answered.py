"""What somebody asks and answers himself."""

import re

import pytest
from support.trade import shipped, unit_of

from shiftlore.words import read_report
from shiftlore.words.answered import join_choices, settle_questions
from shiftlore.words.vocabulary import choose_vocabulary


def settle(text):
    return settle_questions(text, choose_vocabulary(shipped(), "en"))


def report(text):
    return read_report(shipped(), unit_of("step").expansion, text)


def answers(text):
    return {one.id: one.answer for one in report(text).answers}


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


@pytest.mark.parametrize(
    ("text", "there", "absent"),
    [
        ("P0705 no, P0753 yes", "P0753", "P0705"),
        ("P0753 is stored, P0705 is not", "P0753", "P0705"),
        ("P0700 yes P0715 no P0720 no", "P0700", "P0715 P0720"),
        ("P0705: no P0753: yes", "P0753", "P0705"),
        ("P0705 - no, P0753 - yes", "P0753", "P0705"),
        ("P0705 (no), P0753 (yes)", "P0753", "P0705"),
        ("P0753 stored, P0705 absent", "P0753", "P0705"),
        ("P0753 no P0705", "P0753", "P0705"),
        ("P0753 but not P0705", "P0753", "P0705"),
        ("neither P0753 nor P0705", "", "P0705 P0753"),
        ("P0753 and P0705 not stored", "", "P0705 P0753"),
        ("P0753 yes, P0705, P0715 and P0720 no", "P0753", "P0705 P0715 P0720"),
        ("stored: P0753, not stored: P0705", "P0753", "P0705"),
        ("P0753 no longer stored", "", "P0753"),
        ("P0753 not cleared", "P0753", ""),
        ("P0753 no reverse", "P0753", ""),
        ("no codes other than P0753", "P0753", ""),
    ],
)
def test_settle_codes__yes_and_no_belong_to_their_code(text, there, absent):
    said = {one.code: one.answer for one in report(text).answers if one.code}
    assert {**dict.fromkeys(there.split(), "yes"), **dict.fromkeys(absent.split(), "no")} == said


def test_settle_codes__of_a_row_joined_by_commas_alone_the_last_is_sure():
    said = report("P0753, P0705 not stored")
    assert {"P0705": "no"} == {one.id: one.answer for one in said.answers}
    assert ("P0753",) == said.not_understood


def test_settle_codes__what_says_yes_or_no_says_nothing_else():
    assert {"P0700": "yes", "P0715": "no", "P0720": "no"} == answers("P0700 yes P0715 no P0720 no")
    assert {"P0753": "yes", "P0705": "no"} == answers("P0753 stored, P0705 not stored")
    assert "yes" == answers("P0705: no P0753: yes slips in third").get("slips_gear_3")
