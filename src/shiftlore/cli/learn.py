"""`shiftlore learn`: numbers from cases with a known end, as an overlay that a person reviews."""

import contextlib
from functools import partial
from pathlib import Path

import click

import shiftlore
import shiftlore.cli.common as common
from shiftlore.basics import ShiftloreError, UsageProblem
from shiftlore.basics.problems import printable
from shiftlore.cli.common import A_PATH

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
    paths: tuple[Path, ...],
    target: Path,
    place: str | None,
    jobs: int | None,
    scheduler: str,
    force: bool,
    folder: Path | None,
    plain: bool,
) -> None:
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
        set_aside: list[str] = []
        tell = stack.enter_context(common.busy("Learning"))
        note = partial(_note_set_aside, set_aside)
        learned = shiftlore.learn(
            knowledge, paths, tell, casebook=book, tell_set_aside=note, jobs=jobs or 1, scheduler=scheduler
        )
    for told in set_aside:
        click.echo(told, err=True)
    if not sum(learned.overlay.cases.values()):
        raise ShiftloreError("There is no closed case to learn from yet. Close some: shiftlore close CASE")
    common.save_output(target, render_overlay(learned.overlay).encode(), force)
    strong = common.strong_mark(plain)
    common.show_pages(render_learned(knowledge, learned.overlay, len(learned.refused), common.terminal_width(), strong))
    click.echo(f"\nWritten to {target}. Look through it before you use it: shiftlore rank CASE --overlay {target}")


def _note_set_aside(told: list[str], entry_id: str, why: str) -> None:
    told.append(f"Case {entry_id[:8]} of the casebook was left out: {printable(why)}")
