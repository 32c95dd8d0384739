"""`shiftlore find` and `explain`: what plain words mean, what a report says, and what one record is in full."""

from collections.abc import Iterable, Mapping
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

import shiftlore
import shiftlore.cli.common as common

if TYPE_CHECKING:
    from shiftlore.knowledge import Cause, Finding, Knowledge
    from shiftlore.words import Hit, Report, SaidAnswer

KINDS = ["finding", "check", "cause", "job", "background", "code"]
LIST_HELP = "List every finding of a unit (or kind) with its answers, and every background; no WORDS then."
UNIT_HELP = "The unit or kind that a report speaks of; without it, gears and parts are taken as they are named."
CASE_HELP = "Print what a report says as a case file; needs --unit."


@click.command("find", short_help="Find findings, checks, causes and jobs by plain words.")
@click.argument("words", nargs=-1, metavar="WORDS...")
@common.format_option
@common.knowledge_option
@click.option("--kind", "kinds", type=click.Choice(KINDS), multiple=True, help="Only this kind; may be given again.")
@click.option("--report", is_flag=True, help="Read WORDS as somebody's report and give the answers that it holds.")
@common.unit_option("unit", UNIT_HELP)
@click.option("--case", "as_case", is_flag=True, help=CASE_HELP)
@common.unit_option("listed", LIST_HELP, "--list")
@click.option("--most", type=common.Whole(1, 200), default=12, help="At most so many.")
def find_command(
    words: tuple[str, ...], form: str, folder: Path | None, kinds: tuple[str, ...], report: bool, unit: str | None,
    as_case: bool, listed: str | None, most: int,
) -> None:  # fmt: skip
    """Find what WORDS speak of: findings, checks, causes, jobs, backgrounds and trouble codes, with their ids.

    With --report, WORDS is what a person said, such as "bangs into second when hot, no codes"; the answer is a
    list of findings with yes, no or a grade, ready to be written into a case, and what was not understood.
    """
    knowledge, text = common.load_trade(folder), " ".join(words)
    if listed is not None:
        rows = _list_entries(knowledge, listed)
        lines = (f"{row['kind']:<10} {row['id']:<36} {row['label']} [{', '.join(row['answers'])}]" for row in rows)
        _print_all(form, {"entries": rows}, lines, "")
    elif not words:
        raise click.UsageError("Say what to find, or --list UNIT for everything that can be entered.")
    elif as_case and unit is None:
        raise click.UsageError("A case needs a unit: add --unit, such as --unit step where it is not known.")
    elif report or as_case:
        _print_report(form, _read(knowledge, unit, text), unit if as_case else None, knowledge)
    else:
        hits = shiftlore.find(knowledge, text, most + 1, kinds or None)
        nothing = "Nothing matches. Try fewer or other words, or --report for a whole sentence."
        _print_all(form, {"hits": hits[:most]}, (_render_hit(knowledge, hit) for hit in hits[:most]), nothing)
        if len(hits) > most:
            click.echo(
                f"There are more; --most {2 * most} shows them, --kind job (or check, ...) only one kind.", err=True
            )


def _read(knowledge: "Knowledge", unit: str | None, text: str) -> "Report":
    """Read a report for a unit, or for any."""
    from shiftlore.compiling import compile_unit
    from shiftlore.words import read_report

    expansion = None if unit is None else compile_unit(knowledge, unit).expansion
    return read_report(knowledge, expansion, text, tell=lambda said: click.echo(said, err=True))


def _print_report(form: str, report: "Report", unit: str | None, knowledge: "Knowledge") -> None:
    """Print answers line by line, as JSON or, for a unit, as a case; what was not understood goes to standard error."""
    if unit is not None:
        from shiftlore.cases import render_case
        from shiftlore.words import make_case

        click.echo(render_case(make_case(knowledge, report, unit)), nl=False)
    else:
        nothing = "Nothing in that matches a finding. Try `shiftlore find` with fewer words."
        _print_all(form, _report_as_dict(report), _report_lines(report), nothing)
    if report.not_understood and form != "json":
        click.echo("not understood: " + "; ".join(report.not_understood), err=True)


def _report_lines(report: "Report") -> Iterable[str]:
    for answer in report.answers:
        yield _answer_line(answer, f"{answer.id}: {answer.answer}")
    for group in report.either:
        yield from (_answer_line(answer, f"one of: {answer.id}: {answer.answer}") for answer in group)
    if report.odometer_km is not None:
        yield f"{'distance':<10} odometer_km: {report.odometer_km}"


def _answer_line(answer: "SaidAnswer", text: str) -> str:
    doubt = f" ({answer.doubt})" if answer.doubt else ""
    when = f" (when {', '.join(answer.when)})" if answer.when else ""
    return f"{answer.kind:<10} {text + doubt + when:<40} {answer.label}".rstrip()


def _report_as_dict(report: "Report") -> dict[str, Any]:
    shown = ("kind", "id", "answer", "label", "code", "score", "matched", "doubt", "when")

    def row(answer: "SaidAnswer") -> dict[str, Any]:
        return {name: getattr(answer, name) for name in shown}

    return {
        "answers": [row(answer) for answer in report.answers],
        "either": [[row(answer) for answer in group] for group in report.either],
        "odometer_km": report.odometer_km,
        "not_understood": list(report.not_understood),
    }


def _print_all(form: str, found: dict[str, Any], lines: Iterable[str], nothing: str) -> None:
    """Print what was found as JSON or line by line; say so on standard error where it is nothing."""
    if form == "json":
        common.write_json(found)
        return
    count = 0
    for count, line in enumerate(lines, 1):  # noqa: B007
        click.echo(line)
    if not count:
        click.echo(nothing, err=True)


def _list_entries(knowledge: "Knowledge", unit_id: str) -> list[dict[str, Any]]:
    """List all that a case of a unit may hold: findings with their answers, and backgrounds."""
    from shiftlore.compiling import compile_unit

    expansion = compile_unit(knowledge, unit_id).expansion
    ways = {key: record.got_by for key, record in expansion.finding_records.items()}
    return [
        {"kind": "finding", "id": key, "answers": node.grades, "label": node.label, "got_by": ways[key]}
        for key, node in expansion.findings.items()
    ] + [
        {"kind": "background", "id": key, "answers": tuple(item.shares), "label": item.label, "got_by": "history"}
        for key, item in knowledge.backgrounds.items()
    ]


def _render_hit(knowledge: "Knowledge", hit: "Hit") -> str:
    """Show a hit: how its id stands in a case (a template ends in the place for its instance), label, answers if graded."""
    templates: dict[str, Mapping[str, Finding | Cause]] = {"finding": knowledge.findings, "cause": knowledge.causes}
    each = templates[hit.kind][hit.id].scope.each if hit.kind in templates else None
    answers: Iterable[str] = ()
    if hit.kind == "background":
        answers = knowledge.backgrounds[hit.id].shares
    elif hit.kind == "finding" and knowledge.findings[hit.id].grades != ("no", "yes"):
        answers = knowledge.findings[hit.id].grades
    pattern = f"{hit.id}_<{each}>" if each else hit.id
    return f"{hit.kind:<10} {pattern:<36} {hit.label}" + (f" [{', '.join(answers)}]" if answers else "")


EXPLAINED_ON = "Work it out on this unit or kind; by default on the kind that leaves most open."

complete_any = common.complete_ids("causes", "findings", "checks", "jobs")


@click.command("explain", short_help="Explain a cause, finding, check, job or trouble code.")
@click.argument("what", nargs=-1, required=True, metavar="ID|CODE|WORDS...", shell_complete=complete_any)
@common.unit_option("unit_id", EXPLAINED_ON)
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
    common.show(form, told, partial(render_explanation, told, everything=everything), plain)
