"""`shiftlore rank`: the ranked causes of a case."""

from pathlib import Path

import click

import shiftlore
import shiftlore.cli.common as common


@click.command("rank", short_help="Rank the causes of a case.")
@common.case_options
@click.option("--audit", is_flag=True, help="Recompute the leading causes with pgmpy and tell the largest difference.")
@click.option("--rules-alone", is_flag=True, help="Leave out what published repairs have taught beside the rules.")
@click.option(
    "--overlay", type=common.A_PATH, metavar="FILE", help="Lay numbers that cases have taught over the rules."
)
@click.option("--all", "show_all", is_flag=True, help="Show every cause, not only the leading ones.")
def rank_command(
    case_path: str,
    form: str,
    plain: bool,
    folder: Path | None,
    timing: bool,
    audit: bool,
    rules_alone: bool,
    overlay: Path | None,
    show_all: bool,
) -> None:
    """Rank the causes of CASE (a file, or - for standard input): what it may be, and what speaks for and against."""
    from shiftlore.reports.rank_text import SHOWN_CAUSES, render_ranking

    if audit:
        common.require_library("pgmpy", "--audit")
    knowledge = common.load_trade(folder, overlay=overlay)
    knowledge = knowledge.with_rules_alone() if rules_alone else knowledge
    case = common.read_case_file(case_path, knowledge)
    own = {Path(case_path).stem}  # a case that was entered from a published repair carries its name
    ranking = shiftlore.rank(knowledge, case, audit=audit, remembered=common.recall_cases(), leave_out=own)
    if form == "json":
        common.write_json(ranking, timing)
        return
    common.tell_time(ranking.seconds, timing)
    count = len(ranking.causes) if show_all else SHOWN_CAUSES
    strong = common.strong_mark(plain)
    common.show_pages(render_ranking(ranking, case.odometer_km, common.terminal_width(), strong, count))
