"""`shiftlore unit`: gear ratios, application chart, torques, and what a lost element or stuck solenoid feels like."""

from pathlib import Path
from typing import TYPE_CHECKING

import click

import shiftlore
from shiftlore.basics import KnowledgeError, UsageProblem
from shiftlore.cli.common import (
    format_option,
    knowledge_option,
    read_line,
    refuse_existing,
    require_library,
    tell_problem,
    write_out,
)

if TYPE_CHECKING:
    from shiftlore.gearing import UnitDescription
    from shiftlore.sheets import UnitSheet


@click.command("unit", short_help="Work out a transmission: ratios, who holds what, faults.")
@click.argument("sheet", required=False)
@format_option
@knowledge_option
@click.option("--lost", multiple=True, metavar="ELEMENT", help="Which gears are left when this element holds nothing.")
@click.option("--stuck", multiple=True, metavar="SOLENOID=on|off",
              help="Which gears are left when this solenoid is stuck.")
@click.option("--ratio", type=float, default=None, metavar="RATIO",
              help="Explain a measured ratio of input to output speed.")
@click.option("--faults", is_flag=True, help="Show every lost element and stuck solenoid.")
@click.option("--draw", type=click.Path(path_type=Path), default=None, metavar="FILE.svg",
              help="Draw levers and chart into this file.")
@click.option("--network", "network_path", type=click.Path(path_type=Path), default=None, metavar="FILE.bif",
              help="Write the unit's network for other programs; without --about some 25 MB.")
@click.option("--about", multiple=True, metavar="ID", help="Of the network only what bears on this finding or state.")
@click.option("--new", "new_path", type=click.Path(path_type=Path), default=None, metavar="FILE",
              help="Ask for a new sheet; write it here.")
@click.option("--force", is_flag=True, help="Overwrite an existing file.")
def command(
    sheet: str | None, form: str, knowledge_path: Path | None, lost: tuple[str, ...], stuck: tuple[str, ...],
    ratio: float | None, faults: bool, draw: Path | None, network_path: Path | None, about: tuple[str, ...],
    new_path: Path | None, force: bool,
) -> None:
    """Work out SHEET, the id of a shipped unit or a sheet file: ratios, who holds what, and what a fault feels like."""
    if new_path is not None:
        refuse_existing(new_path, force)
        _ask_new_sheet(new_path)
        return
    if sheet is None:
        raise click.UsageError("Name a unit or a sheet file, or --new FILE to write one.")
    if about and network_path is None:
        raise click.UsageError("--about says what of the network is written; give --network FILE.bif with it.")
    if network_path is not None:
        _write_network(sheet, knowledge_path, network_path, about, force)
        return
    from shiftlore.reports.as_json import unit_to_json
    from shiftlore.reports.unit_text import render_unit

    if Path(sheet).is_file():
        description = shiftlore.describe_unit(None, _read_sheet(Path(sheet)), lost, stuck, ratio)
    else:
        description = shiftlore.describe_unit(shiftlore.load(knowledge_path), sheet, lost, stuck, ratio)
    if draw is not None:
        _draw(description, draw, force)
    if form == "json":
        import json

        write_out(json.dumps(unit_to_json(description), indent=2, ensure_ascii=False))
        return
    write_out(render_unit(description, show_faults=bool(faults or lost or stuck)))


def _read_sheet(path: Path) -> "UnitSheet":
    """Read a sheet file; warnings go to standard error.

    Raises: KnowledgeError: carries every problem of the sheet.
    """
    from shiftlore.sheets import read_sheet

    record, problems = read_sheet(path)
    if record is None or any(problem.severity == "error" for problem in problems):
        raise KnowledgeError(problems)
    for problem in problems:
        tell_problem(problem)
    return record


def _draw(description: "UnitDescription", path: Path, force: bool) -> None:
    from shiftlore.reports.unit_drawing import render_unit_drawing

    refuse_existing(path, force)
    path.write_text(render_unit_drawing(description), encoding="utf-8")
    click.echo(f"Drawn into {path}.", err=True)


def _write_network(unit: str, knowledge_path: Path | None, path: Path, about: tuple[str, ...], force: bool) -> None:
    """Write a unit's network in the Bayesian interchange format, whole or not at all."""
    if path.suffix.lower() != ".bif":
        raise UsageProblem(f"{path} is no network file. Give a file name that ends in .bif.")
    refuse_existing(path, force)
    require_library("pgmpy", "--network")
    if Path(unit).is_file():
        raise UsageProblem(
            f"{unit} is a sheet by itself; a network needs causes too. Put it into the folder units of a knowledge "
            "folder, and give its id and --knowledge FOLDER."
        )
    from shiftlore.compiling import render_bif
    from shiftlore.reports.page_files import save_whole

    text = render_bif(shiftlore.to_pgmpy(shiftlore.load(knowledge_path), unit), about)
    save_whole(path, text.encode("utf-8"))
    click.echo(f"The network stands in {path}.", err=True)


def _ask_new_sheet(path: Path) -> None:
    """Ask for a sheet line by line and write it once it holds together."""
    from shiftlore.sessions import answer_question, check_draft, go_back, next_question, start_sheet, write_sheet

    click.echo("Have the manual's application chart at hand. An empty line ends a list; b goes back; q stops.")
    draft = start_sheet()
    while (question := next_question(draft)) is not None:
        click.echo()
        for line in question.listed:
            click.echo(f"  so far: {line}")
        if question.key == "repair":
            for problem in check_draft(draft):
                click.echo(f"  {problem.what}. {problem.write_instead}")
        click.echo(f"{question.ask}\n  such as: {question.example}")
        try:
            text = read_line()
        except EOFError:
            raise UsageProblem("The input ended before the sheet was done; no sheet was written.") from None
        if text.strip().lower() in ("q", "stop"):
            raise UsageProblem("Stopped; no sheet was written.")
        if text.strip().lower() in ("b", "back"):
            draft = go_back(draft)
            continue
        draft, fault = answer_question(draft, text)
        if fault:
            click.echo(f"  {fault}")
    errors = [problem for problem in check_draft(draft) if problem.severity == "error"]
    path.write_text(write_sheet(draft), encoding="utf-8")
    if errors:
        for problem in errors:
            tell_problem(problem)
        raise UsageProblem(f"The sheet stands in {path}, but it does not hold together yet: mend it in an editor.")
    click.echo(f"\nThe sheet holds together and stands in {path}. Look at it with: shiftlore unit {path}")
