"""Which answer a reading gives."""

import pytest

from shiftlore.knowledge import load_knowledge, read_free_text


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
