"""What can be typed at a prompt."""

from dataclasses import FrozenInstanceError

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from support.trade import shipped

from shiftlore.basics import UsageProblem
from shiftlore.cases import Case, Done, Measured
from shiftlore.sessions import Command, Interview, Question
from shiftlore.sessions.questions import (
    HIGHEST_NUMBER,
    NOT_DONE,
    THINK_SO,
    Choice,
    Proposal,
    Reply,
    find_codes,
    find_number,
    parse_reply,
    read_command,
    read_result,
    read_said,
)

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
EACH = Question(
    "look",
    "each",
    "Seen?",
    (
        Choice("level=right", "Level: right"),
        Choice("level=low", "Level: low"),
        Choice("smell=no", "Smell: no"),
        Choice("smell=yes", "Smell: yes"),
    ),
)
GEARS = Question(
    "slips", "which", "In which gears?",
    (*(Choice(f"s{gear}", f"Slips in gear {gear}", gear) for gear in "235"), Choice("sr", "Slips in reverse", "R")),
)  # fmt: skip
SHIFTS = Question(
    "flares", "which", "On which?", (Choice("f23", "Flare on 2-3", "2-3"), Choice("f34", "Flare on 3-4", "3-4"))
)
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
        ("y?", Reply(("yes",), doubt=THINK_SO)),
        ("n ?", Reply(("no",), doubt=THINK_SO)),
        ("think so yes", Reply(("yes",), doubt=THINK_SO)),
        ("maybe", Reply(("yes",), doubt=THINK_SO)),
        ("probably no", Reply(("no",), doubt=THINK_SO)),
        ("?", Reply(known=False)),
        ("don't know", Reply(known=False)),
        ("I haven't looked", Reply(known=False)),
        ("nobody has looked at it yet", Reply(known=False)),
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
def test_read_command__every_short_and_long_form(line: str, command: Command) -> None:
    assert command is read_command(line)


@pytest.mark.parametrize("question", [YES_NO, COLOUR, WHICH, EACH, NUMBER, WORDS, CONFIRM, UNIT])
def test_parse_reply__an_empty_line_answers_nothing(question: Question) -> None:
    """Review of use: four empty lines wrote 41 answers."""
    with pytest.raises(UsageProblem, match="Nothing was typed"):
        parse_reply(question, "  ")


@pytest.mark.parametrize("line", ["1", "2", "0", "none"])
def test_parse_reply__a_number_is_no_yes_and_no_no(line: str) -> None:
    with pytest.raises(UsageProblem, match="y, n"):
        parse_reply(YES_NO, line)


@pytest.mark.parametrize(("line", "key"), [("3", "dark"), ("dark", "dark"), ("amber", "amber"), ("bl", "black")])
def test_parse_reply__a_grade_by_number_key_or_beginning(line: str, key: str) -> None:
    assert Reply((key,)) == parse_reply(COLOUR, line)


@pytest.mark.parametrize("line", ["9", "0", "purple", "y", "1 2", "-1", "²"])
def test_parse_reply__what_is_no_choice_says_what_to_type(line: str) -> None:
    with pytest.raises(UsageProblem, match="1 to 4"):
        parse_reply(COLOUR, line)


@pytest.mark.parametrize(
    ("line", "keys"),
    [("1 3", ("g1", "g3")), ("1,2", ("g1", "g2")), ("0", ()), ("none", ()), ("all", ("g1", "g2", "g3"))],
)
def test_parse_reply__several_of_a_list(line: str, keys: tuple[str, ...]) -> None:
    assert Reply(keys) == parse_reply(WHICH, line)


@pytest.mark.parametrize(
    ("line", "keys"),
    [("y", ("g1", "g2", "g3")), ("n", ()), ("2", ("g1", "g3")), ("1 3", ("g2",))],
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
        ("0 km", "0"),
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
    ("line", "keys"),
    [
        ("2", ("s2",)),
        ("2nd", ("s2",)),
        ("second and third", ("s2", "s3")),
        ("gear 3", ("s3",)),
        ("Slips in gear 2", ("s2",)),
        ("R", ("sr",)),
        ("reverse, 5th", ("sr", "s5")),
        ("none", ()),
    ],
)
def test_parse_reply__a_gear_is_named_as_people_say_it(line: str, keys: tuple[str, ...]) -> None:
    assert Reply(keys) == parse_reply(GEARS, line)


@pytest.mark.parametrize(
    ("line", "key"), [("2-3", "f23"), ("second to third", "f23"), ("3 to 4", "f34"), ("flare on 3-4", "f34")]
)
def test_parse_reply__a_shift_is_named_as_people_say_it(line: str, key: str) -> None:
    assert Reply((key,)) == parse_reply(SHIFTS, line)


@pytest.mark.parametrize("line", ["1", "4", "first", "2 9", "2 when hot"])
def test_parse_reply__a_place_in_the_list_is_no_gear(line: str) -> None:
    with pytest.raises(UsageProblem, match=r"2 to R"):
        parse_reply(GEARS, line)


@pytest.mark.parametrize("line", ["2nd", "second"])
def test_parse_reply__an_ordinal_picks_from_no_numbered_list(line: str) -> None:
    with pytest.raises(UsageProblem):
        parse_reply(WHICH, line)


@pytest.mark.parametrize(("line", "keys"), [("1, rest ?", ("g1",)), ("1 3 rest not known", ("g1", "g3"))])
def test_parse_reply__what_is_left_out_can_be_left_open(line: str, keys: tuple[str, ...]) -> None:
    assert Reply(keys, rest_known=False) == parse_reply(WHICH, line)


def test_parse_reply__one_answer_for_each_finding() -> None:
    assert Reply(("level=low", "smell=yes")) == parse_reply(EACH, "2 4")
    with pytest.raises(UsageProblem, match="Two answers to one thing"):
        parse_reply(EACH, "1 2")


@pytest.mark.parametrize("line", ["3", "999", "184"])
def test_parse_reply__a_small_number_is_asked_for_with_its_unit(line: str) -> None:
    with pytest.raises(UsageProblem, match=f"Is that {line} km or {line},000 km"):
        parse_reply(NUMBER, line)
    assert Reply(text=line) == parse_reply(NUMBER, f"{line} km")


def test_parse_reply__words_are_taken_as_they_are() -> None:
    assert Reply(text="slips, bangs and whines") == parse_reply(WORDS, "  slips,  bangs and whines ")


@pytest.mark.parametrize("line", ["?", "skip"])
def test_parse_reply__what_is_needed_cannot_be_left_open(line: str) -> None:
    with pytest.raises(UsageProblem):
        parse_reply(UNIT, line)


@given(st.text(max_size=60), st.sampled_from([YES_NO, COLOUR, WHICH, EACH, GEARS, NUMBER, WORDS, CONFIRM, UNIT]))
def test_parse_reply__anything_typed_is_understood_or_refused(line: str, question: Question) -> None:
    try:
        reply = parse_reply(question, line)
    except UsageProblem as problem:
        assert str(problem)
        return
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


def about(**more: object) -> Interview:
    """Give an interview about a five-speed that slips."""
    return Interview(shipped(), Case("long5", odometer_km=180_000.0, complaint=("slips",), **more))  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("line", "codes"),
    [
        ("P0732", {"P0732": None}),
        ("p0732 and u0100", {"P0732": None, "U0100": None}),
        ("codes P0732, P0741 stored.", {"P0732": None, "P0741": None}),
        ("P0732?", {"P0732": "think_so"}),
        ("no P0732", {}),
        ("P0732 when hot", {}),
        ("P07322", {}),
        ("y", {}),
    ],
)
def test_find_codes__only_in_a_line_that_says_nothing_else(line: str, codes: dict[str, str | None]) -> None:
    assert codes == find_codes(line)


@pytest.mark.parametrize(
    ("text", "answer"),
    [
        ("slow shifts", ("shift_slow_any", "yes")),
        ("shifts are slow and mushy", ("shift_slow_any", "yes")),
        ("hard shifts", ("shift_harsh_any", "yes")),
        ("bangs into gear", ("engage_harsh_any", "yes")),
        ("revs flare a bit on the shift", ("shift_flares_any", "yes")),
        ("fluid is amber", ("fluid_colour", "amber")),
        ("P0732 is stored and it slips in reverse", ("ratio_code_gear_2", "yes")),
    ],
)
def test_read_said__a_template_that_no_unit_has_hides_nothing(text: str, answer: tuple[str, str]) -> None:
    """Phrases of a review of use that were not understood, and corrections in words."""
    assert Proposal(*answer) in read_said(about().compiled, text)[0]


def test_read_said__a_bare_number_is_the_distance_to_be_confirmed() -> None:
    assert ((Proposal("odometer_km", "182000"),), ()) == read_said(about().compiled, "182000")


def test_read_said__what_was_not_understood_is_listed() -> None:
    found, unread = read_said(about().compiled, "slips in third when hot. My dog barks")
    assert Proposal("slips_gear_3", "yes", when=("hot",)) in found
    assert "dog" in " ".join(unread) and "slips" not in " ".join(unread)


def test_read_said__a_code_that_means_nothing_here_is_kept() -> None:
    assert Proposal("P1999", "yes") in read_said(about().compiled, "slips and stores P1999")[0]


@pytest.mark.parametrize("text", ["", "12 34", "?!", "my dog barks"])
def test_read_said__nothing_in_it(text: str) -> None:
    assert () == read_said(about().compiled, text)[0]


@settings(max_examples=25, deadline=None)
@given(st.text(max_size=60))
def test_read_said__any_text_gives_answers_that_the_unit_can_have(text: str) -> None:
    compiled = about().compiled
    for one in read_said(compiled, text)[0]:
        node, life = compiled.expansion.findings.get(one.key), shipped().backgrounds.get(one.key)
        assert one.grade in (life.shares if life else node.grades if node else ("yes",))


@pytest.mark.parametrize(
    ("text", "result"),
    [
        ("gone", Done("", "cured")),
        ("It is cured.", Done("", "cured")),
        ("still there", Done("", "not_cured")),
        ("not cured", Done("", "not_cured")),
        ("came back", Done("", "came_back")),
        ("came back after 3 weeks", Done("", "came_back", after_days=21.0)),
        ("it came back after a month", Done("", "came_back", after_days=30.0)),
        ("came back after 500 km", Done("", "came_back", after_km=500.0)),
        ("came back after 100 miles", Done("", "came_back", after_km=pytest.approx(160.9344))),
        ("done", Done("")),
        ("done, not tried yet", Done("")),
        ("not done", Done(NOT_DONE)),
        ("not yet", Done(NOT_DONE)),
        ("later", Done(NOT_DONE)),
    ],
)
def test_read_result__in_words(text: str, result: Done) -> None:
    """Source: 1 mile is 1.609344 km (international yard and pound agreement, 1959)."""
    assert result == read_result(text)


@pytest.mark.parametrize("text", ["", "y", "n", "yes", "no", "maybe", "fluid is amber", "1"])
def test_read_result__what_says_neither_is_none(text: str) -> None:
    assert read_result(text) is None


@pytest.mark.parametrize(
    ("text", "value", "unit", "words"),
    [
        ("4.2 bar", 4.2, "bar", ""),
        ("line pressure 4,2 Bar at idle", 4.2, "bar", "line pressure at idle"),
        ("58 psi", 58.0, "psi", ""),
        ("slip 250 RPM in 3rd", 250.0, "rpm", "slip in 3rd"),
        ("fluid at 95 °C", 95.0, "C", "fluid at"),
        ("ratio in 3rd measured 1.75", 1.75, "ratio", "ratio in 3rd measured"),
    ],
)
def test_find_number__with_its_unit_and_the_words_around_it(text: str, value: float, unit: str, words: str) -> None:
    assert (Measured(value, unit), words) == find_number(text)


@pytest.mark.parametrize("text", ["", "3", "2-3 flares", "1.75", "184000 km", "slips in third", "P0732"])
def test_find_number__nothing_was_measured(text: str) -> None:
    assert (None, text) == find_number(text)


@pytest.mark.parametrize(
    ("text", "name"),
    [
        ("line pressure 4.2 bar at idle", "line_pressure_idle"),
        ("ratio in third measured 1.75", "ratio_gear_3"),
        ("slip 250 rpm in 3rd", "slip_gear_3"),
        ("battery at rest 11.9 V", "battery_at_rest"),
    ],
)
def test_read_said__a_number_goes_to_what_the_words_name(text: str, name: str) -> None:
    """Review of use: numbers could not be entered."""
    found, _ = read_said(about().compiled, text)
    assert [name] == [one.key for one in found if one.measured]


def test_read_said__a_number_beside_other_words() -> None:
    found, _ = read_said(about().compiled, "fluid smells burnt and line pressure is 2.1 bar at idle")
    assert {"line_pressure_idle", "fluid_smell_burnt"} == {one.key for one in found}


def test_read_said__a_number_that_may_be_several_things_is_asked_back() -> None:
    with pytest.raises(UsageProblem, match="Say what was measured: line pressure idle"):
        read_said(about().compiled, "pressure 4 bar")
