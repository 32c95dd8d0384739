"""How far a "no" reaches."""

import pytest

from shiftlore.knowledge.denying import (
    find_denial,
    follows_another_fine,
    is_beside,
    is_lifted,
    is_limited,
    is_remote,
    speaks_of_how,
)
from shiftlore.knowledge.wording import FINE, Token, split_words


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
    assert denied is (find_denial(place_of(words, word), words, False) is not None)


def test_is_remote__another_statement_stands_between() -> None:
    words = split_words("not crank sometimes")
    assert is_remote(0, place_of(words, "sometimes"), words)
    assert not is_remote(0, place_of(words, "crank"), words)


def test_is_beside__light_words_may_stand_between() -> None:
    words = split_words("wiring checked good")
    assert is_beside(place_of(words, "wiring"), words, frozenset({FINE}))
    assert not is_beside(place_of(words, "wiring"), words, frozenset({"slip"}))


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
    assert not is_beside((2, 3), words, frozenset({FINE}))
    assert follows_another_fine((4,), split_words("pressure ok in all ranges"))
