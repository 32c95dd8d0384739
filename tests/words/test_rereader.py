"""Words are read once more with fewer of them."""

import numpy as np
import pytest
from support.sayings import learned
from support.trade import shipped, unit_of

from shiftlore.words import read_report
from shiftlore.words.rereader import Rereader, find_kin, find_layer
from shiftlore.words.trained import NONE
from shiftlore.words.training import take_telling


def test_label__names_what_words_speak_of():
    vocabulary, features, trained = learned()
    again = Rereader(trained, features, np.zeros(len(trained.classes)))
    assert "slips_gear" == again.label(take_telling(vocabulary, "slips in third gear"))
    assert NONE == again.label(take_telling(vocabulary, "thursday"))


def again():
    vocabulary, features, trained = learned()
    return vocabulary, Rereader(trained, features, np.zeros(len(trained.classes)))


def test_again__says_the_same_without_a_word_that_adds_nothing():
    vocabulary, reader = again()
    words = take_telling(vocabulary, "slips in third")
    assert reader.says(words, "slips_gear") and reader.says_yes(words, "slips_gear")
    assert not reader.says(words, "fluid_level:low")


def test_again__nothing_and_parts_alone_say_nothing():
    vocabulary, reader = again()
    assert not reader.says([], "slips")
    assert not reader.says(take_telling(vocabulary, "in third"), "slips_gear")


def test_says_else__of_no_kin_and_surely():
    vocabulary, reader = again()
    words = take_telling(vocabulary, "slips in third")
    assert reader.says_else(words, "fluid_level:low") and not reader.says_else(words, "slips_gear")
    assert not reader.says_else(take_telling(vocabulary, "thursday"), "slips_gear")


def test_again__a_class_that_was_never_learned_is_not_said():
    vocabulary, reader = again()
    assert not reader.says(take_telling(vocabulary, "slips in third"), "never_learned")


def test_again__a_grade_is_said_where_no_other_is_as_likely():
    vocabulary, reader = again()
    assert reader.says_grade(take_telling(vocabulary, "low on fluid"), "fluid_level:low")
    assert not reader.says_grade(take_telling(vocabulary, "low on fluid"), "fluid_level:high")
    assert not reader.says_grade(take_telling(vocabulary, "the level is"), "fluid_level:low")


@pytest.mark.parametrize(
    ("parts", "count"),
    [((0, 0, 0, 0.8, 0), 3), ((0, 0, 0, 0.3, 0), 5), ((0, 0.8, 0, 0.8, 0), 5)],
)
def test_own_part__the_one_between_stops_that_says_it(parts, count):
    vocabulary, reader = again()
    words = take_telling(vocabulary, "slips in third, radio thursday")
    assert count == len(reader.own_part(words, parts, "slips_gear"))


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("slips xyzzyq in third", ["slips", "in", "third"]),
        ("slips in third", ["slips", "in", "third"]),
        ("xyzzyq", ["xyzzyq"]),
    ],
)
def test_list_needed__a_word_that_was_never_met_and_adds_nothing_is_not(text, expected):
    vocabulary, reader = again()
    assert expected == [token.written for token in reader.list_needed(take_telling(vocabulary, text), "slips_gear")]


def report(text, unit="step"):
    return read_report(shipped(), unit_of(unit).expansion, text)


def test_list_needed__what_stands_on_the_other_side_of_and_is_shown():
    assert any(
        "rattles" in span
        for span in report("air filter like a brick and catalytic converter rattles", "cvt").not_understood
    )


def test_list_needed__what_follows_the_life_of_the_vehicle_is_read_too():
    said = report(
        "After he had the radiator replaced last month it is low on fluid and there is pink milkshake on the dipstick."
    )
    answers = {one.id: one.answer for one in said.answers}
    assert {"fluid_level": "low", "fluid_milky": "yes"}.items() <= answers.items()


def test_rejoin__what_says_when_belongs_to_what_it_makes_special():
    said = {
        one.id for one in report("Stalls when I come to a stop, as if you did not push in the clutch.", "dct").answers
    }
    assert {"engine_stalls_stopping"} == said


def test_rejoin__what_says_something_else_stays_apart():
    said = {one.id for one in report("slips when it bangs into reverse").answers}
    assert "engage_harsh_reverse" in said


@pytest.mark.parametrize(
    ("one", "other", "same"),
    [
        ("slips", "no_reverse", True),
        ("slips", "worse_hot", False),
        ("worse_hot", "after_wet", True),
        ("usage", "age", True),
        ("usage", "slips", False),
    ],
)
def test_find_layer__what_is_found_when_and_how_it_lived(one, other, same):
    assert same == (find_layer(shipped(), one) == find_layer(shipped(), other))


def kin(*keys, beside=()):
    return find_kin(shipped(), keys, np.array([key in beside for key in keys]))


@pytest.mark.parametrize(
    ("one", "other", "expected"),
    [
        ("slips", "slips_gear", True),
        ("slips", "no_reverse", False),
        ("shift_harsh_any", "shift_harsh", True),
        ("shift_harsh_any", "shift_flares_any", False),
    ],
)
def test_find_kin__general_and_special_are(one, other, expected):
    both = kin(one, other)
    assert expected == bool(both[0, 1]) == bool(both[1, 0])


def test_find_kin__each_is_its_own_and_what_is_said_beside_another():
    found = kin("noise_whine", "noise_certain_gears", "no_reverse", beside=("noise_whine", "noise_certain_gears"))
    assert [[True, True, False], [True, True, False], [False, False, True]] == found.tolist()


def test_find_kin__whatever_says_that_nothing_was_found():
    nothing = [key for key, one in shipped().findings.items() if one.none_by is not None][:2]
    assert kin(*nothing).all()


def test_part_behind__a_denial_ahead_is_of_something_else():
    found = read_report(shipped(), unit_of("step").expansion, "never slips since the oil was changed").answers
    assert {"slips": "no", "recent_service": "yes"} == {one.id: one.answer for one in found}
