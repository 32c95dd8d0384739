"""A clause names gears and shifts, and each statement takes those next to it."""

import pytest
from support.english import split_words

from shiftlore.knowledge import load_knowledge
from shiftlore.words import read_free_text
from shiftlore.words.said_answers import choose_named, find_named


@pytest.mark.parametrize(
    ("said", "verb", "each", "expected"),
    [
        ("slips in third and fourth", "slips", "gear", ["3", "4"]),
        ("bangs into second and flares into third", "flares", "shift", ["2_3"]),
        ("2-3 flares 3-4 bangs", "flares", "shift", ["2_3"]),
        ("2-3 flares 3-4 bangs", "bangs", "shift", ["3_4"]),
        ("bangs into first as it slows", "bangs", "shift", ["2_1"]),
        ("slips in second", "slips", "shift", []),
    ],
)
def test_choose_named__takes_what_the_statement_speaks_of(said, verb, each, expected):
    words = split_words(said)
    place = next(place for place, word in enumerate(words) if word.written == verb)
    assert expected == [instance for instance, _ in choose_named([place], find_named(each, words), words)]


def test_find_named__reverse_is_a_gear():
    assert [("r", 1)] == find_named("gear", split_words("no reverse"))


@pytest.mark.parametrize(
    ("said", "key", "answer"),
    [
        ("fluid is dark", "fluid_colour", "dark"),
        ("fluid does not smell burnt", "fluid_smell_burnt", "no"),
        ("had it rebuilt last month", "rebuilt", "just_now"),
        ("fluid changed, no help", "replaced_fluid", "yes"),
        ("wiring checked good", "harness_outside_fault", "no"),
    ],
)
def test_give_answer__grade_denial_or_background(said: str, key: str, answer: str) -> None:
    found = {one.id: one.answer for one in read_free_text(load_knowledge(), said)}
    assert answer == found.get(key)
