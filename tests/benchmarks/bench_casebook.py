"""Let eight programs write one casebook at once, and kill what closes and what imports 200 times each; on a file and a server.

Run as `python tests/benchmarks/bench_casebook.py [kills] [entries] [seed]` with `src` and `tests` on the path. Every kill is
checked as in the normal tests: nothing lost, nothing twice, nothing half, and the same command once more completes it.
"""

import math
import random
import sys
import time
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from tempfile import TemporaryDirectory

from support.casebooks import check_all, close_and_kill, import_and_kill, start_writer, write_lines
from support.databases import empty_database, fresh_database, postgres_server

from shiftlore.casebook import open_casebook

WRITERS, LINES = 8, 1_000


@contextmanager
def places(folder: Path) -> Iterator[list[tuple[str, str]]]:
    """Give a file, and a database on a server that has all on disk before it is told."""
    with postgres_server(is_safe=True) as server:
        if server is None:
            print("no PostgreSQL here: on a file alone")
            yield [("SQLite", str(folder / "book.db"))]
            return
        with fresh_database(server) as address:
            yield [("SQLite", str(folder / "book.db")), ("PostgreSQL", address)]


def empty(place: str) -> None:
    """Begin anew."""
    if "://" in place:
        empty_database(place)
    for path in Path(place).parent.glob("book.db*") if "://" not in place else ():
        path.unlink()


def write_at_once(name: str, place: str, entries: int) -> None:
    """Let all write, each a process of its own, a quarter of what they file the same."""
    empty(place)
    started = time.perf_counter()
    runs = [start_writer(place, writer, entries) for writer in range(WRITERS)]
    new = [int(run.communicate(timeout=1800)[0]) for run in runs]
    seconds = time.perf_counter() - started
    count = check_all(place, WRITERS, entries)
    assert sum(new) == count, (new, count)
    each = WRITERS * entries / seconds
    print(
        f"{name}: {WRITERS} x {entries} filed at once, {count} there, each once; {each:.0f} a second, {seconds:.0f} s",
        flush=True,
    )


def kill(name: str, place: str, folder: Path, kills: int, seed: int) -> None:
    """Kill what closes, and what imports."""
    empty(place)
    rng, started = random.Random(seed), time.perf_counter()
    _, longest = close_and_kill(folder, place, rng, math.inf)
    found = Counter(close_and_kill(folder, place, rng, longest)[0] for _ in range(kills))
    with open_casebook(place) as book:
        assert len(book.entries()) == kills + 1
    print(
        f"{name}: close: {kills} kills, {dict(found)}; {kills + 1} cases there, each once; {_since(started)}",
        flush=True,
    )
    write_lines(folder / "in.jsonl", LINES)
    empty(place)
    started, reached = time.perf_counter(), []
    _, longest = import_and_kill(folder / "in.jsonl", place, rng, LINES, math.inf)
    for _ in range(kills):
        empty(place)
        reached.append(import_and_kill(folder / "in.jsonl", place, rng, LINES, longest)[0])
    begun = sum(0 < one < LINES for one in reached)
    print(
        f"{name}: import of {LINES}: {kills} kills, {begun} in the midst; whole each time; {_since(started)}",
        flush=True,
    )


def _since(started: float) -> str:
    return f"{time.perf_counter() - started:.0f} s"


def main(kills: int = 200, entries: int = 500, seed: int = 1) -> None:
    """Do both on both."""
    with TemporaryDirectory() as folder, places(Path(folder)) as found:
        for name, place in found:
            write_at_once(name, place, entries)
        for name, place in found:
            kill(name, place, Path(folder), kills, seed)


if __name__ == "__main__":
    main(*map(int, sys.argv[1:]))
