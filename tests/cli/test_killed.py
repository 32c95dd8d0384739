"""A triage killed at random moments loses nothing that was answered."""

import random
from pathlib import Path

import pytest
from support.interruptions import kill_once, load


@pytest.mark.parametrize("seed", range(2))
def test_triage__killed_five_times_goes_on_where_it_was(tmp_path: Path, seed: int) -> None:
    rng = random.Random(seed)
    path = tmp_path / "case.yaml"
    reached = [kill_once(path, rng) for _ in range(5)]
    assert max(reached) > 0, "the test must have got somewhere"
    assert not path.exists() or load(path).unit == "long5"
