"""`shiftlore fleet`: many cases at once, from a file of rows to a file of rows."""

import contextlib
import json
import sys
import time
from collections.abc import Callable, Iterator
from itertools import islice
from pathlib import Path
from typing import TYPE_CHECKING

import click

import shiftlore
import shiftlore.cli.common as common
from shiftlore.cli.common import A_PATH

if TYPE_CHECKING:
    from shiftlore.fleet import Progress

MOST_TOLD = 20
"""Refused rows that are told on the screen; all of them stand in their file."""
BAR = 30
TELL_SECONDS = 0.2
MOST_COUNT, MOST_CHUNK = 1000, 100_000


@click.command("fleet", short_help="Rank many cases at once, from a file to a file.")
@click.argument("source", metavar="IN", type=click.Path(allow_dash=True))
@click.argument("target", metavar="OUT", type=A_PATH)
@common.jobs_option
@common.scheduler_option
@click.option(
    "--top", "count", type=common.Whole(1, MOST_COUNT), default=10, metavar="N", help="Causes to write for each row."
)
@click.option(
    "--chunk", type=common.Whole(1, MOST_CHUNK), default=500, metavar="ROWS", help="Rows to work on in one go."
)
@click.option("--overlay", type=A_PATH, metavar="FILE", help="Lay numbers that cases have taught over the rules.")
@common.force_option
@common.timing_option
@common.knowledge_option
def fleet_command(
    source: str,
    target: Path,
    jobs: int | None,
    scheduler: str,
    count: int,
    chunk: int,
    overlay: Path | None,
    force: bool,
    timing: bool,
    folder: Path | None,
) -> int:
    """Rank every case of IN and write one row for each to OUT: areas, causes, how well the answers fit.

    IN and OUT end in .jsonl (one case a line) or .parquet (keys of a case as columns); IN may be - for standard input. Rows
    that are no case are told and set aside into OUT.refused.jsonl, and the rest go on. A run that was stopped goes on where it
    was: give the same command again. All processors work unless --jobs says how many.
    """
    started = time.perf_counter()
    common.require_place(target)
    knowledge = common.load_trade(folder, overlay=overlay)
    with _bar() as tell:
        done = shiftlore.rank_fleet(
            knowledge,
            sys.stdin.buffer if source == common.STDIN else Path(source),
            target,
            jobs=jobs,
            scheduler=scheduler,
            count=count,
            chunk_rows=chunk,
            force=force,
            tell=tell,
        )
    common.tell_time(time.perf_counter() - started, timing)
    if done.n_kept:
        click.echo(f"{_rows(done.n_kept)} finished by an earlier run.", err=True)
    click.echo(f"{_rows(done.n_results)} ranked, written to {target}.")
    if done.refused_path is None:
        return 0
    _tell_refused(done.refused_path, done.n_refused)
    return 1


def _rows(count: int) -> str:
    return f"{count:,} row" + ("" if count == 1 else "s")


def _tell_refused(path: Path, count: int) -> None:
    """Tell the first of the refused rows by number, with what is wrong and what to write instead."""
    with path.open(encoding="utf-8") as stream:
        for line in islice(stream, MOST_TOLD):
            row = json.loads(line)
            for problem in row["problems"]:
                if problem["severity"] == "error":
                    click.echo(f"row {row['row']}: error {problem['code']}: {problem['what']}", err=True)
                    click.echo(f"    {problem['write_instead']}", err=True)
    more = f"; the first {MOST_TOLD} are told here" if count > MOST_TOLD else ""
    click.echo(f"{_rows(count)} refused and set aside into {path.name}{more}.", err=True)


@contextlib.contextmanager
def _bar() -> Iterator[Callable[["Progress"], None]]:
    """Show on a terminal how far it is, and wipe that out when it is done; elsewhere nothing is written."""
    if not sys.stderr.isatty():
        yield lambda progress: None
        return
    shown = [0.0, 0.0]

    def tell(progress: "Progress") -> None:
        now = time.monotonic()
        if now - shown[0] >= TELL_SECONDS:
            filled = round(BAR * (progress.share or 0.0))
            bar = f"[{'#' * filled}{'.' * (BAR - filled)}] {progress.share:4.0%} " if progress.share is not None else ""
            text = f"{bar}{_rows(progress.rows)} ranked"
            click.echo("\r" + text.ljust(int(shown[1])), nl=False, file=sys.stderr)
            shown[:] = now, len(text)

    click.echo("Ranking ...", nl=False, file=sys.stderr)
    shown[1] = len("Ranking ...")
    try:
        yield tell
    finally:
        click.echo("\r" + " " * int(shown[1]) + "\r", nl=False, file=sys.stderr)
