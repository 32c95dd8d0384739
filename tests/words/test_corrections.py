"""What is taken back in the middle gives way to what is said instead."""

import pytest
from support.trade import shipped, unit_of

from shiftlore.words import read_report
from shiftlore.words.corrections import without_corrected, write_corrections
from shiftlore.words.vocabulary import choose_vocabulary


def written(text):
    vocabulary = choose_vocabulary(shipped())
    return " ".join(one.written for one in without_corrected(vocabulary.split(text), vocabulary) if one.kind != "stop")


def answers(text):
    said = read_report(shipped(), unit_of("step").expansion, text).answers
    return {one.id: one.answer for one in said}, {name for one in said for name in one.when}


@pytest.mark.parametrize(
    ("text", "left"),
    [
        ("when cold it's bad, no sorry, when hot", "it's bad when hot"),
        ("slips in second, no I mean third", "slips in third"),
        ("bangs into drive, sorry, reverse", "bangs into reverse"),
        ("P0741, no sorry, P0730", "P0730"),
        ("bangs into second, no wait, it is third not second", "bangs into third"),
        ("bangs into drive, no wait, into reverse I mean", "bangs into reverse"),
        ("the oil is not red, it is brown", "the oil is brown"),
        ("the fluid is red, no I looked again, it is brown", "the fluid is brown"),
        ("it only does it cold, sorry, hot", "it only does it hot"),
        ("it isn't slipping, it is jerking", "it isn't isn't slipping it is jerking"),
        ("182000 km, sorry, 128000 km", "128000 km"),
        ("the fluid is black, no wait, brown", "the fluid is brown"),
        ("it slips in third. No wait, in fourth.", "it slips in fourth"),
        ("slips in second, no, third", "slips in third"),
        ("it is low, it whines, no wait, it growls", "it is low it growls"),
        ("when cold it is worse, no wait, when warm it is worse", "when warm it is worse"),
    ],
)
def test_without_corrected__what_is_said_instead_stands(text, left):
    assert left == written(text)


@pytest.mark.parametrize(
    "text",
    [
        "slips in second, no third",
        "sorry for my english, it slips in third",
        "bangs into second, no wait, also into third",
        "no reverse and no drive",
        "P0705 - no, P0753 - yes",
    ],
)
def test_without_corrected__what_only_looks_like_it(text):
    vocabulary = choose_vocabulary(shipped())
    tokens = vocabulary.split(text)
    assert tokens == without_corrected(tokens, vocabulary)


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("reverse works, no sorry, reverse does not work", ("no_reverse", "yes")),
        ("it goes into third, no sorry, it does not go into third", ("gear_missing_3", "yes")),
        ("the oil is low, sorry no, the oil is too high", ("fluid_level", "high")),
    ],
)
def test_read_report__the_last_word_counts(text, expected):
    assert expected in answers(text)[0].items()


def test_read_report__when_it_is_so_is_corrected_too():
    found, when = answers("it slips when cold, no sorry, when hot")
    assert "worse_cold" not in found and when == {"hot"}


def test_without_corrected__of_what_was_said_elsewhere_the_denial_alone_goes():
    assert ("slips_gear_4", "yes") in answers("no sorry it is fourth that slips")[0].items()


def test_write_corrections__as_a_correction_or_as_going_on():
    assert ("slips in third, no wait, fourth", "slips in third. fourth") == write_corrections(
        shipped(), "slips in third", "fourth"
    )
