"""`shiftlore validate` and `shiftlore schema`: what is wrong with a file, and what may stand in one."""

import json
from pathlib import Path

import click

import shiftlore
import shiftlore.cli.common as common
from shiftlore.basics import Problem, UsageProblem, render_problem
from shiftlore.cli.common import A_PATH
from shiftlore.reports.schemas import NAMES

FORMATS = ["text", "json", "github"]


@click.command("validate", short_help="Tell every problem of rules, a unit sheet or a case.")
@click.argument("path", type=A_PATH, required=False)
@click.option(
    "--format",
    "form",
    type=click.Choice(FORMATS),
    default="text",
    help="text, json, or github: messages beside the lines of a pull request.",
)
@click.option("--quick", is_flag=True, help="Only read and check; leave the textbook cases out.")
@click.option(
    "--repairs", type=A_PATH, metavar="FOLDER", help="Rank the published repairs of a folder; PATH is then the rules."
)
def validate_command(path: Path | None, form: str, quick: bool, repairs: Path | None) -> None:
    """Tell every problem of a knowledge folder (the shipped one by default), a unit sheet or a case, and what to write.

    With --repairs it tells how often the area of what it was comes first, and what spoke against it where it does not.
    For a knowledge folder it also counts what there is, per unit too, and tells how many textbook cases come first.
    """
    if path is not None and not path.exists():
        raise UsageProblem(f"There is no file or folder {path}.")
    if repairs is not None:
        _score_repairs(path, repairs, form)
        return
    from shiftlore.reports.trials_text import render_report, report_as_json

    report, problems = shiftlore.validate(path, quick)
    if form == "json":
        click.echo(report_as_json(report, problems))
    else:
        for problem in problems:
            click.echo(_render_for_github(problem) if form == "github" else render_problem(problem))
    if form == "text":
        click.echo(render_report(report, problems))
    if any(problem.severity == "error" for problem in problems):
        raise click.exceptions.Exit(1)


def _score_repairs(path: Path | None, folder: Path, form: str) -> None:
    if not folder.is_dir():
        raise UsageProblem(f"There is no folder {folder}.")
    from shiftlore.reports.trials_text import render_scores

    with common.busy("Ranking the repairs") as tell:
        scores = shiftlore.score_repairs(shiftlore.load(path), folder, lambda done, count: tell(done / count))
    if form == "json":
        common.write_json(scores)
    else:
        click.echo(render_scores(scores))


def _render_for_github(problem: Problem) -> str:
    """Write a workflow command. Source: GitHub's own toolkit, which escapes data and properties so."""
    mark = problem.mark
    file = _escape(mark.file).replace(":", "%3A").replace(",", "%2C")
    where = f"file={file},line={mark.line},col={mark.column},title={problem.code}"
    return f"::{problem.severity} {where}::{_escape(f'{problem.what}. {problem.write_instead}')}"


def _escape(text: str) -> str:
    return text.replace("%", "%25").replace("\r", "%0D").replace("\n", "%0A")


@click.command("schema", short_help="Print the JSON Schema of a file or a result.")
@click.argument("name", type=click.Choice(NAMES))
def schema_command(name: str) -> None:
    """Print the JSON Schema (2020-12) of a case, of the knowledge, or of a command's JSON output."""
    click.echo(json.dumps(shiftlore.schema(name), indent=2, ensure_ascii=False))
