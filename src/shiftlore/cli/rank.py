"""`shiftlore rank`: the ranked causes of a case."""

from pathlib import Path

import click

import shiftlore
from shiftlore.cli.common import (
    case_argument,
    format_option,
    knowledge_option,
    plain_option,
    read_case_file,
    require_library,
    strong_mark,
    terminal_width,
    write_json,
    write_out,
)


@click.command("rank", short_help="Rank the causes of a case.")
@case_argument
@format_option
@plain_option
@knowledge_option
@click.option("--audit", is_flag=True, help="Recompute the leading causes with pgmpy and tell the largest difference.")
@click.option("--all", "show_all", is_flag=True, help="Show every cause, not only the leading ones.")
def command(
    case_path: str, form: str, plain: bool, knowledge_path: Path | None, audit: bool, show_all: bool
) -> None:
    """Rank the causes of CASE (a file, or - for standard input): what it may be, and what speaks for and against."""
    from shiftlore.reports.rank_text import SHOWN_CAUSES, render_ranking

    if audit:
        require_library("pgmpy", "--audit")
    knowledge = shiftlore.load(knowledge_path)
    case = read_case_file(case_path, knowledge)
    ranking = shiftlore.rank(knowledge, case, audit=audit)
    if form == "json":
        write_json(ranking)
        return
    count = len(ranking.causes) if show_all else SHOWN_CAUSES
    write_out(render_ranking(ranking, case.odometer_km, terminal_width(), strong_mark(plain), count))
