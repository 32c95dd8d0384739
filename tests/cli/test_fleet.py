"""`shiftlore fleet`: what is printed, exit codes, and the bar."""

import io
import json
import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest
from support.trade import ROOT, write_small

from shiftlore.cli.fleet import _bar
from shiftlore.fleet import Progress

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
    monkeypatch.setattr("shiftlore.cli.fleet.TELL_SECONDS", 0.0)
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
