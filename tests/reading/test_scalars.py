"""A scalar is what its place asks for, or a problem says what to write."""

from functools import partial

import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st

from shiftlore.reading import bare_meaning, id_of, known_words, number_of, read_yaml, text_of, word_of
from shiftlore.reading.scalars import whole_of, yes_no_of


def scalar(text):
    root, problems = read_yaml(f"key: {text}\n", "a.yaml")
    assert [] == problems
    return root.get("key")


def taken(reader, text):
    problems = []
    value = reader(scalar(text), problems)
    return value, [(str(problem.mark), problem.code) for problem in problems]


BARE = ["no", "off", "Yes", "ON", "3.10", "1:30", "010", "0x1F", "2025-01-31", "12", ".5", "<<"]


@pytest.mark.parametrize("text", BARE)
def test_text_of__refuses_bare_words_that_yaml_converts(text):
    assert (None, [("a.yaml:1:6", "K021")]) == taken(text_of, text)


@pytest.mark.parametrize("text", ["1e3", "2-3 shift", "3 litres", "none", "y", "n", "P0732"])
def test_text_of__takes_what_yaml_leaves_alone(text):
    assert (text, []) == taken(text_of, text)


def test_text_of__takes_anything_in_quotes():
    assert ("no", []) == taken(text_of, '"no"')


@given(st.text(alphabet="0123456789.:eE+-_xonfyesu~=<TrlO ", min_size=1, max_size=8))
def test_bare_meaning__agrees_with_pyyaml(text):
    try:
        loaded = yaml.safe_load(f"key: {text}")["key"]
    except (yaml.YAMLError, ValueError):
        return
    if not isinstance(loaded, dict | list):
        assert isinstance(loaded, str) == (bare_meaning(text.split(" #")[0].strip()) is None)


def test_id_of__suggests_a_spelling():
    problems = []
    assert id_of(scalar("Worn-Pump"), problems) is None
    assert "worn_pump" in problems[0].write_instead


def test_word_of__names_the_nearest():
    problems = []
    assert word_of(scalar("offen"), ["always", "often", "never"], problems, "strength") is None
    assert 'Unknown strength "offen"' == problems[0].what
    assert "Write one of: always, never, often. Nearest: often." == problems[0].write_instead


def test_known_words__names_only_near_ones_of_a_long_list():
    advice = known_words("worn_pmp", ["worn_pump", *(f"word_{n}" for n in range(20))])
    assert "Nearest: worn_pump" == advice[:18]
    assert "word_19" not in advice


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("1e3", "K021"),
        ("010", "K021"),
        ("1:30", "K021"),
        ("1_000", "K021"),
        ('"12"', "K017"),
        ("12 min", "K013"),
        ("-1", "K016"),
        (".inf", "K013"),
        ("[1]", "K013"),
    ],
)
def test_number_of__refuses_what_people_and_yaml_read_differently(text, code):
    problems = []
    assert number_of(scalar(text), problems, low=0) is None
    assert [("a.yaml:1:6", code)] == [(str(problem.mark), problem.code) for problem in problems]


def test_number_of__suggests_plain_digits():
    problems = []
    number_of(scalar("1e3"), problems)
    assert ": 1000." in problems[0].write_instead


@given(st.floats(0, 1e9, allow_nan=False).map(lambda value: f"{value:.3f}"))
def test_number_of__reads_plain_decimals_as_python_does(text):
    assert (float(text), []) == taken(number_of, text)


def test_whole_of__refuses_a_fraction():
    assert (None, [("a.yaml:1:6", "K016")]) == taken(whole_of, "2.5")


@pytest.mark.parametrize(("text", "value"), [("yes", True), ("true", True), ('"no"', False), ("False", False)])
def test_yes_no_of__takes_yes_no_true_false(text, value):
    assert (value, []) == taken(yes_no_of, text)


def test_yes_no_of__refuses_on_and_off():
    assert (None, [("a.yaml:1:6", "K014")]) == taken(yes_no_of, "off")


@pytest.mark.parametrize(
    ("low", "high", "advice"),
    [(1, 5, "from 1 to 5."), (1, None, "of 1 or more."), (None, 5, "of 5 or less."), (0.5, 2.5, "from 0.5 to 2.5.")],
)
def test_number_of__says_the_range_that_is_meant(low, high, advice):
    problems = []
    assert number_of(scalar("0" if low else "9"), problems, low, high) is None
    assert [f"Write a number {advice}"] == [problem.write_instead for problem in problems]


@pytest.mark.parametrize(
    "reader", [text_of, number_of, whole_of, yes_no_of, id_of, lambda node, told: word_of(node, ["a"], told)]
)
@pytest.mark.parametrize("text", ["[1, 2]", "{a: 1}"])
def test_scalar_readers__refuse_lists_and_mappings(reader, text):
    assert (None, [("a.yaml:1:6", "K013")]) == taken(reader, text)


def test_bare_meaning__a_number_too_long_to_show_is_not_worked_out():
    assert "the number it spells" == bare_meaning("1" + "0" * 5000)
    assert "the number 1000" == bare_meaning("1000")


def test_number_of__a_point_before_thousands() -> None:
    read = partial(number_of, low=0, high=3_000_000)
    assert (None, [("a.yaml:1:6", "K021")]) == taken(read, "112.000")
    assert [112.5, 112000.0, 1120.125] == [taken(read, text)[0] for text in ("112.5", "112000", "1120.125")]
    assert 2.842 == taken(partial(number_of, low=0, high=20), "2.842")[0]
