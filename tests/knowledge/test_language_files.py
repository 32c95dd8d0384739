"""Each problem of a language file is told at its place."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from support.trade import ROOT

from shiftlore.knowledge import collect_knowledge
from shiftlore.knowledge.intake import Intake
from shiftlore.knowledge.language_files import read_language
from shiftlore.reading import read_yaml

ENGLISH = (ROOT / "knowledge" / "language" / "en.yaml").read_text(encoding="utf-8")
WHOLE = "id: xx\nsource: judgement\n"


def read(text, words):
    node, problems = read_yaml(text, "language/xx.yaml")
    assert node is not None
    language = read_language(node, Intake(words, problems))
    return language, [(f"{one.mark.line}:{one.mark.column}", one.code) for one in problems]


@pytest.mark.parametrize(
    ("more", "place", "code"),
    [
        ("writen: {}", "3:1", "K012"),
        ("written: {negation: [a]}", "3:11", "K012"),
        ("written: {negations: a}", "3:22", "K013"),
        ("written: {negations: [a, b, a]}", "3:29", "K018"),
        ("written: {negations: [no]}", "3:23", "K021"),
        ("written: [a]", "3:10", "K013"),
        ("stems: {code: [[a]]}", "3:16", "K013"),
        ("essential: {a: b}", "3:16", "K013"),
        ("stemming: {endings: [{leaves: 3}]}", "3:22", "K011"),
        ("stemming: {endings: [{cut: a, leaves: many}]}", "3:39", "K013"),
        ("stemming: {endings: [{cut: a, leave: 3}]}", "3:31", "K012"),
        ("stemming: {forms: {a: [b]}}", "3:23", "K013"),
        ("turns: [{write: a}]", "3:9", "K011"),
        ("turns: [{find: '('}]", "3:16", "K015"),
        ("turns: [{find: 'a{gear}'}]", "3:16", "K014"),
        ("turns: [{find: 'a', write: '\\1'}]", "3:28", "K015"),
        ("turns: [{find: 'a', speed: true}]", "3:16", "K015"),
        ("turns: [{find: 'a', speed: maybe}]", "3:28", "K014"),
        ("turns: {find: a}", "3:8", "K013"),
        ("parts: {gear: '['}", "3:15", "K015"),
        ("numbers: {rules: []}", "3:10", "K011"),
        ("numbers: {where: a, rule: []}", "3:21", "K012"),
        ("weights: {gap_cots: {value: 1, says: a, source: b}}", "3:11", "K012"),
        ("weights: {gap_cost: 0.1}", "3:21", "K013"),
        ("weights: {gap_cost: {value: 1.1, says: a, source: b}}", "3:29", "K016"),
        ("weights: {gap_cost: {value: 0.1, says: a}}", "3:21", "K011"),
        ("weights: {near: {value: 1.5, says: a, source: b}}", "3:25", "K016"),
        (
            "speeds: {units: {mph: fast}, slow: a, slow_below_kmh: 1, middle: b, fast: c, fast_above_kmh: 2, source: d}",
            "3:23",
            "K013",
        ),
        ("speeds: {slow: a, slow_below_kmh: 1, middle: b, fast: c, fast_above_kmh: 2, source: d}", "3:9", "K011"),
        ("names: {slips: glitscht}", "3:16", "K013"),
    ],
)
def test_read_language__tells_the_place(words, more, place, code):
    assert (place, code) in read(f"{WHOLE}{more}\n", words)[1]


def test_read_language__a_file_of_nothing_but_its_id_is_whole(words):
    language, told = read(WHOLE, words)
    assert ([], "xx", {}) == (told, language.id, language.weights)


def test_read_language__a_source_must_be_given(words):
    assert [("1:1", "K011")] == read("id: xx\n", words)[1]


def test_read_language__the_first_language_must_give_every_weight(words):
    assert [("1:1", "K011")] == read("id: en\nsource: judgement\n", words)[1]
    cut = ENGLISH.replace("  near: {value: 3,", "  #")
    ((place, code),) = read(cut, words)[1]
    line = next(number for number, text in enumerate(cut.splitlines(), 1) if text.startswith("weights:"))
    assert (line + 2, "K011") == (int(place.split(":")[0]), code)


def test_read_language__a_speed_needs_speeds(words):
    rule = "turns: [{find: '(?P<over>a)?(?P<number>1)(?P<unit>b)', speed: true}]\n"
    assert [("1:1", "K011")] == read(WHOLE + rule, words)[1]


def test_read_language__parts_may_stand_in_parts_and_patterns(words):
    text = f"{WHOLE}parts: {{digit: '[0-9]', two: '{{digit}}{{digit}}'}}\nturns: [{{find: 'a{{two}}b{{1,2}}'}}]\n"
    language, told = read(text, words)
    assert ([], "a[0-9][0-9]b{1,2}") == (told, language.turns[0].find)


def test_read_language__english_is_clean(words):
    assert [] == read(ENGLISH, words)[1]


@settings(max_examples=25, deadline=None)
@given(st.integers(0, len(ENGLISH) - 2), st.sampled_from(["", "x", ":", "[", "'", "\\", "{", "\n", " ", "(", "-"]))
def test_read_language__one_letter_changed_never_fails(words_once, place, letter):
    node, problems = read_yaml(ENGLISH[:place] + letter + ENGLISH[place + 1 :], "language/en.yaml")
    if node is not None:
        read_language(node, Intake(words_once, problems))
    assert all(one.mark.line >= 1 and one.write_instead for one in problems)


@pytest.fixture(scope="module")
def words_once(words):
    return words


@pytest.mark.parametrize(
    ("name", "text", "place", "code"),
    [
        ("language/xx.yaml", f"{WHOLE}names: {{slipz: [a]}}\n", "language/xx.yaml:3:9", "K130"),
        ("language/yy.yaml", WHOLE, "language/yy.yaml:1:5", "K117"),
        ("language/xx/de.yaml", WHOLE, "language/xx/de.yaml:1:5", "K117"),
        ("languages/xx.yaml", WHOLE, "languages/xx.yaml:0:0", "K030"),
    ],
)
def test_collect_knowledge__tells_what_is_wrong_around_a_language(folder, name, text, place, code):
    _, problems = collect_knowledge(folder({name: text}))
    assert [(place, code)] == [(str(one.mark), one.code) for one in problems]


def test_collect_knowledge__a_language_stands_beside_the_rest(folder):
    knowledge, problems = collect_knowledge(folder({"language/xx.yaml": f"{WHOLE}names: {{fluid_colour: [farbe]}}\n"}))
    assert ([], {"fluid_colour": ("farbe",)}) == (problems, knowledge.languages["xx"].names)
