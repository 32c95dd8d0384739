"""Words are cut to stems, and gears, shifts, codes and amounts to one form each; a denial reaches what follows it."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from support.trade import shipped

from shiftlore.basics import UnknownId
from shiftlore.knowledge import collect_knowledge
from shiftlore.words.vocabulary import NO, choose_vocabulary

OTHER = """
id: xx
source: judgement
lists: {negations: [nix], light: [das]}
ordinals: {erster: "1"}
signs: [{as: gear, find: '\\b({ordinal})\\b'}]
"""


@pytest.fixture(scope="module")
def english():
    return choose_vocabulary(shipped())


def split(english, text):
    return [token for token in english.split(text) if token.is_telling]


@pytest.mark.parametrize(
    "family",
    [
        "slip slips slipped slipping",
        "shudder shudders shuddered shuddering judder",
        "leak leaks leaking leaked",
        "engage engages engaged engaging",
        "burnt burned",
        "transmission gearbox tranny",
        "colour color colours",
    ],
)
def test_split__brings_a_family_together(english, family):
    assert 1 == len({token.stem for token in english.split(family)})


@pytest.mark.parametrize(
    ("text", "number"), [("four seconds", 4.0), ("Two minutes", 120.0), ("ninety thousand km", 90000.0)]
)
def test_split__a_number_in_words_before_a_unit(english, text, number):
    (token,) = split(english, text)
    assert ("amount", number) == (token.kind, token.number)


def test_split__bare_numbers_are_told_apart_by_size(english):
    assert ["#number0", "#number1", "#number2"] == [token.stem for token in split(english, "6 70 1500")]


@pytest.mark.parametrize(
    ("text", "kind", "values"),
    [
        ("2-3 shift", "shift", ("2_3",)),
        ("from 2nd to 3rd", "shift", ("2_3",)),
        ("second-to-third", "shift", ("2_3",)),
        ("between 2nd and 3rd", "shift", ("2_3",)),
        ("3-2 downshift", "shift", ("3_2",)),
        ("slips in 3rd", "gear", ("3",)),
        ("gear 4", "gear", ("4",)),
        ("into 2", "gear", ("2",)),
        ("second, fourth and sixth", "gear", ("2", "4", "6")),
        ("1-2 and 2-3", "shift", ("1_2", "2_3")),
        ("gears 1 to 3", "gear", ("1", "2", "3")),
        ("P0732 stored", "code", ("P0732",)),
        ("p0732", "code", ("P0732",)),
        ("into R", "lever", ("r",)),
        ("D or R", "lever", ("d", "r")),
        ("from N to D", "lever", ("n",)),
    ],
)
def test_split__takes_signs_as_one_thing(english, text, kind, values):
    found = [token for token in english.split(text) if token.values]
    assert (kind, values) == (found[0].kind, found[0].values)


@pytest.mark.parametrize(
    "text", ["the second time", "2-3 seconds", "2 times", "80-88 km/h", "a second later", "3.5 bar"]
)
def test_split__what_is_no_gear(english, text):
    assert [] == [token for token in english.split(text) if token.kind in ("gear", "shift")]


@pytest.mark.parametrize(
    ("text", "kind", "number"),
    [
        # A mile is 1.609344 km by international agreement of 1959.
        ("100,000 miles", "distance", 160934.4),
        ("182 000 km", "distance", 182000),
        ("320.000 km", "distance", 320000),
        ("172k miles", "distance", 276807.168),
        ("45 mph", "speed", 72.42048),
        ("4,2 bar", "pressure", 420),
        ("12.4 V", "voltage", 12.4),
        ("2 seconds", "time", 2),
        ("ten minutes", "time", 600),
    ],
)
def test_split__reads_amounts_with_their_units(english, text, kind, number):
    found = [(token.values[0], token.number) for token in english.split(text) if token.kind == "amount"]
    assert ([] if kind is None else [(kind, pytest.approx(number))]) == found


@pytest.mark.parametrize(
    ("text", "denied"),
    [
        ("doesn't slip in third", {"slip", "in", "#gear"}),
        ("no codes but slips", {"code"}),
        ("never slips, shudders", {"slip"}),
        ("slips without a noise", {"nois"}),
        ("slips", set()),
    ],
)
def test_split__marks_what_a_denial_reaches(english, text, denied):
    assert denied == {token.stem for token in english.split(text) if token.denied}


def test_split__every_denial_is_one_stem(english):
    assert [NO, NO, NO] == [
        token.stem for text in ("no", "never", "can't") for token in split(english, text) if token.kind == "no"
    ]


@settings(deadline=None)  # the first one makes the language ready
@given(st.text(max_size=60))
def test_split__gives_places_in_the_text_in_order(text):
    tokens = choose_vocabulary(shipped()).split(text)
    assert [token.start for token in tokens] == sorted(token.start for token in tokens)
    assert all(text[token.start : token.end].strip() for token in tokens if token.kind != "stop")


def test_groups__a_word_stands_with_those_of_its_sense(english):
    assert set(english.groups(english.stem("slams"))) & set(english.groups(english.stem("bangs")))
    assert () == english.groups("xyzzy")


def test_choose_vocabulary__an_unknown_language_names_those_there_are():
    with pytest.raises(UnknownId, match="en"):
        choose_vocabulary(shipped(), "xx")


def test_choose_vocabulary__another_language_is_a_file(folder):
    knowledge, problems = collect_knowledge(folder({"language/xx.yaml": OTHER}))
    vocabulary = choose_vocabulary(knowledge, "xx")
    assert [] == problems
    assert [("light", ()), ("gear", ("1",)), ("no", ())] == [
        (t.kind, t.values) for t in vocabulary.split("das erster nix")
    ]


def test_split__a_row_ends_before_another(english):
    """As common practice has it: a comma after "and" begins something new."""
    rows = [
        token.values for token in english.split("only has 1st and 2nd, 3rd and 4th are dead") if token.kind == "gear"
    ]
    assert [("1", "2"), ("3", "4")] == rows


def test_split__what_is_said_besides_denies_nothing():
    tokens = choose_vocabulary(shipped()).split("no doubt it slips")
    assert [("slips", False)] == [(token.written, token.denied) for token in tokens if token.is_telling]


def test_split__a_short_form_ends_no_sentence():
    vocabulary = choose_vocabulary(shipped())
    assert "." not in [token.written for token in vocabulary.split("high temp. when towing")]
    assert "." in [token.written for token in vocabulary.split("high temp. When towing")]


@pytest.mark.parametrize(
    ("text", "values"), [("no rev. cold", ("r",)), ("bangs into rev", ("r",)), ("rev counter", ())]
)
def test_split__reverse_in_short(text, values):
    tokens = choose_vocabulary(shipped()).split(text)
    assert values == tuple(value for token in tokens if token.kind == "lever" for value in token.values)


def test_split__a_row_joined_by_or_is_a_choice():
    vocabulary = choose_vocabulary(shipped())
    assert [True, False] == [
        next(token.is_choice for token in vocabulary.split(text) if token.kind == "gear")
        for text in ("second or third", "second and third")
    ]


@pytest.mark.parametrize(
    ("text", "values"),
    [
        ("drive, reverse works", [("d",), ("r",)]),
        ("drive, reverse, all gears", [("d", "r")]),
        ("N-D and N-R", [("n",), ("d",), ("n",), ("r",)]),
        ("drive and reverse", [("d", "r")]),
        ("park, reverse and neutral", [("p", "r", "n")]),
        ("second, third is fine", [("2",), ("3",)]),
        ("second, third", [("2", "3")]),
        ("second, third and fourth are fine", [("2", "3", "4")]),
    ],
)
def test_split__commas_alone_join_no_place_and_nothing_in_order(english, text, values):
    assert values == [token.values for token in split(english, text) if token.kind in ("gear", "lever")]


@pytest.mark.parametrize(("one", "other"), [("lock-up", "lockup"), ("kick-down", "kick down"), ("up-shift", "upshift")])
def test_split__a_hyphen_within_a_word_parts_nothing(english, one, other):
    assert [token.stem for token in split(english, other)] == [token.stem for token in split(english, one)]
    assert not any(token.kind == "stop" for token in english.split(one))


@pytest.mark.parametrize(
    ("text", "values"),
    [
        ("spec 60 to 70 psi", ("", "", "60", "70", "psi")),
        ("(spec 2200-2400)", ("", "", "2200", "2400", "")),
        ("book says 2100", ("", "", "2100", "", "")),
        ("should be under 20 rpm", ("under ", "", "20", "", "rpm")),
        ("instead of 1.5 bar", ("", "", "1.5", "", "bar")),
        ("wants 16 to 18", ("", "", "16", "18", "")),
    ],
)
def test_split__what_a_number_should_be_is_one_thing(english, text, values):
    assert [values] == [token.values for token in split(english, text) if token.kind == "stated"]


@pytest.mark.parametrize(
    "text", ["should be in 3rd", "instead of second", "wants 3000 for it", "book it in for Tuesday", "spec unknown"]
)
def test_split__what_states_no_number(english, text):
    assert not [token for token in split(english, text) if token.kind == "stated"]


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("it has been running ten minutes", True),
        ("it's been driven 5 km", True),
        ("it is hot", True),
        ("4 seconds", False),
        ("I rev it", False),
        ("", False),
    ],
)
def test_says_when__a_condition_or_how_long_it_has_run(english, text, expected):
    assert expected == english.says_when(english.split(text))


@pytest.mark.parametrize(
    ("text", "values"),
    [
        ("the 2-3 or the 3-4", [("2_3", "3_4")]),
        ("third and the fourth", [("3", "4")]),
        ("between the second and the third", [("2_3",)]),
        ("from the second to the third", [("2_3",)]),
    ],
)
def test_split__an_article_parts_no_row(english, text, values):
    assert values == [token.values for token in split(english, text) if token.kind in ("gear", "shift")]


@pytest.mark.parametrize(
    ("text", "rows"),
    [
        ("bangs in reverse and in drive", [("r", "d")]),
        ("slips in second and in fourth.", [("2", "4")]),
        ("fine in drive and in reverse it bangs", [("d",), ("r",)]),
    ],
)
def test_split__a_row_may_name_its_place_again(english, text, rows):
    assert rows == [token.values for token in english.split(text) if token.values]
