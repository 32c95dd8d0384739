"""What a question asks for, and to which answer of it a yes agrees."""

import pytest
from support.practice import exercise_of

from shiftlore.practising.asking import is_open, is_polar, read_question


def agrees(text: str) -> dict[str, str]:
    """Give what a question asks of the usual vehicle."""
    return dict(read_question(exercise_of().bench.compiled, text).agrees)


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("does reverse work?", {"no_reverse": "no"}),
        ("is reverse gone?", {"no_reverse": "yes"}),
        ("does it drive forward?", {"no_drive_forward": "no"}),
        ("does it slip?", {"slips": "yes"}),
        ("are the shifts smooth?", {"shift_harsh_any": "no"}),
        ("is it fine when warm?", {"worse_hot": "no", "worse_cold": "yes"}),
    ],
)
def test_read_question__a_function_is_asked_for_as_the_lack_that_is_not_there(
    text: str, expected: dict[str, str]
) -> None:
    assert expected == agrees(text)


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("does it shift up?", {"no_upshift": "no"}),
        ("does it go into reverse?", {"no_reverse": "no"}),
        ("does manual mode work?", {"drive_normal_manual": "yes"}),
        ("does the engine start?", {"will_not_crank": "no"}),
        ("does it stall?", {"engine_stalls_any": "yes"}),
    ],
)
def test_read_question__what_only_its_denial_says_is_turned(text: str, expected: dict[str, str]) -> None:
    assert expected == agrees(text)


def test_read_question__its_denial_counts_before_a_fault_of_another_thing() -> None:
    """Read by itself, "drive backwards" is said of a vehicle that moves against the lever."""
    assert {"no_reverse": "no"} == agrees("does it drive backwards?")


def test_read_question__in_the_words_of_a_finding_it_asks_for_that() -> None:
    assert {"noise_in_gear_only": "yes"} == agrees("is it quiet in neutral?")


def test_read_question__half_of_it_read_has_no_yes() -> None:
    assert {"worse_hot": ""} == agrees("is it better hot?")


def test_read_question__what_works_when_cold_is_asked_whole() -> None:
    assert {"no_reverse": "no"} == agrees("does it go into reverse when cold?")


@pytest.mark.parametrize(
    "text", ["when does it slip?", "how long does it take to engage reverse", "in which gears does it slip?"]
)
def test_read_question__which_and_when_have_no_yes(text: str) -> None:
    assert {""} >= {*agrees(text).values()}
    assert is_open(text) and not is_polar(text)


def test_read_question__the_life_of_the_vehicle_is_no_finding() -> None:
    for text in ("was it used for towing?", "has the fluid ever been changed?"):
        asked = read_question(exercise_of().bench.compiled, text)
        assert (True, {}) == (asked.is_life, dict(asked.agrees))


def test_read_question__nothing_known_is_nothing_asked() -> None:
    assert {} == agrees("does it taste of strawberries?") == agrees("does it have a radio?")
