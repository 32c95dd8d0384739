"""The whole folder is read, every problem gathered, the numbers are right, and a start with a warm cache stays light."""

import os
import subprocess
import sys

import pytest

from shiftlore.basics import KnowledgeError
from shiftlore.knowledge import Link, collect_knowledge, find_knowledge, load_knowledge
from shiftlore.knowledge.records import Stand


@pytest.fixture
def clean(folder):
    knowledge, problems = collect_knowledge(folder())
    assert [] == problems
    return knowledge


def test_load_knowledge__reads_every_kind(clean):
    sizes = {
        name: len(getattr(clean, name)) for name in ("causes", "states", "findings", "codes", "backgrounds", "checks")
    }
    assert {"causes": 2, "states": 2, "findings": 4, "codes": 1, "backgrounds": 1, "checks": 1} == sizes
    assert (1, 2, 1, 1, 1, 1) == tuple(
        len(part) for part in (clean.jobs, clean.access, clean.follow_ups, clean.cautions, clean.prices, clean.textbook)
    )
    assert ("A shop", "", 90.0, ("jack",)) == (
        clean.shop.name,
        clean.shop.address,
        clean.shop.labour_per_hour,
        clean.shop.tools,
    )


def test_load_knowledge__words_become_numbers(clean):
    link = clean.causes["worn_pump"].leads_to[1]
    assert {"dark": 0.65, "black": 0.35} == {grade: strength.p for grade, strength in link.strengths.items()}
    assert 0.15 == clean.checks["pan_drop"].missed
    assert (0.005, "uncommon") == (
        clean.causes["worn_pump"].per_thousand.p,
        clean.causes["worn_pump"].per_thousand.word,
    )
    assert 2.2 == clean.causes["worn_pump"].wear


def test_load_knowledge__a_count_becomes_a_beta(clean):
    # Jeffreys 1946: 7 of 9 give Beta(7.5, 2.5), mean 0.75, weight 10.
    strength = clean.causes["worn_lining"].leads_to[0].strengths["yes"]
    assert (0.75, 10.0, None) == (strength.p, strength.weight, strength.word)


def test_load_knowledge__per_thousand_becomes_a_share(clean):
    assert 0.012 == pytest.approx(clean.causes["worn_lining"].per_thousand.p, abs=1e-12)


def test_load_knowledge__long_lines(clean):
    link = clean.states["element_slips"].leads_to[0]
    assert ("gear_slips", "applied", None, True) == (link.target, link.where, link.when, link.by_torque)
    assert "states/all.yaml:11:5" == str(link.mark)


def test_load_knowledge__a_list_of_lines_to_one_target(folder):
    states = """\
states:
- id: pressure
  label: Pressure
  grades: [right, low, none_at_all]
  source: judgement
  leads_to:
    gear_slips:
    - {strength: often, where: any, when: none_at_all}
    - {strength: sometimes, when: low}
"""
    knowledge, problems = collect_knowledge(folder({"states/more.yaml": states}))
    assert [] == problems
    links = knowledge.states["pressure"].leads_to
    assert [("any", "none_at_all"), (None, "low")] == [(link.where, link.when) for link in links]
    assert all(isinstance(link, Link) for link in links)


def test_load_knowledge__stand_ins(clean):
    stand = clean.findings["no_codes"].stands_for[0]
    assert Stand("yes", ("drive",), ("line_pressure_idle",), "no", stand.mark) == stand


def test_load_knowledge__answers_of_a_textbook_case(clean):
    expected = {"fluid_colour": "dark", "gear_slips_2": "yes", "P0732": "yes"}
    expected["line_pressure_idle"] = {"is": "yes", "doubt": "think_so"}
    assert expected == clean.textbook["worn_pump"].findings


def test_load_knowledge__a_sentence_may_stand_for_a_look_alike(clean):
    assert "A worn pump spoils every gear." == clean.causes["worn_lining"].looks_like[0].because


def test_load_knowledge__the_source_of_a_file_counts_for_its_records(clean):
    assert "common practice" == clean.findings["gear_slips"].source


def test_load_knowledge__raises_with_all_problems(folder):
    path = folder({"prices.yaml": "prices:\n- {id: a, label: A, typical: 1e3}\n", "cautions.yaml": "cautions: [\n"})
    with pytest.raises(KnowledgeError) as caught:
        load_knowledge(path)
    codes = [problem.code for problem in caught.value.problems]
    assert {"K004", "K021", "K109", "K110", "K111"} == set(codes)


def test_load_knowledge__warnings_raise_nothing(folder):
    path = folder(
        {"findings/more.yaml": "findings:\n- {id: x, label: X, ask: X, group: g, got_by: owner, source: s}\n"}
    )
    assert "x" in load_knowledge(path).findings


def test_collect_knowledge__a_broken_file_spoils_no_other(folder):
    knowledge, problems = collect_knowledge(folder({"codes/all.yaml": "codes: [&a 1]"}))
    assert ["K006"] == [problem.code for problem in problems if problem.mark.file == "codes/all.yaml"]
    assert 4 == len(knowledge.findings)


@pytest.mark.parametrize(
    ("file", "old", "new", "place", "code"),
    [
        ("causes/pump/worn_pump.yaml", "often\n", "offen\n", "11:22", "K014"),
        ("causes/pump/worn_pump.yaml", "often\n", "0.7\n", "11:22", "K019"),
        ("causes/pump/worn_pump.yaml", "often\n", "no\n", "11:22", "K021"),
        ("causes/pump/worn_pump.yaml", "{towing: 1.8}", "{towing: 0}", "9:19", "K016"),
        ("causes/pump/worn_pump.yaml", "uncommon", "5", "6:13", "K019"),
        ("causes/pump/worn_pump.yaml", "status: draft", "status: done", "5:9", "K014"),
        ("causes/pump/worn_pump.yaml", "source: common practice\n", "", "1:1", "K011"),
        ("causes/pump/worn_pump.yaml", "label: Worn pump", "labl: Worn pump", "2:1", "K012"),
        ("causes/pump/worn_pump.yaml", "severity: gets_worse", "severity: bad", "18:13", "K014"),
        ("causes/elements/worn_lining.yaml", "hits: 7", "hits: 10", "10:35", "K016"),
        ("causes/elements/worn_lining.yaml", "each: element", "each: elements", "5:7", "K014"),
        ("causes/elements/worn_lining.yaml", "within_km: 3000", "within_km: 3e3", "13:68", "K021"),
        ("findings/all.yaml", "grades: [red, dark, black]", "grades: [red]", "20:11", "K016"),
        ("findings/all.yaml", "{red: red and clear}", "{rot: red and clear}", "21:18", "K014"),
        ("findings/all.yaml", "got_by: look", "got_by: looking", "23:11", "K014"),
        ("codes/all.yaml", "P0732", "p732", "2:10", "K015"),
        ("checks/all.yaml", "minutes: 20", "minutes: 1:30", "5:12", "K021"),
        ("checks/all.yaml", "count: 1", "count: one", "7:44", "K013"),
        ("jobs/all.yaml", "kind: overhaul", "kind: overhal", "5:9", "K014"),
        ("access.yaml", "id: pan_off", "id: pan off", "3:8", "K015"),
        ("shop.yaml", "labour_per_hour: 90", "labour_per_hour: -90", "4:18", "K016"),
        ("follow_ups.yaml", "follow_ups:", "followups:", "1:1", "K012"),
        ("textbook/worn_pump.yaml", "doubt: think_so", "doubt: perhaps", "7:100", "K014"),
    ],
)
def test_collect_knowledge__tells_the_exact_place(told, file, old, new, place, code):
    assert (f"{file}:{place}", code, "error") in told(file, old, new)


def test_collect_knowledge__an_id_used_twice_names_the_first(folder):
    more = "cautions:\n- {id: hot_fluid, says: Hot.}\n- {id: hot_fluid, says: Hot.}\n"
    _, problems = collect_knowledge(folder({"cautions.yaml": more}))
    assert [("cautions.yaml:3:8", "K101")] == [(str(problem.mark), problem.code) for problem in problems]
    assert "cautions.yaml, line 2" in problems[0].write_instead


def test_collect_knowledge__a_sign_that_no_finding_has_is_told(folder):
    more = "cautions:\n- {id: hot_fluid, says: Hot., forbidden_by: [fluid_color]}\n"
    _, problems = collect_knowledge(folder({"cautions.yaml": more}))
    assert [("cautions.yaml:2:46", "K109")] == [(str(problem.mark), problem.code) for problem in problems]


@pytest.mark.parametrize("name", ["cause/a.yaml", "wrods.yaml", "findings/a.yml"])
def test_collect_knowledge__a_file_that_nothing_reads_is_told(folder, name):
    _, problems = collect_knowledge(folder({name: "a: 1\n"}))
    assert [(f"{name}:0:0", "K030")] == [(str(problem.mark), problem.code) for problem in problems]


def test_collect_knowledge__templates_and_notes_are_passed_over(folder):
    _, problems = collect_knowledge(folder({"causes/_template.yaml": "nonsense: [", "units/README.md": "# no"}))
    assert [] == problems


def test_collect_knowledge__without_words_says_so(folder):
    path = folder()
    (path / "words.yaml").unlink()
    _, problems = collect_knowledge(path)
    assert ("words.yaml:0:0", "K001") in [(str(problem.mark), problem.code) for problem in problems]


def test_collect_knowledge__a_missing_folder_is_told(tmp_path):
    _, problems = collect_knowledge(tmp_path / "none")
    assert "There is no such knowledge folder" == problems[0].what


@pytest.mark.skipif(os.name != "posix" or os.getuid() == 0, reason="the superuser reads everything")
def test_collect_knowledge__an_unreadable_file_is_told(folder):
    path = folder()
    (path / "prices.yaml").chmod(0)
    _, problems = collect_knowledge(path)
    assert ("prices.yaml:0:0", "K001") in [(str(problem.mark), problem.code) for problem in problems]


def test_find_knowledge__finds_the_folder_beside_the_source():
    assert (find_knowledge() / "words.yaml").is_file()


HEAVY = ("yaml", "numpy", "networkx", "importlib.metadata", "click", "pgmpy")
SCRIPT = "import sys; from shiftlore.knowledge import load_knowledge; load_knowledge(sys.argv[1]); print(*sys.modules)"


def modules_of(path, home):
    environment = {**os.environ, "XDG_CACHE_HOME": str(home), "PYTHONPATH": os.pathsep.join(sys.path)}
    environment.pop("SHIFTLORE_CACHE", None)
    run = [sys.executable, "-c", SCRIPT, str(path)]
    return subprocess.run(run, env=environment, capture_output=True, text=True, check=True).stdout.split()


def test_load_knowledge__with_a_warm_cache_imports_nothing_heavy(folder, tmp_path_factory):
    path, home = folder(), tmp_path_factory.mktemp("home")
    assert "yaml" in modules_of(path, home)
    assert [] == [name for name in HEAVY if name in modules_of(path, home)]
