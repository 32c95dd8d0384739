"""`shiftlore fleet`, `learn` and `simulate`: many cases ranked, many learned from, many vehicles drawn."""

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
from shiftlore.basics import ShiftloreError, UsageProblem
from shiftlore.basics.problems import printable
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
    source: str, target: Path, jobs: int | None, scheduler: str, count: int, chunk: int, overlay: Path | None, force: bool,
    timing: bool, folder: Path | None,
) -> int:  # fmt: skip
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


BOOK_HELP = "Learn from a casebook too: your own, or one that is named here."


@click.command("learn", short_help="Learn numbers from finished cases, as an overlay to review.")
@click.argument("paths", metavar="[CASES]...", type=A_PATH, nargs=-1)
@click.option("--into", "target", type=A_PATH, required=True, metavar="FILE", help="The overlay, a YAML file.")
@click.option("--casebook", "place", is_flag=False, flag_value="", metavar="[PLACE]", help=BOOK_HELP)
@common.jobs_option
@common.scheduler_option
@common.force_option
@common.knowledge_option
@common.plain_option
def learn_command(
    paths: tuple[Path, ...], target: Path, place: str | None, jobs: int | None, scheduler: str, force: bool,
    folder: Path | None, plain: bool,
) -> None:  # fmt: skip
    """Learn base rates and strengths from CASES: case files, folders of them, or folders of published repairs.

    A case says what it was under `outcome`, or by a job that cured it; one that does not counts little. The rules count as
    cases of their own and stay as they are written: what was learned goes into an overlay. Review it, then use it with
    `shiftlore rank CASE --overlay FILE`, or everywhere: shiftlore shop overlay=FILE. With --casebook the closed cases of the
    casebook are learned from too; one whose file is among CASES counts once.
    """
    from shiftlore.reports.trials_text import render_learned, render_overlay

    if not paths and place is None:
        raise UsageProblem("There is nothing to learn from. Name cases, or add --casebook.")
    for path in paths:
        if not path.exists():
            raise UsageProblem(f"There is no file or folder {path}.")
    common.require_place(target, force=force, ending=".yaml|.yml")
    knowledge = common.load_trade(folder)
    with contextlib.ExitStack() as stack:
        book = None if place is None else stack.enter_context(shiftlore.open_casebook(place or None))
        set_aside: list[tuple[str, str]] = []
        tell = stack.enter_context(common.busy("Learning"))
        learned = shiftlore.learn(
            knowledge, paths, tell, casebook=book, tell_set_aside=lambda *told: set_aside.append(told), jobs=jobs or 1,
            scheduler=scheduler,
        )  # fmt: skip
    for entry_id, why in set_aside:
        click.echo(f"Case {entry_id[:8]} of the casebook was left out: {printable(why)}", err=True)
    if not sum(learned.overlay.cases.values()):
        raise ShiftloreError("There is no closed case to learn from yet. Close some: shiftlore close CASE")
    common.save_output(target, render_overlay(learned.overlay).encode(), force)
    strong = common.strong_mark(plain)
    common.show_pages(render_learned(knowledge, learned.overlay, len(learned.refused), common.terminal_width(), strong))
    click.echo(f"\nWritten to {target}. Look through it before you use it: shiftlore rank CASE --overlay {target}")


POLICIES = ["planner", "best_value", "careful", "likeliest_cheapest", "cheapest_check", "likeliest_cause", "fixed_order",
            "overhaul"]  # fmt: skip
MOST_VEHICLES = 100_000


@click.command("simulate", short_help="Compare ways of working on simulated vehicles.")
@click.argument("unit_id", metavar="UNIT", shell_complete=common.complete_ids("units"))
@click.option(
    "--vehicles", type=common.Whole(1, MOST_VEHICLES), default=100, metavar="N", help="How many vehicles to draw."
)
@click.option("--seed", type=common.Whole(0), default=1, metavar="N", help="The same seed draws the same vehicles.")
@click.option(
    "--policy", type=click.Choice(POLICIES), multiple=True, help="Only this way of working; may be given again."
)
@click.option(
    "--visits", type=common.Whole(0), default=0, metavar="N", help="Tell the first N vehicles act by act as well."
)
@common.format_option
@common.knowledge_option
@common.shop_option
def simulate_command(
    unit_id: str, vehicles: int, seed: int, policy: tuple[str, ...], visits: int, form: str, folder: Path | None, shop_path:
    Path | None,
) -> None:  # fmt: skip
    """Compare ways of working on vehicles of UNIT: what owners pay on average, and how many vehicles are cured.

    UNIT is the id of a unit sheet or a kind. The vehicles, their faults and what each check shows are drawn by chance
    from the knowledge; every way of working gets the same vehicles.
    With --visits whole visits are told, as the first way of working has them.
    """
    from shiftlore.reports.trials_text import render_simulation

    knowledge = common.load_trade(folder, shop_path)
    with common.busy("Putting vehicles through the shop") as tell:
        result = shiftlore.simulate(
            knowledge,
            unit_id,
            vehicles,
            seed,
            policies=policy or None,
            visits=min(visits, vehicles),
            tell_done=lambda done: tell(done / vehicles),
        )
    if form == "json":
        common.write_json(result)
    else:
        click.echo(render_simulation(result))
