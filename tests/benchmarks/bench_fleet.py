"""A fleet against one case at a time, in the same run: rows a second on one core and on two, memory, bytes a row.

Run as `python tests/benchmarks/bench_fleet.py [rows] [answers: few|many] [memory]` with `src` and `tests` on the path. Rows are
vehicles of the five-speed, drawn from the rules, no two alike, each with a distance and half of them with a background.
`rank` and a bare posterior are measured on a sample of the same rows, before and after. Every tenth row of the fleet is held
against `rank`. With `memory` only the most memory of a run is measured, on rows of a small set of rules.
"""

import io
import json
import os
import resource
import subprocess
import sys
import time
from pathlib import Path
from tempfile import TemporaryDirectory

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # as the command line does

from support.fleets import draw_row, small_rows, write_rows
from support.trade import ROOT, shipped, unit_of, write_small

import shiftlore
from shiftlore.cases import Case
from shiftlore.compiling import compile_case
from shiftlore.fleet import run_fleet
from shiftlore.fleet.judging import judge_case

ANSWERS = {"few": (3, 5), "many": (6, 10)}
SAMPLE = 24
CLOSE = 1e-9


def read(row: dict) -> Case:
    """Read a row as `shiftlore rank` would."""
    return shiftlore.read_case(json.dumps({key: value for key, value in row.items() if key != "id"}), shipped())


def draw_rows(count: int, answers: str) -> list[dict]:
    """Draw rows that can be read."""
    telling, sound = ANSWERS[answers]
    rows, seed = [], 0
    while len(rows) < count:
        row = draw_row("long5", seed, telling=telling, sound=sound)
        seed += 1
        try:
            read(row)
        except shiftlore.basics.ShiftloreError:
            continue
        rows.append(row)
    return rows


def time_each(action: object, items: list) -> float:
    """Give the processor time for each item, in milliseconds."""
    started = time.process_time()
    for item in items:
        action(item)  # type: ignore[operator]
    return 1e3 * (time.process_time() - started) / len(items)


def bench_one_by_one(rows: list[dict]) -> tuple[float, float]:
    """Measure `rank`, reading included, and a bare posterior of cases that are read already."""
    unit = unit_of("long5")
    cases = [read(row) for row in rows]
    ranked = time_each(lambda row: shiftlore.rank(shipped(), read(row)), rows)
    for prepared in unit.prepared.values():
        prepared.ground.forget()
    return ranked, time_each(lambda case: compile_case(unit, case).causes_now, cases)


def compare(rows: list[dict]) -> None:
    """Hold a fleet's posteriors against those of `rank`."""
    unit, worst = unit_of("long5"), 0.0
    for row in rows:
        case = read(row)
        ranking, found = shiftlore.rank(shipped(), case), judge_case(unit, case)
        worst = max(worst, *(abs(one.probability - found.causes[one.id]) for one in ranking.causes))
        worst = max(worst, *(abs(one.probability - found.areas[one.area]) for one in ranking.areas))
    print(f"{len(rows)} rows against rank: largest difference {worst:.1e}")
    assert worst < CLOSE


def bench_fleet(rows: list[dict], folder: Path) -> None:
    """Measure whole runs: in this process, and in one and two processes of their own."""
    content = "".join(json.dumps(row) + "\n" for row in rows).encode()
    run_fleet(shipped(), io.BytesIO(content[: content.index(b"\n") + 1]), folder / "warm.jsonl")
    started, wall = time.process_time(), time.perf_counter()
    run_fleet(shipped(), io.BytesIO(content), folder / "here.jsonl")
    used, wall = time.process_time() - started, time.perf_counter() - wall
    print(f"fleet, this process: {1e3 * used / len(rows):.2f} ms a row, {len(rows) / used:.0f} rows a second of a core")
    print(f"  ({len(rows) / wall:.0f} by the clock, on a machine that others use too: load {os.getloadavg()[0]:.1f})")
    source, times = write_rows(folder / "in.jsonl", rows), {}
    for jobs in (1, 2):
        started = time.perf_counter()
        target = folder / f"out{jobs}.jsonl"
        command = [
            sys.executable,
            "-m",
            "shiftlore",
            "fleet",
            str(source),
            str(target),
            "--jobs",
            str(jobs),
            "--chunk",
            "100",
        ]
        subprocess.run(
            command, cwd=ROOT, env={**os.environ, "PYTHONPATH": str(ROOT / "src")}, check=True, capture_output=True
        )
        times[jobs] = time.perf_counter() - started
        assert target.read_bytes() == (folder / "here.jsonl").read_bytes()
    print(
        f"the program, start included: one process {times[1]:.1f} s, two {times[2]:.1f} s: {times[1] / times[2]:.2f} times"
    )
    run_fleet(shipped(), source, folder / "out.parquet")
    sizes = [(folder / name).stat().st_size / len(rows) for name in ("in.jsonl", "here.jsonl", "out.parquet")]
    print("bytes a row: in {:.0f}, out as JSON Lines {:.0f}, as Parquet {:.0f}".format(*sizes))


def bench_memory(folder: Path, counts: tuple[int, ...] = (1_000, 100_000)) -> None:
    """Measure the most memory that a run takes."""
    rules = write_small(folder / "rules", "long5")
    for count in counts:
        source = write_rows(folder / f"in{count}.jsonl", small_rows(count))
        code = (
            "import resource, sys; from shiftlore.cli.main import run_with; code = run_with(sys.argv[1:]); "
            "print(code, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024, file=sys.stderr)"
        )
        asked = ["fleet", str(source), str(folder / f"out{count}.jsonl"), "--jobs", "1", "--knowledge", str(rules)]
        started = time.perf_counter()
        ended = subprocess.run(
            [sys.executable, "-c", code, *asked],
            env={**os.environ, "PYTHONPATH": str(ROOT / "src")},
            capture_output=True,
            text=True,
            check=True,
        )
        seconds = time.perf_counter() - started
        print(f"{count:,} rows in {seconds:.0f} s: at most {ended.stderr.split()[-1]} MB", flush=True)


def main(count: int = 400, answers: str = "few", only: str = "") -> None:
    """Measure everything."""
    with TemporaryDirectory() as name:
        folder = Path(name)
        if only == "memory":
            bench_memory(folder, (1_000, count))
            return
        rows = draw_rows(count, answers)
        print(
            f"{count} rows of the five-speed, {ANSWERS[answers][0]} telling answers and {ANSWERS[answers][1]} sound ones"
        )
        ranked, bare = bench_one_by_one(rows[:SAMPLE])
        print(f"one by one: rank {ranked:.1f} ms a row, a bare posterior {bare:.1f} ms")
        bench_fleet(rows, folder)
        ranked, bare = bench_one_by_one(rows[:SAMPLE])
        print(f"one by one, again: rank {ranked:.1f} ms a row, a bare posterior {bare:.1f} ms")
        compare(rows[::10])
        print(f"most memory of this benchmark: {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:.0f} MB")


if __name__ == "__main__":
    main(*(int(argument) if argument.isdigit() else argument for argument in sys.argv[1:]))
