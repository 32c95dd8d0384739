"""Kill what asks and what writes 200 times each at random moments, then let eight write one case.

Run as `python tests/benchmarks/bench_killed.py [kills] [seed]` with `src` and `tests` on the path. Every kill is checked as
in the normal tests: nothing acknowledged is lost, the file can be read, the next start asks what was to be asked.
"""

import contextlib
import random
import sys
import time
from pathlib import Path
from tempfile import TemporaryDirectory

from support.interruptions import Run, kill_new_sheet, kill_once, kill_writing, load, sweep_parts
from support.trade import EXAMPLES


def main(kills: int = 200, seed: int = 1) -> None:
    """Kill and resume, and tell how far it got."""
    for name, kill in (("triage", kill_once), ("unit --new", kill_new_sheet)):
        rng, started = random.Random(seed), time.perf_counter()
        with TemporaryDirectory() as folder:
            reached = [kill(Path(folder) / "case.yaml", rng) for _ in range(kills)]
        print(f"{name}: {kills} kills, nothing lost; up to {max(reached)} answers deep; {_since(started)}", flush=True)


def write_and_kill(kills: int = 200, seed: int = 1) -> None:
    """Kill the writing of the owner's page, and tell how often the old and the new one stood there."""
    rng, started = random.Random(seed), time.perf_counter()
    with TemporaryDirectory() as folder:
        page = Path(folder) / "page.html"
        day = ("--date", "2026-03-02")
        asked = ["options", str(EXAMPLES / "touring_camper.yaml"), "--page", str(page), "--force", *day]
        sweep_parts(asked, page)
        whole, seconds = page.read_bytes(), time.perf_counter() - started
        found = [kill_writing(asked, page, whole, seconds, rng) for _ in range(kills)]
        left = sweep_parts(asked, page)
    print(
        f"options --page: {kills} kills, whole each time; {found.count('new')} times new; {left} parts left; {_since(started)}"
    )


def _since(started: float) -> str:
    return f"{time.perf_counter() - started:.0f} s"


def write_at_once(count: int = 8) -> None:
    """Let several triages take one case over from each other, each with an answer of its own, and see what is in the file."""
    with TemporaryDirectory() as folder:
        path = Path(folder) / "case.yaml"
        path.write_text("# Mine.\nunit: long5\ncomplaint: [slips_gear_2]  # he said\n", encoding="utf-8")
        runs = [Run("triage", str(path)) for _ in range(count)]
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
    write_and_kill(*map(int, sys.argv[1:]))
    write_at_once()
