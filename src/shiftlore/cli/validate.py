"""`shiftlore validate`: every problem of the knowledge, a unit sheet or a case at once."""

from pathlib import Path
from typing import TYPE_CHECKING

import click

import shiftlore
from shiftlore.basics import Problem, UsageProblem, render_problem
from shiftlore.cli.common import write_out

if TYPE_CHECKING:
    from shiftlore.ranking import Review

FORMATS = ["text", "json", "github"]


@click.command("validate", short_help="Tell every problem of rules, a unit sheet or a case.")
@click.argument("path", type=click.Path(path_type=Path), required=False)
@click.option("--format", "form", type=click.Choice(FORMATS), default="text", show_default=True,
              help="text, json, or github: messages beside the lines of a pull request.")
@click.option("--quick", is_flag=True, help="Only read and check; leave the textbook cases out.")
def command(path: Path | None, form: str, quick: bool) -> None:
    """Tell every problem of a knowledge folder (the shipped one by default), a unit sheet or a case, and what to write.

    For a knowledge folder it also counts what there is, per unit too, and tells how many textbook cases come first.
    """
    if path is not None and not path.exists():
        raise UsageProblem(f"There is no file or folder {path}.")
    report, problems = shiftlore.validate(path, quick)
    _print_report(report, problems, form)
    if any(problem.severity == "error" for problem in problems):
        raise click.exceptions.Exit(1)


def _print_report(report: "Review | None", problems: list[Problem], form: str) -> None:
    if form == "json":
        from shiftlore.reports.validate_text import report_as_json

        write_out(report_as_json(report, problems))
    elif form == "github":
        for problem in problems:
            mark = problem.mark
            where = f"file={mark.file},line={mark.line},col={mark.column},title={problem.code}"
            write_out(f"::{problem.severity} {where}::{problem.what}. {problem.write_instead}")
    else:
        for problem in problems:
            click.echo(render_problem(problem))
        from shiftlore.reports.validate_text import render_report

        write_out(render_report(report, problems))
