"""Several denials in a row are one after the other, one made stronger, or one that takes back the other."""

import pytest
from support.trade import shipped, unit_of

from shiftlore.words import choose_vocabulary, read_report
from shiftlore.words.denials import (
    denies_another,
    denies_what_follows,
    find_denial_before,
    is_all_of_clause,
    is_not_sound,
    is_one_denial,
    join_denials,
    undenied,
)
from shiftlore.words.trained import Features
from shiftlore.words.training import take_telling


def denials(text):
    vocabulary = choose_vocabulary(shipped())
    sentence = vocabulary.split(text)
    words = [token for token in sentence if token.is_telling]
    return join_denials(sentence, words, vocabulary), vocabulary


def answers(text):
    return {one.id: one.answer for one in read_report(shipped(), unit_of("step").expansion, text).answers}


@pytest.mark.parametrize(
    ("text", "count"),
    [("no break no short", 2), ("no slip, no noise", 1), ("not slipping and not banging", 1), ("slips", 0)],
)
def test_join_denials__to_the_last_stop_or_joint(text, count):
    assert count == len(denials(text)[0])


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("no break no short", True),
        ("fifth does not come never", True),
        ("does not go nowhere", True),
        ("does not go in without a bang", False),
        ("never is there no noise", False),
    ],
)
def test_is_one_denial__in_a_row_or_made_stronger(text, expected):
    assert expected == is_one_denial(*denials(text))


def test_undenied__as_they_would_be_read_without_it():
    words = take_telling(choose_vocabulary(shipped()), "no slip in third")
    assert [False, True, True, True] == [token.denied for token in words]
    assert [False] * 4 == [token.denied for token in undenied(words)]


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("the fifth gear don't come never", ("gear_missing_5", "yes")),
        ("harness checked end to end, no break no short", ("harness_outside_fault", "no")),
    ],
)
def test_denials__as_they_are_read(text, expected):
    assert expected in answers(text).items()


@pytest.mark.parametrize(
    ("text", "count", "expected"),
    [
        ("in R no knock", 3, True),
        ("oil not pink", 2, True),
        ("in R no, in D yes", 3, False),
        ("reverse no and drive no", 2, False),
        ("it will not", 1, False),
        ("no knock in R", 1, False),
        ("no reverse today", 2, False),
    ],
)
def test_denies_what_follows__of_the_words_before_it_nothing_is_said(text, count, expected):
    vocabulary = choose_vocabulary(shipped())
    sentence = vocabulary.split(text)
    words = [token for token in sentence if token.is_telling][:count]
    assert expected == denies_what_follows(words, sentence, vocabulary)


@pytest.mark.parametrize(
    ("text", "never"),
    [
        ("It makes a big knock when I put it in D, in R no knock.", ("no_reverse", "yes")),
        ("Customer denies slipping, only noise in second.", ("slips", "yes")),
    ],
)
def test_denies_what_follows__as_it_is_read(text, never):
    assert never not in answers(text).items()


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("all works except reverse", True),
        ("all good, except reverse", True),
        ("slips in every gear except reverse", False),
        ("all good except reverse bangs", False),
        ("except reverse, and it slips", True),
    ],
)
def test_is_all_of_clause__nothing_else_but_that_all_is_well(text, expected):
    vocabulary = choose_vocabulary(shipped())
    sentence = vocabulary.split(text)
    words = [token for token in sentence if token.written in ("except", "reverse")]
    assert expected == is_all_of_clause(words, sentence, vocabulary, Features(vocabulary))


@pytest.mark.parametrize("text", ["everything works except reverse", "everything but reverse"])
def test_is_all_of_clause__what_is_excepted_is_missing(text):
    assert ("no_reverse", "yes") in answers(text).items()


@pytest.mark.parametrize(
    ("text", "expected"),
    [("level wrong", True), ("45 psi, spec 60 to 70", True), ("level not bad", False), ("level at the mark", False)],
)
def test_is_not_sound__what_is_wrong_or_cannot_be_compared(text, expected):
    sentence = choose_vocabulary(shipped()).split(text)
    assert expected == is_not_sound(sentence, sentence, choose_vocabulary(shipped()))


def test_find_denial_before__the_last_one():
    sentence = choose_vocabulary(shipped()).split("no bang into second, not into third")
    assert ["not"] == [one.written for one in find_denial_before(sentence[-1:], sentence)]
    assert [] == find_denial_before(sentence[:1], sentence)


def test_read_report__what_is_not_meant_is_denied_and_not_missing():
    said = answers("bangs 2-3, not 1-2")
    assert ("yes", "no") == (
        said.get("shift_harsh_2_3"),
        said.get("shift_harsh_1_2"),
    ) and "shift_missing_1_2" not in said


@pytest.mark.parametrize(("text", "expected"), [("it doesn't bang", "no"), ("it bangs", "yes")])
def test_read_report__trouble_denied_in_a_word(text, expected):
    assert expected == answers(text).get("shift_harsh_any")


@pytest.mark.parametrize(
    ("text", "is_other", "expected"),
    [("bang, no drive", True, True), ("bang, no drive", False, False), ("bang no drive", True, False), ("no drive, bang", True, False)],
)  # fmt: skip
def test_denies_another__behind_a_stop_it_says_something_of_its_own(text, is_other, expected):
    sentence = choose_vocabulary(shipped()).split(text)
    words = [token for token in sentence if token.is_telling]
    assert expected == denies_another(words, sentence, lambda left: is_other and left[0].kind == "no")


@pytest.mark.parametrize("text", ["bang, no drive", "snap, no reverse", "clunk, no forward"])
def test_denies_another__what_stands_before_a_stop_is_not_denied(text):
    """ "Bang, no drive" became: no bang into Drive."""
    assert "no" not in answers(text).values()
    assert {"driveline_play": "no"} == answers("drive shaft, no play")
