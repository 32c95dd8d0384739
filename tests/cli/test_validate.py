"""`shiftlore validate` and `shiftlore schema`."""

import json
import re
from collections.abc import Callable
from functools import reduce
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from jsonschema import Draft202012Validator
from support.hostile import HOSTILE
from support.trade import write_small

from shiftlore.basics import Mark, Problem
from shiftlore.cli.validate import NAMES, _render_for_github


def test_validate__the_shipped_knowledge_is_without_errors(run: Callable) -> None:
    ended = run("validate", "--quick")
    assert 0 == ended.code, ended.out


def test_validate__a_small_folder_is_counted(run: Callable, tmp_path: Path) -> None:
    ended = run("validate", str(write_small(tmp_path)))
    assert 0 == ended.code, ended.out
    assert "2 causes" in ended.out and "long5" in ended.out and "6 causes, 9 states, 9 findings" in ended.out


def test_validate__every_problem_at_once_with_its_place(run: Callable, tmp_path: Path) -> None:
    folder = write_small(tmp_path)
    (folder / "states/all.yaml").write_text("source: x\nstates:\n- {id: a, label: A, leads_to: {nothing: offen}}\n")
    ended = run("validate", str(folder))
    assert 1 == ended.code
    lines = [line for line in ended.out.splitlines() if re.search(r"\.yaml:\d+:\d+: ", line)]
    assert len(lines) > 1
    assert any("states/all.yaml:3:" in line and "offen" in line for line in lines)


def test_validate__github_form_points_at_the_line(run: Callable, write: Callable) -> None:
    path = write("unit: long5\nfindings:\n  nothing_such: yes\n")
    ended = run("validate", path, "--format", "github")
    assert 1 == ended.code
    assert ended.out.startswith(f"::error file={path},line=3,col=3,title=")


def test_validate__a_sheet_file(run: Callable) -> None:
    ended = run("validate", "knowledge/units/long6.yaml")
    assert 0 == ended.code, ended.out
    assert "Clean." in ended.out


def test_validate__a_path_that_is_not_there(run: Callable) -> None:
    ended = run("validate", "no_such_folder")
    assert (2, "") == (ended.code, ended.out)
    assert "no_such_folder" in ended.err


@pytest.mark.parametrize("name", NAMES)
def test_schema__each_is_itself_valid(run: Callable, name: str) -> None:
    ended = run("schema", name)
    assert (0, "") == (ended.code, ended.err)
    schema = json.loads(ended.out)
    assert "https://json-schema.org/draft/2020-12/schema" == schema["$schema"]
    Draft202012Validator.check_schema(schema)


@pytest.mark.parametrize("name", ["rank", "next", "options", "validate", "simulate", "unit"])
def test_schema__an_empty_object_does_not_fit(run: Callable, name: str) -> None:
    assert not Draft202012Validator(json.loads(run("schema", name).out)).is_valid({})


REPAIRS = """\
- {id: A1, source: "garage's page / sha1 0123456789", record: repair, kind: step, layout: fwd, area: coolant_in_fluid,
   presented: [the fluid looks like strawberry milk], confirmed_cause: cooler split}
- {id: A2, record: bulletin, kind: step, presented: [the fluid looks like strawberry milk], area: pump}
"""


def test_validate__published_repairs_are_ranked_and_misses_explained(run: Callable, tmp_path: Path) -> None:
    (tmp_path / "some.yaml").write_text(REPAIRS, encoding="utf-8")
    ended = run("validate", "--repairs", str(tmp_path))
    assert (0, "") == (ended.code, ended.err)
    assert re.search(r"^all +2 +50% +50%", ended.out, re.MULTILINE)
    assert "A2: pump is at place" in ended.out and "coolant_in_fluid (coolant_in_fluid) comes first" in ended.out


def test_validate__published_repairs_as_json_keep_their_schema(run: Callable, tmp_path: Path) -> None:
    (tmp_path / "some.yaml").write_text(REPAIRS, encoding="utf-8")
    found = json.loads(run("validate", "--repairs", str(tmp_path), "--format", "json").out)
    Draft202012Validator(json.loads(run("schema", "repairs").out)).validate(found)
    assert {"all", "repair", "bulletin", "coolant_in_fluid", "pump"} == set(found["groups"])


def test_validate__wrong_repairs_are_told_with_place_and_remedy(run: Callable, tmp_path: Path) -> None:
    (tmp_path / "some.yaml").write_text(REPAIRS.replace("area: pump", "area: pmup"), encoding="utf-8")
    ended = run("validate", "--repairs", str(tmp_path))
    assert 1 == ended.code
    assert 'some.yaml:3:99: error R014: Unknown area "pmup"' in ended.err and "pump" in ended.err
    assert "There is no folder" in run("validate", "--repairs", str(tmp_path / "nowhere")).err


def test_validate__for_github_nothing_ends_the_line_or_the_file_name(run: Callable, write: Callable) -> None:
    """Source: GitHub's toolkit: %, CR and LF are escaped in data, colon and comma in properties too."""
    out = run(
        "validate", write("unit: long5\nfindings: {'50% ::error::x': yes}\n", "a,line=1:%0A.yaml"), "--format", "github"
    ).out
    (line,) = [line for line in out.splitlines() if "C020" in line]
    head, _, said = line.removeprefix("::error ").partition("::")
    file = head.split(",line=")[0]
    assert file.endswith("a%2Cline=1%3A%250A.yaml") and 2 == head.count(",line=") + head.count(",col=")
    assert "50%25 ::error::x" in said


def read_command(line: str) -> tuple[str, dict[str, str], str]:
    """Read a workflow command as GitHub's runner does: properties up to the next two colons, then undo what is escaped."""
    found = re.fullmatch(r"::(\w+) (.*?)::(.*)", line)
    assert found is not None, line
    parts = dict(part.split("=", 1) for part in found[2].split(","))
    signs = (("%0D", "\r"), ("%0A", "\n"), ("%3A", ":"), ("%2C", ","), ("%25", "%"))
    shown = {key: reduce(lambda text, sign: text.replace(*sign), signs, value) for key, value in parts.items()}
    return found[1], shown, reduce(lambda text, sign: text.replace(*sign), (*signs[:2], signs[-1]), found[3])


@given(HOSTILE | st.text("a:,\n\r%0=", min_size=1), HOSTILE | st.text("a:,\n\r%0=", min_size=1))
def test_render_for_github__is_read_back_as_it_is(file: str, what: str) -> None:
    """Source: ActionCommand of GitHub's runner and its toolkit, from memory."""
    line = _render_for_github(Problem(Mark(file, 3, 5), "C020", what, "Write it anew."))
    named = {"file": file, "line": "3", "col": "5", "title": "C020"}
    assert ("error", named, f"{what}. Write it anew.") == read_command(line)
    assert not {"\n", "\r"} & set(line)
