"""Many who write one casebook at once, and programs that are killed while they do: nothing lost, nothing twice, nothing half."""

import os
import random
import subprocess
import sys
import time
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import redirect_stderr, redirect_stdout, suppress
from dataclasses import replace
from io import StringIO
from pathlib import Path
from typing import Any

from pytest import MonkeyPatch

import shiftlore
from shiftlore.casebook import Casebook, Entry, open_casebook, write_line
from shiftlore.cli.main import run_with
from support.trade import ROOT, share_trade, shipped

ENTRY = Entry(
    "0" * 20,
    "2026-03-02",
    '{"shiftlore": 1, "unit": "long6", "complaint": ["slips"], "findings": {"slips": "yes"}}',
    unit="long6",
    area="pump",
    causes=("pump_worn",),
    templates=("pump_worn",),
    cause_labels=("Pump worn",),
    confirmed="cured",
    corrections=("overhaul",),
    job_labels=("Overhaul",),
    outcome="cured",
    minutes=210.0,
    spent=640.5,
    currency="EUR",
    odometer_km=164_000.0,
    areas={"pump": 0.25, "clutch_pack": 0.1},
    beliefs={"pump_worn": 0.2},
)


def entry_of(number: int, **changes: Any) -> Entry:
    """Make an entry of its own."""
    return replace(ENTRY, **{"id": f"{number:020x}", **changes})


SHARED = 4
"""Every so many entries one is filed by all writers, and must be there once."""
CASE = '{"shiftlore": 1, "unit": "long6", "complaint": ["slips"], "findings": {"slips": "yes"}, "note": "%s"}'
CLOSING = [
    "--cause",
    "pump_worn",
    "--did",
    "overhaul",
    "--outcome",
    "cured",
    "--minutes",
    "300",
    "--spent",
    "900.5",
]
ENVIRONMENT = {**os.environ, "PYTHONPATH": str(ROOT / "src"), "SHIFTLORE_SHOP": str(ROOT / "tests" / "no-shop.yaml")}


def make_entry(writer: int, number: int) -> Entry:
    """Make one of the entries of a writer; each `SHARED`th is the same for all."""
    who = 0 if number % SHARED == 0 else writer + 1
    return Entry(
        f"{who:08x}{number:012x}",
        f"2026-03-{1 + number % 28:02}",
        CASE % f"{who} {number} é",
        unit="long6",
        area="pump",
        causes=("pump_worn",),
        templates=("pump_worn",),
        outcome="cured",
        minutes=float(number),
        spent=number / 3,
        beliefs={f"cause_{i}": i / 300 for i in range(200)},
    )


def file_all(place: str, writer: int, count: int, amends: bool = False) -> int:
    """File the entries of one writer; tell how many were new."""
    with open_casebook(place) as book:
        return sum((book.amend if amends else book.file)(make_entry(writer, number)) for number in range(count))


def write_at_once(place: str, writers: int, count: int) -> list[int]:
    """Let several write at once, each on a connection of its own, the first of which makes the casebook."""
    with ThreadPoolExecutor(writers) as pool:
        return list(pool.map(lambda writer: file_all(place, writer, count, writer % 2 == 1), range(writers)))


def check_all(place: str, writers: int, count: int) -> int:
    """See that every entry of every writer is there once and whole; give how many there are."""
    expected = {one.id: one for writer in range(writers) for one in (make_entry(writer, i) for i in range(count))}
    with open_casebook(place) as book:
        found = book.entries()
        assert expected == {one.id: one for one in found}
        assert len(expected) == len(found) == book.counts().causes["pump_worn"].here
    return len(found)


def start_writer(place: str, writer: int, count: int) -> "subprocess.Popen[bytes]":
    """Start a writer as a program of its own."""
    environment = {**ENVIRONMENT, "PYTHONPATH": f"{ROOT / 'src'}{os.pathsep}{ROOT / 'tests'}"}
    command = [sys.executable, "-m", "support.casebooks", place, str(writer), str(count)]
    return subprocess.Popen(command, env=environment, stdout=subprocess.PIPE)


def write_lines(path: Path, count: int) -> None:
    """Write the entries of one writer as a file to import."""
    path.write_text("".join(write_line(make_entry(0, i)) + "\n" for i in range(count)), encoding="utf-8")


def start(arguments: Sequence[str]) -> "subprocess.Popen[bytes]":
    """Start the program."""
    command = [sys.executable, "-m", "shiftlore", *arguments]
    return subprocess.Popen(command, env=ENVIRONMENT, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE)


def kill_late(run: "subprocess.Popen[bytes]", sign: Callable[[], bool], rng: random.Random, longest: float) -> None:
    """Kill a program some time after a sign that it has begun to write; now and then at any moment before.

    Args:
        longest: seconds after the sign at most.
    """
    early = time.perf_counter() + rng.uniform(0.0, 3.0) if rng.random() < 0.1 else None
    while run.poll() is None and not sign() and (early is None or time.perf_counter() < early):
        time.sleep(0.001)
    with suppress(subprocess.TimeoutExpired):
        run.wait(rng.uniform(0.0, longest))
    run.kill()
    _, err = run.communicate()
    assert b"Traceback" not in err, err


def finish(arguments: Sequence[str]) -> None:
    """Let the program do it to the end, in this process, which has the rules at hand."""
    with MonkeyPatch.context() as patch, redirect_stdout(StringIO()), redirect_stderr(StringIO()) as told:
        share_trade(patch)
        assert run_with(list(arguments)) == 0, told.getvalue()


def close_and_kill(folder: Path, place: str, rng: random.Random, longest: float = 0.4) -> str:
    """Close a case, be killed at a random moment, look, and close it once more.

    Args:
        longest: seconds that pass at most from the beginning of the writing to the kill.
    Returns: where the kill found it: "open", "file" (not yet in the casebook) or "filed".
    """
    path = folder / f"{rng.getrandbits(64):016x}.yaml"
    path.write_text(
        "# Mine.\nshiftlore: 1\nunit: long6\ncomplaint: [slips]  # he said\nfindings: {slips: yes}\n", encoding="utf-8"
    )
    with open_casebook(place) as book:
        before = {one.id for one in book.entries()}
    arguments = ["close", str(path), *CLOSING, "--yes", "--casebook", place]
    kill_late(start(arguments), path.with_name(f".{path.name}.open").exists, rng, longest)
    case = shiftlore.read_case(path, shipped())
    with open_casebook(place) as book:
        new = _new_entries(book, before)
    found = "open" if case.outcome is None else "filed" if new else "file"
    assert len(new) <= 1 and (not new or (case.outcome is not None and new[0].id == case.outcome.id))
    finish(arguments)
    case = shiftlore.read_case(path, shipped())
    assert case.outcome is not None and "# Mine." in path.read_text() and "# he said" in path.read_text()
    with open_casebook(place) as book:
        (entry,) = _new_entries(book, before)
    assert (case.outcome.id, ("pump_worn",), "cured", 300.0, 900.5, ()) == (
        entry.id, entry.causes, entry.outcome, entry.minutes, entry.spent, entry.history,
    )  # fmt: skip
    assert entry.beliefs and entry.areas
    return found


def _new_entries(book: Casebook, before: set[str]) -> list[Entry]:
    return [one for one in book.entries() if one.id not in before]


def import_and_kill(path: Path, place: str, rng: random.Random, count: int, longest: float = 0.4) -> int:
    """Import a file, be killed at a random moment, look, and import it once more; give how many were there at the kill."""
    arguments = ["casebook", "import", str(path), "--casebook", place]
    begun = Path(place).exists if "://" not in place else lambda: True
    kill_late(start(arguments), begun, rng, longest)
    expected = {one.id: one for one in (make_entry(0, i) for i in range(count))}
    with open_casebook(place) as book:
        found = book.entries()
    assert all(expected[one.id] == one for one in found)
    finish(arguments)
    assert count == check_all(place, 1, count)
    return len(found)


if __name__ == "__main__":
    print(file_all(sys.argv[1], int(sys.argv[2]), int(sys.argv[3])))
