"""Kill a triage 200 times at random moments; run as `python tests/benchmarks/bench_killed.py [kills] [seed]`.

`src` and `tests` must be on the path. Every kill is checked as in the normal tests: nothing acknowledged is lost, the
file can be read, the next start asks what was to be asked.
"""

import random
import sys
import time
from pathlib import Path
from tempfile import TemporaryDirectory

from support.interruptions import kill_once


def main(kills: int = 200, seed: int = 1) -> None:
    """Kill and resume, and tell how far it got."""
    rng, started = random.Random(seed), time.perf_counter()
    with TemporaryDirectory() as folder:
        path = Path(folder) / "case.yaml"
        reached = [kill_once(path, rng) for _ in range(kills)]
    print(f"{kills} kills, nothing lost; up to {max(reached)} answers deep; {time.perf_counter() - started:.0f} s")


if __name__ == "__main__":
    main(*map(int, sys.argv[1:]))
