"""`shiftlore simulate`: vehicles drawn from a unit's own network, put through several ways of working."""

import sys
from pathlib import Path

import click

import shiftlore
from shiftlore.cli.common import format_option, knowledge_option, write_out

POLICIES = ["planner", "cheapest_check", "likeliest_cause", "fixed_order", "overhaul"]
MOST_VEHICLES = 100_000
BAR_WIDTH = 30


@click.command("simulate", short_help="Compare ways of working on simulated vehicles.")
@click.argument("unit_id", metavar="UNIT")
@click.option("--vehicles", type=click.IntRange(1, MOST_VEHICLES), default=100, show_default=True, metavar="N",
              help="How many vehicles to draw.")
@click.option("--seed", type=click.IntRange(0), default=1, show_default=True, metavar="N",
              help="The same seed draws the same vehicles.")
@click.option("--policy", "policies", type=click.Choice(POLICIES), multiple=True,
              help="Only this way of working; may be given again.")
@format_option
@knowledge_option
def command(
    unit_id: str, vehicles: int, seed: int, policies: tuple[str, ...], form: str, knowledge_path: Path | None
) -> None:
    """Compare ways of working on vehicles of UNIT: what owners pay on average, and how many vehicles are cured.

    UNIT is the id of a unit sheet or a kind. The vehicles, their faults and what each check shows are drawn by chance
    from the knowledge; every way of working gets the same vehicles.
    """
    from shiftlore.reports.as_json import render_json
    from shiftlore.reports.simulate_text import render_simulation

    knowledge = shiftlore.load(knowledge_path)
    bar = _Bar(vehicles)
    result = shiftlore.simulate(knowledge, unit_id, vehicles, seed, policies=policies or None, tell_done=bar.move)
    bar.clear()
    write_out(render_json(result) if form == "json" else render_simulation(result))


class _Bar:
    """A line on standard error that fills up; nothing where that is no terminal."""

    def __init__(self, total: int):
        self.total = total
        self.shown = -1
        self.is_wanted = sys.stderr.isatty()

    def move(self, done: int) -> None:
        """Show how far it is, where that has changed."""
        filled = BAR_WIDTH * done // self.total
        percent = 100 * done // self.total
        if self.is_wanted and percent != self.shown:
            self.shown = percent
            click.echo(f"\r[{'#' * filled}{'.' * (BAR_WIDTH - filled)}] {percent:>3} %", nl=False, err=True)

    def clear(self) -> None:
        """Take the line away again."""
        if self.is_wanted:
            click.echo("\r" + " " * (BAR_WIDTH + 8) + "\r", nl=False, err=True)
