"""Knowledge of twice, four and eight times the size: what loading, ranking and the next step cost.

Run as `python tests/benchmarks/bench_larger.py [most]` with `src` and `tests` on the path. Times are seconds of processor time
of the whole process, the best of three; "first" is without the cache. `rank` may cost at most 2.5 times as much for each
doubling.
"""

import os
import resource
import subprocess
import sys
import time
from pathlib import Path
from tempfile import TemporaryDirectory

from support.larger import write_larger
from support.trade import EXAMPLES, ROOT

from shiftlore.knowledge import load_knowledge

CASE = str(EXAMPLES / "touring_camper.yaml")
MOST_A_DOUBLING, RUNS = 2.5, 3


def run(home: Path, *arguments: str) -> float:
    """Run the program and give its processor time."""
    environment = {**os.environ, "PYTHONPATH": str(ROOT / "src"), "XDG_CACHE_HOME": str(home / "cache")}
    environment |= {"SHIFTLORE_SHOP": str(home / "none.yaml")}
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    subprocess.run([sys.executable, "-m", "shiftlore", *arguments], check=True, capture_output=True, env=environment)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def measure(home: Path, times: int) -> float:
    """Print what a knowledge of so many times the size costs, and give what `rank` does."""
    folder = write_larger(home / f"times_{times}", times)
    known = ("--knowledge", str(folder))
    first = run(home, "rank", CASE, *known)
    rank = min(run(home, "rank", CASE, *known) for _ in range(RUNS))
    following = min(run(home, "next", CASE, *known) for _ in range(RUNS))
    knowledge = load_knowledge(folder)
    size = f"{len(knowledge.causes)} causes, {len(knowledge.findings)} findings as written"
    memory = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024
    print(
        f"x{times} ({size}): first {first:.2f} s, rank {rank:.2f} s, next {following:.2f} s, {memory:.0f} MB",
        flush=True,
    )
    return rank


def main(most: int = 8) -> None:
    """Double until the largest size, and hold each against the one before."""
    started, times, before = time.perf_counter(), 1, None
    with TemporaryDirectory() as name:
        while times <= most:
            rank = measure(Path(name), times)
            if before is not None:
                print(f"    rank costs {rank / before:.2f} times as much")
                assert rank <= MOST_A_DOUBLING * before
            times, before = 2 * times, rank
    print(f"{time.perf_counter() - started:.0f} s")


if __name__ == "__main__":
    main(*map(int, sys.argv[1:]))
