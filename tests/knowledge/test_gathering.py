"""The words are read before everything else."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from support.trade import ROOT

from shiftlore.knowledge import collect_knowledge
from shiftlore.knowledge.files import collect_files
from shiftlore.knowledge.gathering import read_all, read_language
from shiftlore.knowledge.intake import Intake
from shiftlore.reading import read_yaml


def test_read_all__takes_the_words_first(folder):
    files, _ = collect_files(folder())
    knowledge, problems = read_all(list(reversed(files)))
    assert ([], 0.65) == (problems, knowledge.causes["worn_pump"].leads_to[1].strengths["dark"].p)


def test_read_all__tells_each_problem_once(folder):
    files, _ = collect_files(folder({"cautions.yaml": "cautions: []\n"}))
    _, problems = read_all(files)
    assert len(problems) == len(set(problems)) == 2


def test_read_all__reads_unit_sheets_with_their_own_codes(folder):
    files, _ = collect_files(folder({"units/x.yaml": "id: x\n"}))
    _, problems = read_all(files)
    assert {"U"} == {problem.code[0] for problem in problems if problem.mark.file == "units/x.yaml"}


def test_read_all__a_check_that_names_no_access_is_made_with_nothing_open(folder):
    path = folder()
    checks = path / "checks/all.yaml"
    checks.write_text(checks.read_text(encoding="utf-8").replace("  access: pan_off\n", ""), encoding="utf-8")
    knowledge, _ = read_all(list(reversed(collect_files(path)[0])))
    assert "standing" == knowledge.unopened == knowledge.checks["pan_drop"].access


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
        ("listen: {}", "3:1", "K012"),
        ("lists: {negation: [a]}", "3:9", "K012"),
        ("lists: {negations: a}", "3:20", "K013"),
        ("lists: {negations: [a, b, a]}", "3:27", "K018"),
        ("lists: {negations: [no]}", "3:21", "K021"),
        ("lists: [a]", "3:8", "K013"),
        ("alike: {harsh: [[a]]}", "3:17", "K013"),
        ("forms: {a: [b]}", "3:12", "K013"),
        ("signs: [{as: gear}]", "3:9", "K011"),
        ("signs: [{as: gare, find: a}]", "3:14", "K014"),
        ("signs: [{as: gear, find: '('}]", "3:26", "K015"),
        ("signs: [{as: gear, find: 'a{gear}'}]", "3:26", "K014"),
        ("signs: {find: a}", "3:8", "K013"),
        ("parts: {gear: '['}", "3:15", "K015"),
        ("amounts: {speed: {bounds: [1]}}", "3:18", "K011"),
        ("amounts: {speed: {units: {mph: fast}}}", "3:32", "K013"),
        ("breaks: {but: 2}", "3:15", "K016"),
        ("weights: {asket: {value: 1, says: a, source: b}}", "3:11", "K012"),
        ("weights: {asked: 0.1}", "3:18", "K013"),
        ("weights: {asked: {value: -1, says: a, source: b}}", "3:26", "K016"),
        ("weights: {asked: {value: 0.1, says: a}}", "3:18", "K011"),
        ("fills: {gear: third}", "3:15", "K013"),
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
    cut = ENGLISH.replace("  asked: {value", "  #")
    ((place, code),) = read(cut, words)[1]
    line = next(number for number, text in enumerate(cut.splitlines(), 1) if text.startswith("weights:"))
    assert (line + 1, "K011") == (int(place.split(":")[0]), code)


def test_read_language__parts_may_stand_in_parts_and_patterns(words):
    text = f"{WHOLE}ordinals: {{one: '1'}}\nparts: {{two: '{{ordinal}}{{ordinal}}'}}\nsigns: [{{as: gear, find: 'a{{two}}b{{1,2}}'}}]\n"
    language, told = read(text, words)
    assert ([], "a(?:one)(?:one)b{1,2}") == (told, language.signs[0].find)


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
        ("language/yy.yaml", WHOLE, "language/yy.yaml:1:5", "K117"),
        ("language/xx/de.yaml", WHOLE, "language/xx/de.yaml:1:5", "K117"),
        ("languages/xx.yaml", WHOLE, "languages/xx.yaml:0:0", "K030"),
        ("sayings/xx/a.yaml", "source: a\nsays: {fluid_colr: {dark: [a]}}\n", "sayings/xx/a.yaml:2:8", "K130"),
        ("sayings/xx/a.yaml", "source: a\nsays: {fluid_colour: {dork: [a]}}\n", "sayings/xx/a.yaml:2:23", "K130"),
        ("sayings/xx/a.yaml", "source: a\nsays: {fluid_colour: {dark: a}}\n", "sayings/xx/a.yaml:2:29", "K013"),
        ("sayings/xx/a.yaml", "source: a\nsays: [a]\n", "sayings/xx/a.yaml:2:7", "K013"),
        ("sayings/xx/a.yaml", "source: a\n", "sayings/xx/a.yaml:1:1", "K011"),
    ],
)
def test_collect_knowledge__tells_what_is_wrong_around_a_language(folder, name, text, place, code):
    _, problems = collect_knowledge(folder({name: text}))
    assert [(place, code)] == [(str(one.mark), one.code) for one in problems]


def test_collect_knowledge__sayings_of_several_files_are_joined(folder):
    text = "source: a\nsays: {{fluid_colour: {{{}: [{}]}}}}\n"
    changes = {"sayings/xx/a.yaml": text.format("dark", "dunkel"), "sayings/xx/b.yaml": text.format("dark", "braun")}
    knowledge, problems = collect_knowledge(folder(changes))
    assert ([], {"fluid_colour": {"dark": ("dunkel", "braun")}}) == (problems, knowledge.sayings["xx"])


def test_collect_knowledge__yes_and_no_need_no_quotes_before_sayings(folder):
    text = "source: a\nsays: {pump_whine: {yes: [heult], near: [pfeift]}}\n"
    knowledge, problems = collect_knowledge(folder({"sayings/xx/a.yaml": text}))
    told = [one.code for one in problems]
    assert ("heult",) == knowledge.sayings["xx"]["pump_whine"]["yes"] and set(told) <= {"K130"}
