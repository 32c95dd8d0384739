"""A whole run: rows in their order, the same bytes whoever works, and nothing lost where it is stopped."""

import gc
import io
import json
import os
import subprocess
import sys
import time
from pathlib import Path

import pytest
from support.fleets import draw_row, small_rows, small_trade, write_rows
from support.trade import ROOT, shipped, write_small

from shiftlore.basics import ShiftloreError, UsageProblem
from shiftlore.basics.holding import Hold
from shiftlore.fleet import FleetRun, Progress, run_fleet
from shiftlore.fleet.judging import judge_chunk

parquet = pytest.importorskip("pyarrow.parquet")
BAD = [{"unit": "nothing"}, 5]


def rows_of(path: Path) -> list[dict]:
    return [json.loads(line) for line in path.read_text(encoding="utf-8").splitlines()]


def run(source: Path, target: Path, **more: object) -> FleetRun:
    return run_fleet(small_trade(), source, target, **{"chunk_rows": 2, **more})  # type: ignore[arg-type]


@pytest.fixture
def source(tmp_path: Path) -> Path:
    """Give seven rows, two of them bad."""
    rows = small_rows(5)
    return write_rows(tmp_path / "in.jsonl", [*rows[:2], BAD[0], *rows[2:], BAD[1]])


def test_run_fleet__rows_stand_in_their_order_and_bad_ones_apart(source: Path, tmp_path: Path) -> None:
    done = run(source, tmp_path / "out.jsonl")
    assert (5, 2, 0) == (done.n_results, done.n_refused, done.n_kept)
    assert [1, 2, 4, 5, 6] == [row["row"] for row in rows_of(done.target)]
    assert done.refused_path == tmp_path / "out.jsonl.refused.jsonl"
    assert [3, 7] == [row["row"] for row in rows_of(done.refused_path)]
    assert {"in.jsonl", "out.jsonl", "out.jsonl.refused.jsonl"} == {path.name for path in tmp_path.iterdir()}


def test_run_fleet__the_same_bytes_for_any_chunks_and_processes(source: Path, tmp_path: Path) -> None:
    wanted = run(source, tmp_path / "a.jsonl").target.read_bytes()
    assert wanted == run(source, tmp_path / "b.jsonl", chunk_rows=100).target.read_bytes()
    assert wanted == run(source, tmp_path / "c.jsonl", jobs=2).target.read_bytes()
    with source.open("rb") as stream:
        assert wanted == run_fleet(small_trade(), stream, tmp_path / "d.jsonl").target.read_bytes()


def test_run_fleet__on_a_scheduler_the_bytes_are_the_same(source: Path, tmp_path: Path) -> None:
    """A scheduler and two workers on this machine, as processes of their own."""
    distributed = pytest.importorskip("distributed")
    wanted = run(source, tmp_path / "a.jsonl").target.read_bytes()
    with distributed.LocalCluster(
        n_workers=2, threads_per_worker=1, processes=False, dashboard_address=None, host="tcp://127.0.0.1"
    ) as cluster:
        found = run(source, tmp_path / "b.jsonl", scheduler=cluster.scheduler_address)
    assert wanted == found.target.read_bytes() and 2 == found.n_refused


def test_run_fleet__parquet_in_and_out_says_the_same(tmp_path: Path) -> None:
    import pyarrow

    rows = [draw_row("long5", seed) for seed in range(3)]
    columns = {
        "id": [row["id"] for row in rows],
        "unit": [row["unit"] for row in rows],
        "odometer_km": [row.get("odometer_km") for row in rows],
        "findings": [json.dumps(row["findings"]) for row in rows],
        "background": [json.dumps(row["background"]) for row in rows],
    }
    table = tmp_path / "in.parquet"
    parquet.write_table(pyarrow.table(columns), table)
    plain = run_fleet(shipped(), write_rows(tmp_path / "in.jsonl", rows), tmp_path / "out.jsonl")
    found = run_fleet(shipped(), table, tmp_path / "out.parquet")
    wanted = rows_of(plain.target)
    assert wanted == [
        {key: row[key] for key in own}
        for row, own in zip(parquet.read_table(found.target).to_pylist(), wanted, strict=True)
    ]


def test_run_fleet__goes_on_from_finished_chunks(source: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    wanted = run(source, tmp_path / "whole.jsonl").target.read_bytes()
    judged: list[int] = []

    def stop_at_third(knowledge: object, task: object) -> object:
        judged.append(task.chunk.number)  # type: ignore[attr-defined]
        if len(judged) == 3:
            raise ShiftloreError("Stopped here.")
        return judge_chunk(knowledge, task)  # type: ignore[arg-type]

    monkeypatch.setattr("shiftlore.fleet.running.judge_chunk", stop_at_third)
    target = tmp_path / "out.jsonl"
    with pytest.raises(ShiftloreError, match="Stopped"):
        run(source, target)
    assert not target.exists() and 2 == len(list((tmp_path / "out.jsonl.parts").iterdir()))
    done = run(source, target)
    assert [0, 1, 2, 2, 3] == judged
    assert 4 == done.n_kept and wanted == target.read_bytes()
    assert not (tmp_path / "out.jsonl.parts").exists()


def test_run_fleet__chunks_of_other_rows_are_judged_anew(source: Path, tmp_path: Path) -> None:
    target = tmp_path / "out.jsonl"
    run(source, target)
    rows = small_rows(4)
    write_rows(source, rows)
    assert 0 == run(source, target, force=True).n_kept
    assert [row["id"] for row in rows] == [row["id"] for row in rows_of(target)]
    assert not (tmp_path / "out.jsonl.refused.jsonl").exists()


@pytest.mark.skipif(os.name != "posix", reason="kill -9")
def test_run_fleet__killed_it_goes_on_and_nothing_is_lost_or_doubled(tmp_path: Path) -> None:
    """The program itself, killed as soon as a chunk is finished."""
    folder = write_small(tmp_path / "rules", "long5")
    source = write_rows(tmp_path / "in.jsonl", small_rows(600))
    target, parts = tmp_path / "out.jsonl", tmp_path / "out.jsonl.parts"
    asked = ["fleet", str(source), str(target), "--knowledge", str(folder), "--chunk", "20", "--jobs", "2"]
    environment = {**os.environ, "PYTHONPATH": str(ROOT / "src"), "SHIFTLORE_SHOP": str(tmp_path / "none.yaml")}
    command = [sys.executable, "-m", "shiftlore", *asked]
    killed = subprocess.Popen(command, cwd=ROOT, env=environment, stdout=subprocess.PIPE, stderr=subprocess.PIPE)
    until = time.monotonic() + 60
    while not (parts.exists() and any(parts.glob("*.part.jsonl"))) and time.monotonic() < until:
        time.sleep(0.01)
    killed.kill()
    killed.communicate()
    assert not target.exists() and list(parts.glob("*.part.jsonl"))
    ended = subprocess.run(command, cwd=ROOT, env=environment, capture_output=True, text=True, timeout=120)
    assert 0 == ended.returncode, ended.stderr
    assert "finished by an earlier run" in ended.stderr and "600 rows ranked" in ended.stdout
    assert list(range(1, 601)) == [row["row"] for row in rows_of(target)]
    assert [f"v{i}" for i in range(600)] == [row["id"] for row in rows_of(target)]
    assert not parts.exists()


def test_run_fleet__an_empty_file_becomes_an_empty_one(tmp_path: Path) -> None:
    source = tmp_path / "in.jsonl"
    source.touch()
    assert b"" == run(source, tmp_path / "out.jsonl").target.read_bytes()
    assert 0 == parquet.read_table(run(source, tmp_path / "out.parquet").target).num_rows


@pytest.mark.parametrize(
    ("source", "target", "said"),
    [
        ("in.txt", "out.jsonl", r"in\.txt will not do. Give a file name that ends in \.jsonl or \.parquet"),
        ("in.jsonl", "out.csv", r"out\.csv will not do"),
        ("none.jsonl", "out.jsonl", r"There is no file .*none\.jsonl"),
        ("in.jsonl", "in.jsonl", "is the input itself"),
        ("in.jsonl", "nowhere/out.jsonl", "There is no folder"),
        ("in.jsonl", "there.jsonl", r"there\.jsonl exists already. Choose another name, or add --force"),
        ("in.jsonl", "half.jsonl", r"half\.jsonl\.refused\.jsonl exists already"),
    ],
)
def test_run_fleet__a_place_that_will_not_do_is_told_before_anything_is_done(
    source: str, target: str, said: str, tmp_path: Path
) -> None:
    write_rows(tmp_path / "in.jsonl", small_rows(1))
    for name in ("in.txt", "there.jsonl", "half.jsonl.refused.jsonl"):
        (tmp_path / name).write_text("mine")
    before = {path.name: path.read_bytes() for path in tmp_path.iterdir()}
    with pytest.raises(UsageProblem, match=said):
        run(tmp_path / source, tmp_path / target)
    assert before == {path.name: path.read_bytes() for path in tmp_path.iterdir()}


def test_run_fleet__one_output_is_written_by_one_run_at_a_time(source: Path, tmp_path: Path) -> None:
    hold = Hold(tmp_path / "out.jsonl")
    assert "" == hold.take()
    with pytest.raises(UsageProblem, match="is being written already, by process"):
        run(source, tmp_path / "out.jsonl")
    hold.release()
    assert 5 == run(source, tmp_path / "out.jsonl").n_results


def test_run_fleet__a_full_disk_is_told_and_what_is_finished_is_kept(
    source: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*args: object, **more: object) -> None:
        raise OSError(28, "No space left on device")

    target = tmp_path / "out.jsonl"
    monkeypatch.setattr("shiftlore.fleet.running.write_whole", full)
    with pytest.raises(ShiftloreError, match=r"No space left on device\. Make room there"):
        run(source, target)
    monkeypatch.undo()
    assert 7 == run(source, target).n_kept


def test_run_fleet__tells_how_far_it_is(source: Path, tmp_path: Path) -> None:
    told: list[Progress] = []
    run(source, tmp_path / "out.jsonl", tell=told.append)
    assert [2, 4, 6, 7] == [progress.rows for progress in told]
    assert 1.0 == told[-1].share
    nobody: list[Progress] = []
    run_fleet(small_trade(), io.BytesIO(b"{}\n"), tmp_path / "b.jsonl", tell=nobody.append)
    assert [None] == [progress.share for progress in nobody]


@pytest.mark.parametrize("is_refused", [False, True])
def test_run_fleet__leaves_the_collector_of_garbage_as_it_was(source: Path, tmp_path: Path, is_refused: bool) -> None:
    before, target = gc.get_freeze_count(), tmp_path / "out.jsonl"
    gc.unfreeze()
    try:
        if is_refused:
            target.write_text("kept")
            with pytest.raises(UsageProblem):
                run_fleet(small_trade(), source, target)
        else:
            run_fleet(small_trade(), source, target)
        assert 0 == gc.get_freeze_count()
    finally:
        if before:
            gc.freeze()


def test_run_fleet__adds_nothing_to_what_somebody_else_has_frozen(source: Path, tmp_path: Path) -> None:
    gc.freeze()
    before = gc.get_freeze_count()
    run_fleet(small_trade(), source, tmp_path / "out.jsonl")
    assert gc.get_freeze_count() <= before
