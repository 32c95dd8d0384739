"""`shiftlore learn`: numbers from cases with a known end, as an overlay that a person reviews."""

from pathlib import Path

import click

import shiftlore
import shiftlore.cli.common as common
from shiftlore.basics import UsageProblem
from shiftlore.cli.common import A_PATH


@click.command("learn", short_help="Learn numbers from finished cases, as an overlay to review.")
@click.argument("paths", metavar="CASES...", type=A_PATH, nargs=-1, required=True)
@click.option("--into", "target", type=A_PATH, required=True, metavar="FILE", help="The overlay, a YAML file.")
@common.jobs_option
@common.scheduler_option
@common.force_option
@common.knowledge_option
@common.plain_option
def learn_command(
    paths: tuple[Path, ...],
    target: Path,
    jobs: int | None,
    scheduler: str,
    force: bool,
    folder: Path | None,
    plain: bool,
) -> None:
    """Learn base rates and strengths from CASES: case files, folders of them, or folders of published repairs.

    A case says what it was under `outcome`, or by a job that cured it; one that does not counts little. The rules count as
    cases of their own and stay as they are written: what was learned goes into an overlay. Review it, then use it with
    `shiftlore rank CASE --overlay FILE`.
    """
    from shiftlore.reports.learn_text import render_learned, render_overlay

    for path in paths:
        if not path.exists():
            raise UsageProblem(f"There is no file or folder {path}.")
    common.require_place(target, force=force, ending=".yaml|.yml")
    knowledge = common.load_trade(folder)
    with common.busy("Learning") as tell:
        learned = shiftlore.learn(knowledge, paths, tell, jobs=jobs or 1, scheduler=scheduler)
    common.save_output(target, render_overlay(learned.overlay).encode(), force)
    strong = common.strong_mark(plain)
    common.show_pages(render_learned(knowledge, learned.overlay, len(learned.refused), common.terminal_width(), strong))
    click.echo(f"\nWritten to {target}. Look through it before you use it: shiftlore rank CASE --overlay {target}")
