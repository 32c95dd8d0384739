"""A program killed at random moments loses nothing that was answered, and leaves no half a file."""

import random
from pathlib import Path

from support.interruptions import kill_new_sheet, kill_once, kill_writing, load, sweep_parts


def test_triage__killed_again_and_again_goes_on_where_it_was(tmp_path: Path) -> None:
    """`tests/benchmarks/bench_killed.py` kills it as often as one likes."""
    rng = random.Random(0)
    path = tmp_path / "case.yaml"
    reached = [kill_once(path, rng) for _ in range(2)]
    assert max(reached) > 0, "the test must have got somewhere"
    assert not path.exists() or load(path).unit == "long5"


def test_unit__a_new_sheet_killed_again_and_again_goes_on_where_it_was(tmp_path: Path) -> None:
    rng = random.Random(4)
    assert max(kill_new_sheet(tmp_path / "own3.yaml", rng) for _ in range(2)) > 0


def test_unit__a_drawing_killed_again_and_again_is_whole_or_as_it_was(tmp_path: Path) -> None:
    rng, target = random.Random(5), tmp_path / "t.svg"
    asked = ["unit", "long5", "--draw", str(target), "--force"]
    sweep_parts(asked, target)
    whole = target.read_bytes()
    assert {"old", "new"} >= {kill_writing(asked, target, whole, 1.0, rng) for _ in range(2)}
    sweep_parts(asked, target)
    assert [target] == list(tmp_path.iterdir())
