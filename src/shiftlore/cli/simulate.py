"""`shiftlore simulate`: vehicles drawn from a unit's own network, put through several ways of working."""

from pathlib import Path

import click

import shiftlore
import shiftlore.cli.common as common

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
