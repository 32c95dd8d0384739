"""Kill a triage 200 times at random moments, then let eight write one case; run as `python tests/benchmarks/bench_killed.py [kills] [seed]`.

`src` and `tests` must be on the path. Every kill is checked as in the normal tests: nothing acknowledged is lost, the
file can be read, the next start asks what was to be asked.
"""

import contextlib
import random
import sys
import time
from pathlib import Path
from tempfile import TemporaryDirectory

from support.interruptions import Triage, kill_once, load


def main(kills: int = 200, seed: int = 1) -> None:
    """Kill and resume, and tell how far it got."""
    rng, started = random.Random(seed), time.perf_counter()
    with TemporaryDirectory() as folder:
        path = Path(folder) / "case.yaml"
        reached = [kill_once(path, rng) for _ in range(kills)]
    print(f"{kills} kills, nothing lost; up to {max(reached)} answers deep; {time.perf_counter() - started:.0f} s")


def write_at_once(count: int = 8) -> None:
    """Let several triages take one case over from each other, each with an answer of its own, and see what is in the file."""
    with TemporaryDirectory() as folder:
        path = Path(folder) / "case.yaml"
        path.write_text("# Mine.\nunit: long5\ncomplaint: [slips_gear_2]  # he said\n", encoding="utf-8")
        runs = [Triage(path) for _ in range(count)]
        told = 0
        for run in runs:
            shown = run.read()
            if "is open in another triage" in shown:
                told += 1
                run.write("t")
                run.read()
        for place, run in enumerate(runs):
            with contextlib.suppress(BrokenPipeError):
                run.write(f"P073{place % 5 + 1}")
        ended = [run.process.communicate(b"q\n", timeout=120)[1].decode() for run in runs]
        refused = sum("has taken" in err for err in ended)
        case, text = load(path), path.read_text(encoding="utf-8")
        print(
            f"{count} at once: {told} were told, {refused} were stopped, {len(case.findings)} wrote; the file can be read"
        )
        assert told >= count - 1 and refused + len(case.findings) >= count - 1, ended
        assert "# Mine." in text and "# he said" in text, text


if __name__ == "__main__":
    main(*map(int, sys.argv[1:]))
    write_at_once()
