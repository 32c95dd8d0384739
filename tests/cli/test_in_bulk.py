"""`shiftlore fleet`, `learn` and `simulate`: what is printed, exit codes, the bar."""

import io
import json
import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest
from jsonschema import Draft202012Validator
from support.trade import ROOT, write_small

from shiftlore.cli.in_bulk import POLICIES, _bar
from shiftlore.fleet import Progress
from shiftlore.reports.schemas import simulate_schema

GOOD = {"id": "a", "unit": "long5", "findings": {"slips": "yes"}}
BAD = {"id": "b", "unit": "long5", "findings": {"slips": "perhaps"}}


@pytest.fixture
def fleet(tmp_path: Path) -> Callable[..., str]:
    """Give a function that writes rows, and gives the path."""

    def put(*rows: object) -> str:
        path = tmp_path / "fleet.jsonl"
        path.write_text("".join(json.dumps(row) + "\n" for row in rows), encoding="utf-8")
        return str(path)

    return put


def test_fleet__all_rows_ranked_ends_with_0(run: Callable, fleet: Callable, tmp_path: Path) -> None:
    target = tmp_path / "out.jsonl"
    ended = run("fleet", fleet(GOOD, GOOD), str(target), "--jobs", "1")
    assert (0, f"2 rows ranked, written to {target}.\n", "") == ended
    assert ["a", "a"] == [json.loads(line)["id"] for line in target.read_text().splitlines()]


def test_fleet__refused_rows_are_told_by_number_and_end_with_1(run: Callable, fleet: Callable, tmp_path: Path) -> None:
    target = tmp_path / "out.jsonl"
    ended = run("fleet", fleet(GOOD, BAD, GOOD), str(target), "--jobs", "1", "--top", "1")
    assert (1, f"2 rows ranked, written to {target}.\n") == (ended.code, ended.out)
    assert 'row 2: error C014: "perhaps" is no answer to slips.\n    Write one of: no, yes.\n' in ended.err
    assert "1 row refused and set aside into out.jsonl.refused.jsonl." in ended.err
    (line,) = (tmp_path / "out.jsonl.refused.jsonl").read_text().splitlines()
    assert BAD == json.loads(json.loads(line)["given"])


def test_fleet__of_many_refused_rows_the_first_are_told(run: Callable, fleet: Callable, tmp_path: Path) -> None:
    ended = run("fleet", fleet(*[BAD] * 25), str(tmp_path / "out.jsonl"), "--jobs", "1")
    assert 20 == ended.err.count("error C014")
    assert "25 rows refused and set aside into out.jsonl.refused.jsonl; the first 20 are told here." in ended.err


def test_fleet__reads_standard_input(run: Callable, tmp_path: Path) -> None:
    target = tmp_path / "out.jsonl"
    ended = run("fleet", "-", str(target), "--jobs", "1", stdin=json.dumps(GOOD) + "\n")
    assert 0 == ended.code, ended.err
    assert 1 == len(target.read_text().splitlines())


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["none.jsonl", "out.jsonl"], "There is no file none.jsonl"),
        (["-", "out.csv"], "out.csv will not do. Give a file name that ends in .jsonl or .parquet."),
        (["-", "out.jsonl", "--jobs", "0"], "Write a whole number from 1 to 1024."),
        (["-", "no-folder/out.jsonl"], "There is no folder no-folder"),
    ],
)
def test_fleet__wrong_usage_ends_with_2(run: Callable, arguments: list[str], said: str) -> None:
    ended = run("fleet", *arguments)
    assert 2 == ended.code and said in ended.err and "" == ended.out


def test_fleet__a_table_that_is_none_ends_with_1(run: Callable, tmp_path: Path) -> None:
    pytest.importorskip("pyarrow")
    (tmp_path / "in.parquet").write_bytes(b"no table")
    ended = run("fleet", str(tmp_path / "in.parquet"), str(tmp_path / "out.jsonl"), "--jobs", "1")
    assert 1 == ended.code and "is no whole Parquet file" in ended.err and not (tmp_path / "out.jsonl").exists()


def test_fleet__with_force_it_overwrites(run: Callable, fleet: Callable, tmp_path: Path) -> None:
    target = tmp_path / "out.jsonl"
    target.write_text("mine")
    assert 2 == run("fleet", fleet(GOOD), str(target), "--jobs", "1").code and "mine" == target.read_text()
    assert 0 == run("fleet", fleet(GOOD), str(target), "--jobs", "1", "--force").code
    assert "mine" != target.read_text()


@pytest.mark.skipif(os.name != "posix", reason="closes a stream by its number")
def test_fleet__closed_output_is_told_and_the_file_stands(fleet: Callable, tmp_path: Path) -> None:
    folder = write_small(tmp_path / "rules", "long5")
    source = fleet({"unit": "long5", "findings": {"fluid_colour": "dark"}})
    environment = {**os.environ, "PYTHONPATH": str(ROOT / "src"), "SHIFTLORE_SHOP": str(tmp_path / "none.yaml")}
    command = (
        f'"{sys.executable}" -m shiftlore fleet "{source}" "{tmp_path}/out.jsonl" --jobs 1 --knowledge "{folder}" >&-'
    )
    ended = subprocess.run(command, shell=True, cwd=ROOT, env=environment, capture_output=True, text=True, timeout=60)
    assert 1 == ended.returncode and "The output is closed" in ended.stderr and "Traceback" not in ended.stderr


class Screen(io.StringIO):
    """A terminal that keeps what was written."""

    def isatty(self) -> bool:
        """Say yes."""
        return True


def test_bar__shows_how_far_it_is_and_is_wiped_out(monkeypatch: pytest.MonkeyPatch) -> None:
    screen = Screen()
    monkeypatch.setattr(sys, "stderr", screen)
    monkeypatch.setattr("shiftlore.cli.in_bulk.TELL_SECONDS", 0.0)
    with _bar() as tell:
        tell(Progress(0.5, 1200))
        assert "[###############...............]  50% 1,200 rows ranked" in screen.getvalue()
        tell(Progress(None, 1300))
    last = screen.getvalue().split("\r")
    assert "1,300 rows ranked" in last[-3] and "" == last[-2].strip() == last[-1]


def test_bar__elsewhere_nothing_is_written(monkeypatch: pytest.MonkeyPatch) -> None:
    stream = io.StringIO()
    monkeypatch.setattr(sys, "stderr", stream)
    with _bar() as tell:
        tell(Progress(0.5, 3))
    assert "" == stream.getvalue()


CASE = "shiftlore: 1\nunit: long6\nfindings: {slips: yes, fluid_smell_burnt: yes}\n"
ENDED = CASE + "outcome: {causes: [pump_worn], confirmed: cured}\n"
REPAIR = """\
- id: A1
  source: a page / sha1 0123456789
  record: repair
  kind: step
  presented: [slips in all gears when hot]
  confirmed_cause: pump worn
  area: pump
"""


@pytest.fixture
def cases(tmp_path: Path) -> Path:
    """Give a folder of four ended cases, one by a job that cured it, and an open one."""
    folder = tmp_path / "cases"
    folder.mkdir()
    for name in "abc":
        (folder / f"{name}.yaml").write_text(ENDED, encoding="utf-8")
    cured = "done: [{job: converter_exchange_job, result: cured}]\n"
    (folder / "d.yaml").write_text("unit: long6\nfindings: {shudder_under_load: yes}\n" + cured, encoding="utf-8")
    (folder / "e.yaml").write_text(CASE, encoding="utf-8")
    return folder


def p_of(ended: object, cause: str) -> float:
    return next(one["probability"] for one in json.loads(ended.out)["causes"] if one["id"] == cause)  # type: ignore[attr-defined]


def test_learn__what_was_often_the_cause_becomes_likelier(run: Callable, cases: Path, tmp_path: Path) -> None:
    overlay = tmp_path / "overlay.yaml"
    ended = run("learn", str(cases), "--into", str(overlay))
    assert 0 == ended.code and ended.out.startswith("Learned from 5 cases: 4 cured, 1 not told.")
    assert "Pump worn" in ended.out and f"Written to {overlay}" in ended.out
    before, after = (
        run("rank", "-", "--rules-alone", "--format", "json", *more, stdin=CASE)
        for more in ([], ["--overlay", str(overlay)])
    )
    assert p_of(after, "pump_worn") > 1.1 * p_of(before, "pump_worn")


def test_learn__writes_over_nothing_unasked(run: Callable, cases: Path, tmp_path: Path) -> None:
    target = tmp_path / "overlay.yaml"
    target.write_text("kept", encoding="utf-8")
    assert run("learn", str(cases), "--into", str(target)).code and "kept" == target.read_text()
    assert 0 == run("learn", str(cases), "--into", str(target), "--force").code


def test_learn__from_published_repairs(run: Callable, tmp_path: Path) -> None:
    (tmp_path / "lists").mkdir()
    (tmp_path / "lists" / "one.yaml").write_text(REPAIR, encoding="utf-8")
    ended = run("learn", str(tmp_path / "lists"), "--into", str(tmp_path / "o.yaml"))
    assert 0 == ended.code and "Learned from 1 case: 1 repair." in ended.out


@pytest.mark.parametrize(
    "case, says",
    [
        (ENDED.replace("pump_worn", "pump_wron"), 'a.yaml:4:20: error C020: There is no cause "pump_wron".'),
        ("unit: long6\nfindings: {slps: yes}\n", "a.yaml:2:12: error C0"),
    ],
)
def test_learn__a_bad_case_is_told_with_its_place_and_nothing_written(
    run: Callable, cases: Path, tmp_path: Path, case: str, says: str
) -> None:
    (cases / "a.yaml").write_text(case, encoding="utf-8")
    ended = run("learn", str(cases), "--into", str(tmp_path / "o.yaml"))
    assert 1 == ended.code and says in ended.err and not (tmp_path / "o.yaml").exists()


@pytest.mark.parametrize(
    "arguments, says",
    [
        (("learn", "nowhere", "--into", "o.yaml"), "There is no file or folder nowhere."),
        (("learn", "examples", "--into", "o.txt"), "o.txt will not do. Give a file name that ends in .yaml"),
        (("rank", "examples/touring_camper.yaml", "--overlay", "nowhere.yaml"), "There is no overlay nowhere.yaml."),
    ],
)
def test_learn__wrong_usage(run: Callable, arguments: tuple[str, ...], says: str) -> None:
    ended = run(*arguments)
    assert ended.code in (1, 2) and says in ended.err


def test_learn__an_empty_folder(run: Callable, tmp_path: Path) -> None:
    ended = run("learn", str(tmp_path), "--into", str(tmp_path / "o.yaml"))
    assert 1 == ended.code and "There is no case in this folder" in ended.err


@pytest.fixture
def simulate(run: Callable) -> Callable:
    """Give a function that simulates a few vehicles and reads the JSON."""

    def go(*options: str) -> dict:
        ended = run("simulate", "long5", "--vehicles", "3", "--format", "json", *options)
        assert (0, "") == (ended.code, ended.err)
        return json.loads(ended.out)

    return go


def test_simulate__json_fits_the_schema_and_holds_every_policy(simulate: Callable) -> None:
    found = simulate()
    Draft202012Validator(simulate_schema()).validate(found)
    assert POLICIES == [policy["policy"] for policy in found["policies"]]
    assert all(one["low"] <= one["mean_total"] <= one["high"] for one in found["policies"])


def test_simulate__the_same_seed_gives_the_same(simulate: Callable) -> None:
    options = ("--policy", "likeliest_cause", "--seed", "5")
    assert simulate(*options)["policies"] == simulate(*options)["policies"]


def test_simulate__text_has_no_bar_in_a_pipe(run: Callable) -> None:
    ended = run("simulate", "long5", "--vehicles", "1", "--policy", "overhaul")
    assert (0, "") == (ended.code, ended.err)
    assert "overhaul at once" in ended.out and "this planner" not in ended.out


def test_simulate__an_unknown_unit_names_the_nearest(run: Callable) -> None:
    ended = run("simulate", "long55")
    assert 2 == ended.code
    assert "long5" in ended.err


@pytest.mark.parametrize("options", [("--vehicles", "0"), ("--seed", "-1"), ("--policy", "luck")])
def test_simulate__wrong_usage(run: Callable, options: tuple[str, ...]) -> None:
    assert 2 == run("simulate", "long5", *options).code
