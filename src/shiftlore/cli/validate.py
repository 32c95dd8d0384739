"""`shiftlore validate`: every problem of the knowledge, a unit sheet or a case at once."""

from pathlib import Path
from typing import TYPE_CHECKING

import click

from shiftlore.basics import CaseError, Problem, UsageProblem, render_problem
from shiftlore.cli.common import read_case_file, write_out

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
    if path is None or path.is_dir():
        report, problems = _validate_knowledge(path, quick)
    else:
        report, problems = None, _validate_file(path)
    _print_report(report, problems, form)
    if any(problem.severity == "error" for problem in problems):
        raise click.exceptions.Exit(1)


def _validate_knowledge(path: Path | None, quick: bool) -> "tuple[Review | None, list[Problem]]":
    from shiftlore.knowledge import collect_knowledge

    knowledge, problems = collect_knowledge(path)
    if quick or any(problem.severity == "error" for problem in problems):
        return None, problems
    from shiftlore.ranking import review_knowledge

    return review_knowledge(knowledge), problems


def _validate_file(path: Path) -> list[Problem]:
    """Judge a single file: a unit sheet where it states gears, else a case."""
    from shiftlore.gearing import check_sheet
    from shiftlore.knowledge import load_knowledge
    from shiftlore.sheets import is_sheet_file, read_sheet

    if is_sheet_file(path):
        sheet, problems = read_sheet(path)
        return problems if sheet is None else [*problems, *check_sheet(sheet)]
    try:
        case, _ = read_case_file(str(path), load_knowledge(None))
    except CaseError as error:
        return list(error.problems)
    return list(case.warnings)


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
