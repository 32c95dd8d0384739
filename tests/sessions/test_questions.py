"""What can be typed at a prompt."""

from dataclasses import FrozenInstanceError

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shiftlore.basics import UsageProblem
from shiftlore.sessions import Choice, Command, Question, Reply, parse_reply
from shiftlore.sessions.questions import HIGHEST_NUMBER, THINK_SO, read_command

YES_NO = Question("slips", "choice", "Does it slip?", (Choice("yes", "yes"), Choice("no", "no")))
COLOUR = Question(
    "fluid_colour",
    "choice",
    "Colour?",
    (
        Choice("clear", "clear"),
        Choice("amber", "amber, slightly aged"),
        Choice("dark", "dark"),
        Choice("black", "black"),
    ),
)
WHICH = Question("gears", "which", "Which gears?", tuple(Choice(f"g{i}", f"gear {i}") for i in range(1, 4)))
NUMBER = Question("odometer_km", "number", "How far?")
WORDS = Question("complaint", "words", "What is it?")
CONFIRM = Question("confirm", "confirm", "Right?", WHICH.choices)
UNIT = Question(
    "unit", "choice", "Which?", (Choice("long5", "Five speed"), Choice("long6", "Six speed")), optional=False
)


@pytest.mark.parametrize(
    ("line", "expected"),
    [
        ("y", Reply(("yes",))),
        (" YES ", Reply(("yes",))),
        ("n", Reply(("no",))),
        ("no", Reply(("no",))),
        ("1", Reply(("yes",))),
        ("2", Reply(("no",))),
        ("y?", Reply(("yes",), doubt=THINK_SO)),
        ("n ?", Reply(("no",), doubt=THINK_SO)),
        ("think so yes", Reply(("yes",), doubt=THINK_SO)),
        ("maybe", Reply(("yes",), doubt=THINK_SO)),
        ("probably no", Reply(("no",), doubt=THINK_SO)),
        ("?", Reply(known=False)),
        ("don't know", Reply(known=False)),
        ("", Reply(known=False)),
        ("skip", Reply(known=False)),
    ],
)
def test_parse_reply__yes_no_doubt_and_not_known(line: str, expected: Reply) -> None:
    assert expected == parse_reply(YES_NO, line)


@pytest.mark.parametrize(
    ("line", "command"),
    [
        ("b", Command.BACK),
        ("Back", Command.BACK),
        ("w", Command.WHY),
        ("why?", Command.WHY),
        ("r", Command.RANKING),
        ("c", Command.CHECKS),
        ("q", Command.STOP),
        ("quit", Command.STOP),
        ("h", Command.HELP),
    ],
)
def test_parse_reply__commands_work_at_every_question(line: str, command: Command) -> None:
    for question in (YES_NO, COLOUR, WHICH, NUMBER, WORDS, CONFIRM, UNIT):
        assert command is parse_reply(question, line)


@pytest.mark.parametrize(("line", "key"), [("3", "dark"), ("dark", "dark"), ("amber", "amber"), ("bl", "black")])
def test_parse_reply__a_grade_by_number_key_or_beginning(line: str, key: str) -> None:
    assert Reply((key,)) == parse_reply(COLOUR, line)


@pytest.mark.parametrize("line", ["9", "0", "purple", "y", "1 2", "-1", "²"])
def test_parse_reply__what_is_no_choice_says_what_to_type(line: str) -> None:
    with pytest.raises(UsageProblem, match="1 to 4"):
        parse_reply(COLOUR, line)


@pytest.mark.parametrize(
    ("line", "keys"),
    [("1 3", ("g1", "g3")), ("1,2", ("g1", "g2")), ("0", ()), ("none", ()), ("", ()), ("all", ("g1", "g2", "g3"))],
)
def test_parse_reply__several_of_a_list(line: str, keys: tuple[str, ...]) -> None:
    assert Reply(keys) == parse_reply(WHICH, line)


@pytest.mark.parametrize(
    ("line", "keys"),
    [("y", ("g1", "g2", "g3")), ("", ("g1", "g2", "g3")), ("n", ()), ("2", ("g1", "g3")), ("1 3", ("g2",))],
)
def test_parse_reply__what_was_understood_is_confirmed(line: str, keys: tuple[str, ...]) -> None:
    assert Reply(keys) == parse_reply(CONFIRM, line)


@pytest.mark.parametrize(
    ("line", "km"),
    [
        ("182000", "182000"),
        ("182,000", "182000"),
        ("182 000 km", "182000"),
        ("182.000", "182000"),
        ("182'000", "182000"),
        ("182k", "182000"),
        ("100000 miles", "160934"),
        ("0", "0"),
        ("95.5k", "95500"),
    ],
)
def test_parse_reply__distances_as_people_write_them(line: str, km: str) -> None:
    """Source: 1 mile is 1.609344 km (international yard and pound agreement, 1959)."""
    assert Reply(text=km) == parse_reply(NUMBER, line)


@pytest.mark.parametrize("line", ["far", "-5", "1e9", "99999999", "12 apples", "nan", "km"])
def test_parse_reply__what_is_no_distance(line: str) -> None:
    with pytest.raises(UsageProblem, match="distance"):
        parse_reply(NUMBER, line)


@pytest.mark.parametrize(
    ("line", "text"),
    [
        ("say bangs into second", "bangs into second"),
        ("SAY it slips", "it slips"),
        ('"no drive when hot"', "no drive when hot"),
    ],
)
def test_parse_reply__own_words(line: str, text: str) -> None:
    assert text == parse_reply(YES_NO, line)


def test_parse_reply__words_are_taken_as_they_are() -> None:
    assert Reply(text="slips, bangs and whines") == parse_reply(WORDS, "  slips,  bangs and whines ")


@pytest.mark.parametrize("line", ["", "?", "skip"])
def test_parse_reply__what_is_needed_cannot_be_left_open(line: str) -> None:
    with pytest.raises(UsageProblem):
        parse_reply(UNIT, line)


@given(st.text(max_size=60), st.sampled_from([YES_NO, COLOUR, WHICH, NUMBER, WORDS, CONFIRM, UNIT]))
def test_parse_reply__anything_typed_is_understood_or_refused(line: str, question: Question) -> None:
    try:
        reply = parse_reply(question, line)
    except UsageProblem as problem:
        assert str(problem)
        return
    if isinstance(reply, Reply):
        assert set(reply.keys) <= {choice.key for choice in question.choices}
        if question.kind == "number" and reply.known:
            assert 0 <= int(reply.text) <= HIGHEST_NUMBER


@pytest.mark.parametrize(("line", "command"), [("b", Command.BACK), (" WHY? ", Command.WHY), ("quit", Command.STOP)])
def test_read_command__in_any_case_and_with_spaces(line: str, command: Command) -> None:
    assert command is read_command(line)


@pytest.mark.parametrize("line", ["", "bb", "1", "yes", "say b"])
def test_read_command__none_where_it_is_something_else(line: str) -> None:
    assert read_command(line) is None


def test_question__can_be_left_open_unless_it_says_otherwise() -> None:
    assert Question("slips", "choice", "Does it slip?").optional


def test_reply__is_sure_and_known_unless_it_says_otherwise() -> None:
    assert ((), "", True, None) == (Reply().keys, Reply().text, Reply().known, Reply().doubt)


def test_choice__cannot_be_changed() -> None:
    with pytest.raises(FrozenInstanceError):
        Choice("yes", "yes").key = "no"  # type: ignore[misc]
