"""Questions and replies as plain records."""

from dataclasses import FrozenInstanceError

import pytest

from shiftlore.sessions import Choice, Question, Reply


def test_question__can_be_left_open_unless_it_says_otherwise() -> None:
    assert Question("slips", "choice", "Does it slip?").optional


def test_reply__is_sure_and_known_unless_it_says_otherwise() -> None:
    assert ((), "", True, None) == (Reply().keys, Reply().text, Reply().known, Reply().doubt)


def test_choice__cannot_be_changed() -> None:
    with pytest.raises(FrozenInstanceError):
        Choice("yes", "yes").key = "no"  # type: ignore[misc]
