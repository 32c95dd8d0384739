"""How far a "no" reaches."""

import pytest
from support.english import split_words, weight

from shiftlore.words.negation import (
    find_denial,
    follows_another_fine,
    guessed_from,
    is_beside,
    is_fine,
    is_lifted,
    is_limited,
    is_past,
    is_remote,
    names_code,
    names_new_part,
    speaks_of_how,
    wanted_from,
)
from shiftlore.words.vocabulary import Token


def place_of(words: list[Token], word: str) -> tuple[int, ...]:
    """Give the place of the first word that begins so."""
    return (next(i for i, one in enumerate(words) if one.written.startswith(word)),)


@pytest.mark.parametrize(
    ("said", "word", "denied"),
    [
        ("does not slip", "slip", True),
        ("no noise only slips", "slip", False),
        ("light is not on", "light", True),
        ("slips but never whines", "slip", False),
    ],
)
def test_find_denial__reaches_to_the_next_statement(said: str, word: str, denied: bool) -> None:
    words = split_words(said)
    assert denied is (find_denial(place_of(words, word), words, False, weight("most_between")) is not None)


def test_is_remote__another_statement_stands_between() -> None:
    words = split_words("not crank sometimes")
    assert is_remote(0, place_of(words, "sometimes"), words)
    assert not is_remote(0, place_of(words, "crank"), words)


def test_is_beside__light_words_may_stand_between() -> None:
    words = split_words("wiring checked good")
    assert is_beside(place_of(words, "wiring"), words, is_fine)
    assert not is_beside(place_of(words, "wiring"), words, lambda word: word.stem == "slip")


def test_is_lifted__until_ends_it() -> None:
    words = split_words("never slipped until last week")
    assert is_lifted(place_of(words, "slip"), words)


def test_is_limited__a_place_follows() -> None:
    words = split_words("no noise in neutral")
    assert is_limited(place_of(words, "noise"), words)


def test_speaks_of_how__the_manner_is_denied() -> None:
    words = split_words("not shift right")
    assert speaks_of_how(place_of(words, "shift"), words)


def test_is_remote__what_cannot_be_done_denies_no_condition() -> None:
    words = split_words("won't go over 65 mph")
    assert is_remote(0, place_of(words, "fastspeed"), words, is_condition=True)


def test_is_beside__a_fine_that_closes_another_statement_is_not_meant() -> None:
    words = split_words("1-2 ok 2-3 flares")
    assert not is_beside((2, 3), words, is_fine)
    assert follows_another_fine((4,), split_words("pressure ok in all ranges"))


def test_guessed_from__after_the_word_it_is_a_guess() -> None:
    words = split_words("shop suspect pump")
    assert 1 == guessed_from(words)
    assert 2 == guessed_from(split_words("pump whines"))


def test_wanted_from__work_still_to_be_done() -> None:
    assert 1 == wanted_from(split_words("it needs rebuild"))


@pytest.mark.parametrize(("said", "past"), [("used to slip", True), ("it slips now slip", False)])
def test_is_past__what_used_to_be(said: str, past: bool) -> None:
    words = split_words(said)
    assert past is is_past((len(words) - 1,), words)


def test_names_new_part__not_where_a_code_is_spoken_of() -> None:
    assert names_new_part(split_words("replaced solenoid"))
    assert not names_new_part(split_words("replaced solenoid code stored"))


def test_names_code__by_word_or_number() -> None:
    assert names_code(split_words("codes stored"))
    assert not names_code(split_words("slips in third"))
