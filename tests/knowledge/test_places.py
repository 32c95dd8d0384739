"""An unknown id is told with the nearest known ones."""

from shiftlore.basics import Mark
from shiftlore.knowledge import Knowledge
from shiftlore.knowledge.places import place_of, tell_unknown
from shiftlore.knowledge.strengths import NO_WORDS


def test_tell_unknown__names_the_nearest():
    problem = tell_unknown(Knowledge(NO_WORDS), Mark("a", 1, 2), "K102", "state", "fluid_hott", ["fluid_hot", "pump"])
    assert ('There is no state "fluid_hott"', True) == (problem.what, "Nearest: fluid_hot" in problem.write_instead)


def test_tell_unknown__a_retired_id_without_heir():
    problem = tell_unknown(Knowledge(NO_WORDS, retired={"old": None}), Mark(), "K102", "state", "old", [])
    assert "Take the line out." == problem.write_instead


def test_place_of__an_unknown_place_is_nowhere():
    assert Mark() == place_of(Knowledge(NO_WORDS), "cause", "x", "id")
