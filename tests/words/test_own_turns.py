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


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("noise in neutral", True),
        ("quiet in drive", True),
        ("quiet in neutral", False),
        ("noise gone in neutral", False),
        ("noise in drive", False),
        ("only in gear, in neutral", False),
        ("noise", False),
    ],
)
def test_is_turned__a_place_beside_which_it_is_said_the_other_way_round(text, expected):
    said = ("noise in drive", "not in neutral", "quiet in neutral", "whines in D", "gone in neutral", "hums in drive")
    tokens = choose_vocabulary(shipped()).split(text)
    words = [token for token in tokens if token.is_telling]
    assert expected == own({"in_gear": {"yes": said}}).is_turned("in_gear", words, tokens)


def test_is_turned__where_all_is_said_alike_a_place_tells_nothing():
    said = ("bangs into drive", "harsh in drive", "clunks into D")
    tokens = choose_vocabulary(shipped()).split("fine in drive")
    assert not own({"harsh": {"yes": said}}).is_turned("harsh", tokens, tokens)


@pytest.mark.parametrize(
    ("text", "expected"), [("fine below 60", True), ("fine above 60", False), ("under the floor", False)]
)
def test_is_turned__a_bound_on_whose_other_side_it_is(text, expected):
    said = ("below 20", "under 30 km/h", "only below 25 mph", "fine above 30", "not above 20", "gone above 40 km/h")
    tokens = choose_vocabulary(shipped()).split(text)
    assert expected == own({"slow": {"yes": said}}).is_turned("slow", tokens, tokens)


@pytest.mark.parametrize(("text", "expected"), [("stays in third", True), ("stays in first", False), ("stays", False)])
def test_is_of_other_gear__where_nearly_all_ways_to_say_it_name_one(text, expected):
    tokens = choose_vocabulary(shipped()).split(text)
    said = tuple(f"stays in first {n} times" for n in range(12))
    assert expected == own({"no_upshift": {"yes": said}}).is_of_other_gear("no_upshift", tokens)
    assert not own({"held": {"yes": ("stays in first", "stays in third") * 9}}).is_of_other_gear("held", tokens)


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("gears 1,3,5 gone", True),
        ("2,4,6 gone", True),
        ("only 1,3,5 left", True),
        ("1,3 gone", False),
        ("4,5,6 gone", False),
    ],
)
def test_is_of_other_gear__a_row_is_read_by_its_word(text, expected):
    tokens = choose_vocabulary(shipped()).split(text)
    said = ("2, 4 and 6 gone", "2nd 4th and 6th gone", "only 1 3 5 left")
    assert expected == own({"even": {"yes": said}}).is_of_other_gear("even", tokens)


@pytest.mark.parametrize(
    ("text", "expected"), [("transfer case", True), ("transfer case leaks", False), ("case", False)]
)
def test_is_only_named__what_is_said_where_all_is_well_too(text, expected):
    sayings = {
        "yes": ("transfer case leaks", "transfer case broken"),
        "no": ("transfer case good", "transfer case dry"),
    }
    words = [token for token in choose_vocabulary(shipped()).split(text) if token.is_telling]
    assert expected == own({"transfer": sayings}).is_only_named("transfer", words)


def test_knows__the_words_of_whatever_says_that_it_is_so():
    told = own({"valves": {"for_a_time": ("helped a month",), "near": ("looked at",)}})
    first = choose_vocabulary(shipped()).split("months looked")
    assert [True, False] == [told.knows("valves", token) for token in first]
