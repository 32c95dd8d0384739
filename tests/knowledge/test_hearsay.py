"""What is mentioned without being so now."""

import pytest

from shiftlore.knowledge.hearsay import guessed_from, is_past, names_code, names_new_part, wanted_from
from shiftlore.knowledge.wording import split_words


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
