"""`shiftlore unit`: gear ratios, application chart, torques, and what a lost element or stuck solenoid feels like."""

from pathlib import Path
from typing import TYPE_CHECKING

import click

import shiftlore
import shiftlore.cli.common as common
from shiftlore.basics import KnowledgeError, UsageProblem
from shiftlore.basics.whole_files import read_bounded

if TYPE_CHECKING:
    from shiftlore.sessions import SheetDraft
    from shiftlore.sheets import UnitSheet

LOST_HELP = "Which gears are left when this element holds nothing."
STUCK_HELP = "Which gears are left when this solenoid is stuck."
RATIO_HELP = "Explain a measured ratio of input to output speed."
NETWORK, NETWORK_HELP = "FILE.bif", "Write the unit's network for other programs; without --about some 25 MB."
ABOUT_HELP = "Of the network only what bears on this finding or state."

complete_nodes = common.complete_ids("findings", "states")


@click.command("unit", short_help="Work out a transmission: ratios, who holds what, faults.")
@click.argument("sheet", required=False, shell_complete=common.complete_ids("units"))
@common.format_option
@common.knowledge_option
@click.option("--lost", multiple=True, metavar="ELEMENT", help=LOST_HELP)
@click.option("--stuck", multiple=True, metavar="SOLENOID=on|off", help=STUCK_HELP)
@click.option("--ratio", type=common.Number(-40, 40, example=1.75), metavar="RATIO", help=RATIO_HELP)
@click.option("--faults", is_flag=True, help="Show every lost element and stuck solenoid.")
@click.option("--draw", type=common.A_PATH, metavar="FILE.svg", help="Draw levers and chart into this file.")
@click.option("--network", type=common.A_PATH, metavar=NETWORK, help=NETWORK_HELP)
@click.option("--about", multiple=True, metavar="ID", help=ABOUT_HELP, shell_complete=complete_nodes)
@click.option("--new", type=common.A_PATH, metavar="FILE", help="Ask for a new sheet; write it here.")
@common.force_option
def unit_command(
    sheet: str | None, form: str, folder: Path | None, lost: tuple[str, ...], stuck: tuple[str, ...], ratio: float |
    None, faults: bool, draw: Path | None, network: Path | None, about: tuple[str, ...], new: Path | None, force:
    bool,
) -> None:  # fmt: skip
    """Work out SHEET, the id of a shipped unit or a sheet file: ratios, who holds what, and what a fault feels like."""
    if new is not None:
        common.require_place(new, force=force, ending=".yaml")
        from shiftlore.basics.holding import hold_file

        with hold_file(new):
            _ask_new_sheet(new, force)
        return
    if sheet is None:
        raise click.UsageError("Name a unit or a sheet file, or --new FILE to write one.")
    if about and network is None:
        raise click.UsageError("--about says what of the network is written; give --network FILE.bif with it.")
    if network is not None:
        _write_network(sheet, folder, network, about, force)
        return
    if draw is not None:
        common.require_place(draw, force=force, ending=".svg")
    from shiftlore.reports.unit_text import render_unit

    if Path(sheet).is_file():
        description = shiftlore.describe_unit(None, _read_sheet(Path(sheet)), lost, stuck, ratio)
    else:
        description = shiftlore.describe_unit(common.load_trade(folder), sheet, lost, stuck, ratio)
    if draw is not None:
        from shiftlore.reports.unit_drawing import render_unit_drawing

        common.save_output(draw, render_unit_drawing(description).encode("utf-8"), force)
        click.echo(f"Drawn into {draw}.", err=True)
    if form == "json":
        import json

        from shiftlore.reports.schemas import unit_to_json

        click.echo(json.dumps(unit_to_json(description), indent=2, ensure_ascii=False))
    else:
        click.echo(render_unit(description, show_faults=bool(faults or lost or stuck)))


def _read_sheet(path: Path) -> "UnitSheet":
    """Read a sheet file; warnings go to standard error.

    Raises: KnowledgeError: carries every problem of the sheet.
    """
    from shiftlore.sheets import read_sheet

    record, problems = read_sheet(path)
    if record is None or any(problem.severity == "error" for problem in problems):
        raise KnowledgeError(problems)
    common.tell_problems(problems)
    return record


def _write_network(unit: str, folder: Path | None, path: Path, about: tuple[str, ...], force: bool) -> None:
    """Write a unit's network in the Bayesian interchange format, whole or not at all."""
    common.require_place(path, force=force, ending=".bif")
    common.require_library("pgmpy", "--network")
    if Path(unit).is_file():
        raise UsageProblem(
            f"{unit} is a sheet by itself; a network needs causes too. Put it into the folder units of a knowledge "
            "folder, and give its id and --knowledge FOLDER."
        )
    from shiftlore.compiling import render_bif

    text = render_bif(shiftlore.to_pgmpy(common.load_trade(folder), unit), about)
    common.save_output(path, text.encode("utf-8"), force)
    click.echo(f"The network stands in {path}.", err=True)


def _ask_new_sheet(path: Path, force: bool) -> None:
    """Ask for a sheet line by line and write it once it holds together; every answer is on disk before the next question."""
    from shiftlore.sessions import check_draft, next_question, write_sheet

    click.echo("Have the manual's application chart at hand. An empty line ends a list; b goes back; q stops.")
    kept = path.with_name(path.name + ".answers")
    lines, draft = _resume_sheet(kept)
    while (question := next_question(draft)) is not None:
        click.echo()
        for line in question.listed:
            click.echo(f"  so far: {line}")
        for problem in check_draft(draft) if question.key == "repair" else ():
            click.echo(f"  {problem.what}. {problem.write_instead}")
        click.echo(f"{question.ask}\n  such as: {question.example}")
        try:
            text = common.read_line()
        except EOFError:
            text = "q"
        if text.strip().lower() in ("q", "stop"):
            where = (
                f"What was answered is in {kept}; the same command goes on from there."
                if lines
                else "Nothing was answered."
            )
            raise click.ClickException(f"Stopped; no sheet was written yet. {where}")
        draft, fault = _take_answer(draft, text)
        if fault:
            click.echo(f"  {fault}")
            continue
        lines.append(text.rstrip("\n"))
        common.save_output(kept, "".join(f"{line}\n" for line in lines).encode("utf-8"), force=True)
    common.save_output(path, write_sheet(draft).encode("utf-8"), force)
    kept.unlink(missing_ok=True)
    errors = [problem for problem in check_draft(draft) if problem.severity == "error"]
    if errors:
        common.tell_problems(errors)
        raise click.ClickException(
            f"The sheet stands in {path}, but it does not hold together yet: mend it in an editor."
        )
    click.echo(f"\nThe sheet holds together and stands in {path}. Look at it with: shiftlore unit {path}")


def _resume_sheet(kept: Path) -> "tuple[list[str], SheetDraft]":
    """Give the answers of an interview that was stopped, and the draft that they make.

    Raises: UsageProblem: the file holds something else, which is left alone.
    """
    from shiftlore.reading import CASE_BYTES
    from shiftlore.sessions import SheetDraft

    draft, lines = SheetDraft(), []
    if kept.exists():
        lines = read_bounded(kept, CASE_BYTES).decode("utf-8", "replace").splitlines()
    for number, line in enumerate(lines, 1):
        draft, fault = _take_answer(draft, line)
        if fault:
            advice = "Put the file aside, or mend the line."
            raise UsageProblem(f"{kept}:{number}: This is no answer to what was asked there: {fault} {advice}")
    if lines:
        click.echo(f"Going on with the answers in {kept}.")
    return lines, draft


def _take_answer(draft: "SheetDraft", text: str) -> "tuple[SheetDraft, str]":
    """Take a line: an answer, or a step back. Returns the draft that follows, and what is wrong with the line."""
    from shiftlore.sessions import answer_question, go_back

    return (go_back(draft), "") if text.strip().lower() in ("b", "back") else answer_question(draft, text)
