"""A turn of speech belongs to a finding where its sayings often hold it."""

import pytest
from support.trade import shipped

from shiftlore.words import choose_vocabulary
from shiftlore.words.own_turns import OwnTurns


def own(sayings):
    return OwnTurns(sayings, choose_vocabulary(shipped()))


@pytest.mark.parametrize(
    ("key", "role", "expected"),
    [("helps", "ended", True), ("slips", "ended", False), ("unknown", "ended", False), ("helps", "until", False)],
)
def test_has__a_turn_in_many_of_the_sayings(key, role, expected):
    assert expected == own({"helps": {"yes": ("gone after it", "cured")}, "slips": {"yes": ("slips",)}}).has(key, role)


@pytest.mark.parametrize("answer", ["no", "near"])
def test_has__what_denies_or_only_sounds_like_it_does_not_count(answer):
    assert not own({"helps": {"yes": ("it helps",), answer: ("cured",) * 9}}).has("helps", "ended")


@pytest.mark.parametrize(("others", "expected"), [(3, True), (4, False), (9, False)])
def test_has__more_than_a_fifth_of_them(others, expected):
    assert expected == own({"helps": {"yes": ("cured", *(f"helps {n}" for n in range(others)))}}).has("helps", "ended")


@pytest.mark.parametrize(("key", "expected"), [("final_drive", True), ("slips", False)])
def test_has__another_part_once_is_enough(key, expected):
    sayings = {
        "final_drive": {"yes": ("diff oil low", *(f"noise {n}" for n in range(9)))},
        "slips": {"yes": ("slips",)},
    }
    assert expected == own(sayings).has(key, "other_part")
