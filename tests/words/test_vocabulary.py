"""Words are cut to stems, and gears, shifts, speeds and codes to one form each; two are near when a slip lies between."""

import ast
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from support.english import english, split_words
from support.trade import shipped

from shiftlore.basics import UnknownId
from shiftlore.knowledge import collect_knowledge
from shiftlore.knowledge.language import COUNTS, SHARES, STEM_LISTS, WRITTEN_LISTS
from shiftlore.words import build_index, find_words, read_free_text
from shiftlore.words.vocabulary import BAD, FINE, NO, UNCURED, Token, choose_vocabulary, count_slips, is_near

WORDS = Path(build_index.__code__.co_filename).parent
# What stands in Python besides the keys of the language: answers and kinds of the records, and marks.
STRUCTURAL = {
    "over",
    "unit","no", "yes", "gear", "shift", "upshift", "downshift", "code", "scan", "open", "measure", "cause", "check", "job",
              "finding", "background", "when", "one_code", "r"}  # fmt: skip


def stems(text):
    return [token.stem for token in split_words(text)]


@pytest.mark.parametrize(
    "family",
    [
        "slip slips slipped slipping",
        "shudder shudders shuddered shuddering judder",
        "leak leaks leaking leaked leaky",
        "engage engages engaged engaging",
        "shift shifts shifted shifting",
        "burnt burned burn",
        "noise noises noisy",
        "lose loses losing lost",
        "delay delays delayed",
        "vibrate vibrates vibrating",
        "stall stalls stalling stalled",
        "fluid fluids",
        "bus",
        "harsh harshly",
        "carry carries carried",
        "whine whines whining",
    ],
)
def test_stem__brings_a_family_together(family):
    assert 1 == len({english().stem(word) for word in family.split()})


@pytest.mark.parametrize(
    ("text", "stem"),
    [
        ("2-3 shift", "#2>3"),
        ("2 - 3", "#2>3"),
        ("from 2nd to 3rd", "#2>3"),
        ("second to third", "#2>3"),
        ("2->3", "#2>3"),
        ("between 2nd and 3rd", "#2>3"),
        ("3-2 downshift", "#3>2"),
        ("3rd gear", "#3"),
        ("gear 3", "#3"),
        ("into third", "#3"),
        ("in 3", "#3"),
        ("p0741", "P0741"),
        ("70 km/h", "midspeed"),
        ("45 mph", "midspeed"),
        ("35 to 45 mph", "midspeed"),
        ("below 20 mph", "slowspeed"),
        ("over 65 mph", "fastspeed"),
        ("doesn't", NO),
        ("won’t", NO),
        ("okay", FINE),
        ("take-off", "takeoff"),
        ("won't move in D", "driv"),
        ("P to R", "revers"),
        ("into r", "revers"),
    ],
)
def test_split__one_form_for_each(text, stem):
    assert stem in stems(text)


@pytest.mark.parametrize(
    "text", ["takes 2 to 3 seconds", "in 3 seconds", "within a second", "2-3 times a week", "1-2 litres"]
)
def test_split__times_and_amounts_are_no_gears(text):
    assert not [stem for stem in stems(text) if stem.startswith("#")]


@pytest.mark.parametrize("text", ["vitamin d", "P0741", "D4", "r.p.m."])
def test_split__other_letters_are_no_ranges(text):
    assert not {"park", "revers", "neutral", "driv"} & set(stems(text))


def test_split__a_speed_bound_is_kmh_below_35_and_above_105():
    assert ["slowspeed", "midspeed", "midspeed", "fastspeed"] == [stems(f"{kmh} km/h")[0] for kmh in (34, 36, 104, 106)]


@given(st.text(max_size=60))
def test_split__never_fails(text):
    assert all(token.stem for token in split_words(text))


@pytest.mark.parametrize(
    ("said", "settled"),
    [
        ("doesnt slip every time", "sometimes slip"),
        ("it does not only slip", "it does also slip"),
        ("no noise at all", "no noise"),
        ("fine grey paste, shifts fine", "small grey paste, shifts fine"),
    ],
)
def test_settle__puts_one_meaning_into_one_form(said: str, settled: str) -> None:
    assert settled == " ".join(english().settle(said).split())


def test_settle__a_part_renewed_in_vain_is_uncured() -> None:
    assert UNCURED in english().settle("new filter no help").split()


def test_settle__a_distance_is_no_gear() -> None:
    assert "60" not in english().settle("slips at 60,000 miles")


def test_settle__a_count_of_times_is_no_gear() -> None:
    assert "~second" in english().settle("the second time this month")


TINY = """\
id: xx
source: judgement
written: {negations: [nix], clause_ends: [aber]}
names: {fluid_colour: [farbe kaputt], no_codes: [schlupft]}
"""


@pytest.fixture
def tiny(folder):
    """Give the small knowledge with a made-up language, and its index in that language."""
    knowledge, problems = collect_knowledge(folder({"language/xx.yaml": TINY}))
    assert [] == problems
    return knowledge, build_index(knowledge, ("finding", "background"), "xx")


@pytest.mark.parametrize(
    ("said", "expected"),
    [
        ("schlupft", {"no_codes": "yes"}),
        ("nix schlupft", {"no_codes": "no"}),
        ("schlupft nix", {"no_codes": "no"}),
        ("never schlupft", {"no_codes": "yes"}),
        ("nix farbe kaputt aber schlupft", {"no_codes": "yes", "fluid_colour": "red"}),
    ],
)
def test_choose_vocabulary__a_second_language_needs_no_python(tiny, said, expected):
    found = {one.id: one.answer for one in read_free_text(tiny[0], said, tiny[1])}
    assert expected == {key: found.get(key) for key in expected}


def test_choose_vocabulary__words_can_be_found_in_a_second_language(tiny):
    assert "no_codes" == find_words(tiny[1], "schlupft")[0].id
    assert [] == find_words(tiny[1], "glitscht")


def test_choose_vocabulary__weights_left_out_are_those_of_the_first(tiny):
    assert english().weights == tiny[1].vocabulary.weights


def test_choose_vocabulary__a_weight_of_its_own_counts(folder):
    own = TINY + "weights: {denied: {value: 0.5, says: a, source: judgement}}\n"
    vocabulary = choose_vocabulary(collect_knowledge(folder({"language/xx.yaml": own}))[0], "xx")
    assert {**english().weights, "denied": 0.5} == vocabulary.weights


def test_choose_vocabulary__an_unknown_language_names_those_there_are(tiny):
    with pytest.raises(UnknownId, match=r"en, xx\."):
        choose_vocabulary(tiny[0], "zz")


def test_choose_vocabulary__knowledge_without_languages_takes_the_shipped(folder):
    knowledge, _ = collect_knowledge(folder())
    assert {} == knowledge.languages
    assert shipped().languages["en"] == choose_vocabulary(knowledge).language


def texts_of(path):
    """List the texts of a module that are no docstrings, with the calls in which they stand."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    documented = {
        id(node.body[0].value)
        for node in ast.walk(tree)
        if isinstance(node, (ast.Module, ast.ClassDef, ast.FunctionDef)) and isinstance(node.body[0], ast.Expr)
    }
    return [
        node.value
        for node in ast.walk(tree)
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in documented
    ]


MODULES = sorted(path for path in WORDS.glob("*.py") if path.stem not in ("__init__", "page_phrases"))


@pytest.mark.parametrize("path", MODULES, ids=lambda path: path.stem)
def test_words__hold_no_word_of_the_language(path):
    language = shipped().languages["en"]
    said = {word for lists in (language.written, language.stems) for words in lists.values() for word in words}
    said |= {*language.stemming.forms, *language.stemming.numbers}
    keys = {*WRITTEN_LISTS, *STEM_LISTS, *SHARES, *COUNTS}
    assert set() == {text for text in texts_of(path) if text.lower() in said} - keys - STRUCTURAL


def test_words__every_list_and_weight_is_used_and_known():
    used = {text for path in MODULES for text in texts_of(path)}
    assert set() == {*WRITTEN_LISTS, *STEM_LISTS, *SHARES, *COUNTS} - used
    calls = [
        node
        for path in MODULES
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute) and node.args
    ]
    roles = {
        "has": {*WRITTEN_LISTS, *STEM_LISTS},
        "stems": set(STEM_LISTS),
        "words": set(WRITTEN_LISTS),
        "weight": {*SHARES, *COUNTS},
    }
    wrong = [
        (node.func.attr, node.args[0].value)
        for node in calls
        if node.func.attr in roles
        and isinstance(node.args[0], ast.Constant)
        and node.args[0].value not in roles[node.func.attr]
    ]
    assert [] == wrong


@given(st.text(max_size=60))
def test_settle__is_one_line_and_never_fails(text):
    assert len(english().settle(text).splitlines()) <= 1


@given(
    st.lists(
        st.sampled_from(
            ["slips", "in", "3rd", "gear", "does", "not", "shift", "hot", "no", "problem", "2-3", "70", "km/h"]
        ),
        max_size=8,
    ),
    st.integers(1, 4),
)
def test_split__white_space_does_not_matter(words, width):
    assert split_words(" ".join(words)) == split_words((" " * width).join(words) + "\t")


@pytest.mark.parametrize(
    ("text", "stem"),
    [("no problem", FINE), ("never any real trouble", FINE), ("not ok", BAD), ("bad", BAD), ("no trouble code", NO)],
)
def test_split__a_denial_and_its_word_may_mean_one_thing(text, stem):
    assert stem == split_words(text)[0].stem


@given(
    st.sampled_from(sorted({"slip", "shudder", "clunk", "engage", "leak", "carry"})),
    st.sampled_from(["", "s", "ed", "ing"]),
)
def test_stem__cutting_twice_changes_no_more_than_a_silent_letter(word, ending):
    once = english().stem(word + ending)
    assert english().stem(once) in (once, once.removesuffix("e"))


def test_token__a_word_joined_or_mended_keeps_its_roles():
    token = english().token("cod", "cdoe", is_mended=True)
    assert (True, True, False) == (token.has("code"), token.is_mended, token.is_light)


LIMITS = 4, 8


@given(st.text("abcd", max_size=6), st.text("abcd", max_size=6))
def test_count_slips__is_symmetric_and_bounded(one, other):
    slips = count_slips(one, other, 10)
    assert slips == count_slips(other, one, 10)
    assert abs(len(one) - len(other)) <= slips <= max(len(one), len(other))
    assert (slips == 0) == (one == other)


# Damerau 1964: a letter too many, missing, changed or two swapped is one slip.
@pytest.mark.parametrize(
    ("one", "other"), [("slips", "slps"), ("slip", "slipp"), ("shudder", "shuddar"), ("bangs", "bnags")]
)
def test_is_near__takes_one_slip(one, other):
    assert (1, True) == (count_slips(one, other, 3), is_near(one, other, *LIMITS))


@pytest.mark.parametrize(("one", "other"), [("hot", "hat"), ("slip", "snap"), ("2>3", "2>4"), ("gear", "rear")])
def test_is_near__refuses_short_words_numbers_and_other_beginnings(one, other):
    assert not is_near(one, other, *LIMITS)


@pytest.mark.parametrize(
    ("stem", "is_code", "is_instance"),
    [("P0741", True, True), ("#3", False, True), ("#2>3", False, True), ("slip", False, False), (FINE, False, False)],
)
def test_token__a_gear_or_a_code_describes_nothing(stem: str, is_code: bool, is_instance: bool) -> None:
    assert (is_code, is_instance) == (Token(stem, "x").is_code, Token(stem, "x").is_instance)


def test_token__has_the_roles_that_it_was_given() -> None:
    token = Token("slip", "slips", roles=frozenset({"bare"}))
    assert (True, False) == (token.has("bare"), token.has("code"))


def test_is_near__two_slips_only_in_long_words() -> None:
    assert (2, True) == (count_slips("solenoids", "solnoidz", 3), is_near("solenoids", "solnoidz", *LIMITS))
    assert (2, False) == (count_slips("shifts", "shfitz", 3), is_near("shifts", "shfitz", *LIMITS))


@given(st.text("abcd", max_size=6), st.text("abcd", max_size=6))
def test_count_slips__stops_above_the_most(one: str, other: str) -> None:
    whole = count_slips(one, other, 12)
    for most in range(4):
        slips = count_slips(one, other, most)
        assert slips == whole if whole <= most else slips > most
