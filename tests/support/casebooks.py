"""Many who write one casebook at once, and programs that are killed while they do: nothing lost, nothing twice, nothing half."""

import math
import os
import random
import subprocess
import sys
import time
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager, redirect_stderr, redirect_stdout, suppress
from io import StringIO
from pathlib import Path

import psycopg
from pytest import MonkeyPatch

import shiftlore
from shiftlore.casebook import Casebook, Entry, open_casebook
from shiftlore.casebook.lines import write_line
from shiftlore.cli.main import run_with
from support.casebook_entries import file_all, make_entry
from support.trade import ROOT, share_trade, shipped

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
    command = [sys.executable, "-m", "support.casebook_entries", place, str(writer), str(count)]
    return subprocess.Popen(command, env=environment, stdout=subprocess.PIPE)


def write_lines(path: Path, count: int) -> None:
    """Write the entries of one writer as a file to import."""
    path.write_text("".join(write_line(make_entry(0, i)) + "\n" for i in range(count)), encoding="utf-8")


def start(arguments: Sequence[str]) -> "subprocess.Popen[bytes]":
    """Start the program."""
    command = [sys.executable, "-m", "shiftlore", *arguments]
    return subprocess.Popen(command, env=ENVIRONMENT, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE)


def kill_late(arguments: Sequence[str], sign: Callable[[], bool], rng: random.Random, longest: float) -> float:
    """Start the program, and kill it some time after a sign that it has begun to write.

    Args:
        longest: seconds after the sign at most; infinite lets it run to its end.
    Returns: seconds from the sign to its end.
    """
    run = start(arguments)
    while run.poll() is None and not sign():
        time.sleep(0.001)
    begun = time.perf_counter()
    with suppress(subprocess.TimeoutExpired):
        run.wait(None if longest == math.inf else rng.uniform(0.0, longest))
    run.kill()
    _, err = run.communicate()
    assert b"Traceback" not in err, err
    return time.perf_counter() - begun


def finish(arguments: Sequence[str]) -> None:
    """Let the program do it to the end, in this process, which has the rules at hand."""
    with MonkeyPatch.context() as patch, redirect_stdout(StringIO()), redirect_stderr(StringIO()) as told:
        share_trade(patch)
        assert run_with(list(arguments)) == 0, told.getvalue()


def close_and_kill(folder: Path, place: str, rng: random.Random, longest: float = 0.4) -> tuple[str, float]:
    """Close a case, be killed at a random moment, look, and close it once more.

    Args:
        longest: seconds that pass at most from the beginning of the writing to the kill.
    Returns: where the kill found it: "open", "file" (not yet in the casebook) or "filed"; and the seconds that passed.
    """
    path = folder / f"{rng.getrandbits(64):016x}.yaml"
    path.write_text(
        "# Mine.\nshiftlore: 1\nunit: long6\ncomplaint: [slips]  # he said\nfindings: {slips: yes}\n", encoding="utf-8"
    )
    with open_casebook(place) as book:
        before = {one.id for one in book.entries()}
    arguments = ["close", str(path), *CLOSING, "--yes", "--casebook", place]
    seconds = kill_late(arguments, path.with_name(f".{path.name}.open").exists, rng, longest)
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
    return found, seconds


@contextmanager
def _made(place: str) -> Iterator[Callable[[], bool]]:
    """Give what tells whether a casebook has been made here."""
    if "://" not in place:
        yield Path(place).exists
        return
    with psycopg.connect(place, autocommit=True) as connection:

        def is_made() -> bool:
            row = connection.execute("SELECT to_regclass('casebook_entries') IS NOT NULL").fetchone()
            return row is not None and bool(row[0])

        yield is_made


def _new_entries(book: Casebook, before: set[str]) -> list[Entry]:
    return [one for one in book.entries() if one.id not in before]


def import_and_kill(path: Path, place: str, rng: random.Random, count: int, longest: float = 0.4) -> tuple[int, float]:
    """Import a file, be killed at a random moment, look, and import it once more.

    Returns: how many were there at the kill; and the seconds that passed since the casebook was there.
    """
    arguments = ["casebook", "import", str(path), "--casebook", place]
    with _made(place) as sign:
        seconds = kill_late(arguments, sign, rng, longest)
    expected = {one.id: one for one in (make_entry(0, i) for i in range(count))}
    with open_casebook(place) as book:
        found = book.entries()
    assert all(expected[one.id] == one for one in found)
    finish(arguments)
    assert count == check_all(place, 1, count)
    return len(found), seconds
