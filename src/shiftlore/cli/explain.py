"""`shiftlore explain`: a cause, finding, check or job in full."""

from pathlib import Path

import click

import shiftlore
import shiftlore.cli.common as common

UNIT_HELP = "Work it out on this unit or kind; by default on the kind that leaves most open."

complete_any = common.complete_ids("causes", "findings", "checks", "jobs")


@click.command("explain", short_help="Explain a cause, finding, check, job or trouble code.")
@click.argument("what", nargs=-1, required=True, metavar="ID|CODE|WORDS...", shell_complete=complete_any)
@common.unit_option("unit_id", UNIT_HELP)
@click.option("--all", "everything", is_flag=True, help="Every line of every section, and every rule with its place.")
@common.format_option
@common.plain_option
@common.knowledge_option
@common.shop_option
def explain_command(
    what: tuple[str, ...], unit_id: str | None, everything: bool, form: str, plain: bool, folder: Path | None, shop_path:
    Path | None,
) -> None:  # fmt: skip
    """Explain one thing: what it is, what it is mistaken for, how it shows, is checked and cured, and what it costs.

    ID is that of a cause, finding, check or job; a trouble code or plain words do too. The rules behind it are named with
    file and line.
    """
    from shiftlore.reports.explain_text import render_explanation

    told = shiftlore.explain(common.load_trade(folder, shop_path), " ".join(what), unit_id)
    if form == "json":
        common.write_json(told)
        return
    common.show_pages(render_explanation(told, common.terminal_width(), common.strong_mark(plain), everything))
