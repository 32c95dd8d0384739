"""The front door: what `import shiftlore` offers, and what it costs."""

import ast
import re
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

import shiftlore

ROOT = Path(__file__).parents[1]
EXAMPLE = ROOT / "examples" / "parcel_van.yaml"
MOST_NAMES = 12


@pytest.fixture(scope="module")
def knowledge() -> shiftlore.Knowledge:
    return shiftlore.load()


@pytest.fixture(scope="module")
def case(knowledge: shiftlore.Knowledge) -> shiftlore.Case:
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
    code = "import sys, shiftlore; print([m for m in sys.modules if m.startswith('shiftlore.') or m in ('numpy', 'yaml')])"
    # the version is a module of its own, no room
    run = subprocess.run([sys.executable, "-c", code], cwd=ROOT / "src", capture_output=True, text=True, check=True)
    assert "['shiftlore.version']" == run.stdout.strip()


def test_rooms__take_nothing_from_the_front_door() -> None:
    taken = {
        alias.name
        for path in (ROOT / "src" / "shiftlore").rglob("*.py")
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.ImportFrom) and node.module == "shiftlore"
        for alias in node.names
    }
    assert set() == taken


def test_read_case__tells_what_is_wrong(knowledge: shiftlore.Knowledge, tmp_path: Path) -> None:
    path = tmp_path / "case.yaml"
    path.write_text("shiftlore: 1\nunit: long5\ncomplaint: [fluid_smells_brunt]\n", encoding="utf-8")
    with pytest.raises(shiftlore.ShiftloreError, match=r"case\.yaml:3:13"):
        shiftlore.read_case(path, knowledge)


def test_read_case__loads_the_shipped_rules_by_itself(case: shiftlore.Case) -> None:
    assert case == shiftlore.read_case(str(EXAMPLE))


def test_rank__covers_every_cause_and_sums_to_little_over_one(
    knowledge: shiftlore.Knowledge, case: shiftlore.Case
) -> None:
    """One fault, or one of the pairs: with `nothing_found` the causes add up to between 1 and 2."""
    ranking = shiftlore.rank(knowledge, case)
    p = [cause.probability for cause in ranking.causes]
    assert p == sorted(p, reverse=True)
    assert 1 <= sum(p) + ranking.nothing_found <= 2


def test_next_steps__lists_the_best_first(knowledge: shiftlore.Knowledge, case: shiftlore.Case) -> None:
    steps = shiftlore.next_steps(knowledge, case).steps
    assert {"check", "job"} >= {step.kind for step in steps}
    assert max(step.expected_saving for step in steps) == steps[0].expected_saving


def test_options__holds_doing_nothing_and_one_more_check(
    knowledge: shiftlore.Knowledge, case: shiftlore.Case
) -> None:
    offered = shiftlore.options(knowledge, case)
    assert {"nothing", "check"} <= {option.kind for option in offered.options}


def test_describe_unit__names_the_nearest_unit(knowledge: shiftlore.Knowledge) -> None:
    with pytest.raises(shiftlore.ShiftloreError, match="long5"):
        shiftlore.describe_unit(knowledge, "lnog5")


def test_describe_unit__works_out_a_lost_element(knowledge: shiftlore.Knowledge) -> None:
    assert shiftlore.describe_unit(knowledge, "long5", lost=["c1"]).lost


def test_find__gives_the_finding_first(knowledge: shiftlore.Knowledge) -> None:
    assert "fluid_smell_burnt" == shiftlore.find(knowledge, "smells burnt", most=3)[0].id


def test_to_pgmpy__gives_a_whole_network_with_the_fault_on_top(knowledge: shiftlore.Knowledge) -> None:
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
    assert len(CI_FILES) == len(calls)
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
