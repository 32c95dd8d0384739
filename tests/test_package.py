"""The front door: what `import shiftlore` offers, and what it costs."""

import ast
import re
import subprocess
import sys
import tomllib
from functools import cache
from pathlib import Path

import pytest
from support.trade import shipped

import shiftlore
from shiftlore.basics import ShiftloreError
from shiftlore.cases import Case
from shiftlore.cli.main import COMMANDS
from shiftlore.knowledge import Knowledge

ROOT = Path(__file__).parents[1]
EXAMPLE = ROOT / "examples" / "touring_camper.yaml"
MOST_NAMES = 22  # one for each command, and what they need


@pytest.fixture(scope="module")
def knowledge() -> Knowledge:
    return shipped()


@pytest.fixture(scope="module")
def case(knowledge: Knowledge) -> Case:
    return shiftlore.read_case(EXAMPLE, knowledge)


def test_package__offers_few_names() -> None:
    assert MOST_NAMES >= len(shiftlore.__all__)
    assert sorted(shiftlore.__all__) == dir(shiftlore)


@pytest.mark.parametrize("name", shiftlore.__all__)
def test_package__gives_every_name_that_it_lists(name: str) -> None:
    assert getattr(shiftlore, name) is not None


def test_package__has_no_other_name() -> None:
    with pytest.raises(AttributeError, match="no attribute 'gearbox'"):
        getattr(shiftlore, "gearbox")  # noqa: B009


def test_import__loads_no_room() -> None:
    """Source: PEP 562, module level `__getattr__`."""
    code = (
        "import sys, shiftlore; print([m for m in sys.modules if m.startswith('shiftlore.') or m in ('numpy', 'yaml')])"
    )
    # the version is a module of its own, no room
    run = subprocess.run([sys.executable, "-c", code], cwd=ROOT / "src", capture_output=True, text=True, check=True)
    assert "['shiftlore.version']" == run.stdout.strip()


# Command -> the function of the front door that it is a shell over.
DOORS = {
    "triage": "interview",
    "rank": "rank",
    "next": "next_steps",
    "options": "options",
    "unit": "describe_unit",
    "shop": "shop",
    "find": "find",
    "fleet": "rank_fleet",
    "explain": "explain",
    "close": "close",
    "casebook": "open_casebook",
    "learn": "learn",
    "practise": "open_casebook",
    "validate": "validate",
    "simulate": "simulate",
    "trace": "trace",
    "schema": "schema",
}
BEHIND_THE_DOOR = ("ranking", "planning", "advising", "simulating", "gearing", "exact")


@cache
def trees(folder: str) -> dict[str, ast.Module]:
    """Parse every module of a folder of the package; path -> tree."""
    paths = sorted((ROOT / "src" / "shiftlore" / folder).rglob("*.py"))
    return {
        str(path.relative_to(ROOT / "src" / "shiftlore")): ast.parse(path.read_text(encoding="utf-8")) for path in paths
    }


def test_rooms__only_the_command_line_goes_through_the_front_door() -> None:
    users = {
        path.split("/")[0]
        for path, tree in trees(".").items()
        for node in ast.walk(tree)
        if (isinstance(node, ast.Import) and any(alias.name == "shiftlore" for alias in node.names))
        or (isinstance(node, ast.ImportFrom) and node.module == "shiftlore")
    }
    assert {"cli"} == users


@pytest.mark.parametrize("command", COMMANDS)
def test_commands__each_is_a_shell_over_one_function_of_the_front_door(command: str) -> None:
    tree = trees("cli")[f"cli/{COMMANDS[command]}.py"]
    used = {
        node.attr
        for node in ast.walk(tree)
        if isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name) and node.value.id == "shiftlore"
    }
    assert DOORS[command] in used
    assert used <= set(shiftlore.__all__)


def test_commands__none_goes_round_the_front_door() -> None:
    """What is imported for its type alone does not count."""
    wrong = []
    for path, tree in trees("cli").items():
        typed = {id(inner) for node in tree.body if isinstance(node, ast.If) for inner in ast.walk(node)}
        wrong += [
            f"{path}:{node.lineno} {node.module}"
            for node in ast.walk(tree)
            if isinstance(node, ast.ImportFrom)
            and id(node) not in typed
            and (node.module or "").removeprefix("shiftlore.").split(".")[0] in BEHIND_THE_DOOR
        ]
    assert [] == wrong


def test_compile_unit__once_for_a_knowledge_and_a_unit(case: Case, monkeypatch: pytest.MonkeyPatch) -> None:
    from shiftlore.compiling import compiled_units

    worked: list[str] = []

    def watch(knowledge: Knowledge, sheet: object) -> object:
        worked.append(sheet.id)  # type: ignore[attr-defined]
        return write_out(knowledge, sheet)  # type: ignore[arg-type]

    write_out = compiled_units._write_out
    monkeypatch.setattr(compiled_units, "_write_out", watch)
    fresh = shiftlore.load()
    again = shiftlore.read_case(EXAMPLE, fresh)
    shiftlore.rank(fresh, again)
    shiftlore.next_steps(fresh, again)
    shiftlore.options(fresh, again)
    assert shiftlore.interview(fresh, again).question is not None
    assert [case.unit] == worked
    shiftlore.read_case(EXAMPLE, shiftlore.load())
    assert [case.unit] * 2 == worked, "another knowledge is another matter"


def test_interview__begins_with_the_unit_and_goes_on_with_a_case(knowledge: Knowledge, case: Case) -> None:
    first, later = shiftlore.interview(knowledge).question, shiftlore.interview(knowledge, case).question
    assert first is not None and "unit" == first.id
    assert later is not None and "unit" != later.id


def test_simulate__every_way_of_working_gets_the_same_vehicles(knowledge: Knowledge) -> None:
    done: list[int] = []
    told = shiftlore.simulate(knowledge, "long5", 2, 3, policies=("overhaul", "likeliest_cause"), tell_done=done.append)
    assert {"overhaul", "likeliest_cause"} == {policy.policy for policy in told.policies}
    assert 2 == done[-1]


def test_validate__folder_sheet_and_case(tmp_path: Path) -> None:
    assert (None, []) == shiftlore.validate(ROOT / "knowledge" / "units" / "long5.yaml")
    assert (None, []) == shiftlore.validate(EXAMPLE)
    report, problems = shiftlore.validate(ROOT / "knowledge", quick=True)
    assert report is None and not [problem for problem in problems if problem.severity == "error"]
    path = tmp_path / "case.yaml"
    path.write_text("shiftlore: 1\nunit: long5\nfindings: {nothing_such: yes}\n", encoding="utf-8")
    assert [(3, 12, "C020")] == [(p.mark.line, p.mark.column, p.code) for p in shiftlore.validate(path)[1]]


def test_schema__of_every_name_and_of_no_other() -> None:
    from shiftlore.cli.validate import NAMES

    for name in NAMES:
        assert "https://json-schema.org/draft/2020-12/schema" == shiftlore.schema(name)["$schema"]
    with pytest.raises(ShiftloreError, match=", ".join(NAMES)):
        shiftlore.schema("nothing")


def test_find__only_some_kinds(knowledge: Knowledge) -> None:
    assert {"cause"} == {hit.kind for hit in shiftlore.find(knowledge, "pump", kinds=("cause",))}


def test_read_case__a_text_is_called_by_the_name_that_is_given(knowledge: Knowledge) -> None:
    with pytest.raises(ShiftloreError, match=r"^my case:2:7"):
        shiftlore.read_case("shiftlore: 1\nunit: nothing\n", knowledge, "my case")


def test_read_case__tells_what_is_wrong(knowledge: Knowledge, tmp_path: Path) -> None:
    path = tmp_path / "case.yaml"
    path.write_text("shiftlore: 1\nunit: long5\ncomplaint: [fluid_smells_brunt]\n", encoding="utf-8")
    with pytest.raises(ShiftloreError, match=r"case\.yaml:3:13"):
        shiftlore.read_case(path, knowledge)


def test_read_case__loads_the_shipped_rules_by_itself(case: Case) -> None:
    assert case == shiftlore.read_case(str(EXAMPLE))


def test_load__with_a_shop_of_ones_own(tmp_path: Path) -> None:
    path = tmp_path / "shop.yaml"
    path.write_text("labour_per_hour: 99\n", encoding="utf-8")
    own = shiftlore.load(own_shop=path)
    assert own.shop is not None and 99 == own.shop.labour_per_hour


def test_shop__reads_and_sets(knowledge: Knowledge, tmp_path: Path) -> None:
    path = tmp_path / "new" / "shop.yaml"
    assert {} == shiftlore.shop(knowledge, path).settings
    assert {"tax_percent": 20} == shiftlore.shop(knowledge, path, {"tax_percent": "20"}).settings
    assert {"tax_percent": 20} == shiftlore.shop(knowledge, path).settings


def test_rank__covers_every_cause_and_sums_to_little_over_one(knowledge: Knowledge, case: Case) -> None:
    """One fault, or one of the pairs: with `nothing_found` the causes add up to between 1 and 2."""
    ranking = shiftlore.rank(knowledge, case)
    p = [cause.probability for cause in ranking.causes]
    assert p == sorted(p, reverse=True)
    assert 1 <= sum(p) + ranking.nothing_found <= 2


def test_next_steps__lists_the_best_first(knowledge: Knowledge, case: Case) -> None:
    steps = shiftlore.next_steps(knowledge, case).steps
    assert {"check", "job"} >= {step.kind for step in steps}
    assert max(step.expected_saving for step in steps) == steps[0].expected_saving


def test_options__holds_doing_nothing_and_one_more_check(knowledge: Knowledge, case: Case) -> None:
    offered = shiftlore.options(knowledge, case)
    assert {"nothing", "check"} <= {option.kind for option in offered.options}


def test_describe_unit__names_the_nearest_unit(knowledge: Knowledge) -> None:
    with pytest.raises(ShiftloreError, match="long5"):
        shiftlore.describe_unit(knowledge, "lnog5")


def test_describe_unit__works_out_a_lost_element(knowledge: Knowledge) -> None:
    assert shiftlore.describe_unit(knowledge, "long5", lost=["c1"]).lost


def test_find__gives_the_finding_first(knowledge: Knowledge) -> None:
    assert "fluid_smell_burnt" == shiftlore.find(knowledge, "smells burnt", most=3)[0].id


def test_explain__by_id_by_code_and_by_words(knowledge: Knowledge) -> None:
    assert "check" == shiftlore.explain(knowledge, "pan_drop").kind
    assert "P0733" == shiftlore.explain(knowledge, "p0733", "long5").code
    by_words = shiftlore.explain(knowledge, "smells burnt")
    assert "fluid_smell_burnt" == by_words.id and by_words.also
    with pytest.raises(ShiftloreError, match="Nearest: worn_band"):
        shiftlore.explain(knowledge, "worn_bnd")
    with pytest.raises(ShiftloreError, match="Nothing is called"):
        shiftlore.explain(knowledge, "qqqq zzzz")


def test_to_pgmpy__gives_a_whole_network_with_the_fault_on_top(knowledge: Knowledge) -> None:
    """Source: pgmpy checks that every table fits its parents and sums to 1."""
    model = shiftlore.to_pgmpy(knowledge, "trans4")
    assert model.check_model()
    assert [] == list(model.predecessors("fault"))
    assert "none" == model.get_cpds("fault").state_names["fault"][0]


def test_project__needs_no_tensor_library() -> None:
    """pgmpy below 1.1 requires torch: gigabytes, for nothing that is used here."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    (pgmpy,) = [line for line in project["dependencies"] if line.startswith("pgmpy")]
    assert (1, 1) <= tuple(int(part) for part in pgmpy.removeprefix("pgmpy>=").split(".")[:2])


def test_package__tells_type_checkers_that_it_is_typed() -> None:
    """Source: PEP 561."""
    assert (ROOT / "src" / "shiftlore" / "py.typed").is_file()


CI_FILES = (ROOT / ".ci" / "run", ROOT / ".github" / "workflows" / "ci.yml")


def test_ci__passes_the_tests_by_the_command_of_the_readme() -> None:
    (command,) = re.findall(r"\.venv/bin/(python -m pytest\b.*)", (ROOT / "README.md").read_text(encoding="utf-8"))
    used = [line for path in CI_FILES for line in path.read_text(encoding="utf-8").splitlines() if "pytest" in line]
    calls = [line for line in used if "pip install" not in line and not line.lstrip().startswith("#")]
    assert len(CI_FILES) <= len(calls)
    assert [] == [line for line in calls if command not in line]


def test_ci__has_one_list_of_steps() -> None:
    run, workflow = (path.read_text(encoding="utf-8") for path in CI_FILES)
    assert "- run: .ci/run\n" in workflow
    assert [] == [tool for tool in ("ruff", "mypy", "lint-imports", "pip wheel") if tool not in run or tool in workflow]


def test_ci__pins_what_it_takes_from_others_by_commit() -> None:
    actions = re.findall(r"uses: (\S+)", CI_FILES[1].read_text(encoding="utf-8"))
    assert actions
    assert [] == [action for action in actions if not re.fullmatch(r"[\w-]+/[\w-]+@[0-9a-f]{40}", action)]


@pytest.mark.parametrize("path", CI_FILES, ids=lambda path: path.name)
def test_ci__no_step_is_allowed_to_fail(path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    assert "|| true" not in text and "continue-on-error" not in text
