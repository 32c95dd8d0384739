"""`shiftlore find`: findings, checks, causes and jobs that match plain words."""

from pathlib import Path
from typing import TYPE_CHECKING

import click

import shiftlore
from shiftlore.cli.common import format_option, knowledge_option, write_out
from shiftlore.reports.as_json import render_json

if TYPE_CHECKING:
    from shiftlore.knowledge import Knowledge

KINDS = ["finding", "check", "cause", "job", "background", "code"]


@click.command("find", short_help="Find findings, checks, causes and jobs by plain words.")
@click.argument("words", nargs=-1, metavar="WORDS...")
@format_option
@knowledge_option
@click.option("--kind", "kinds", type=click.Choice(KINDS), multiple=True, help="Only this kind; may be given again.")
@click.option("--report", is_flag=True, help="Read WORDS as somebody's report and give the answers that it holds.")
@click.option("--list", "list_unit", default=None, metavar="UNIT",
              help="List every finding of a unit (or kind) with its answers, and every background; no WORDS then.")
@click.option("--most", type=click.IntRange(1, 200), default=12, show_default=True, help="At most so many.")
def command(
    words: tuple[str, ...], form: str, knowledge_path: Path | None, kinds: tuple[str, ...], report: bool,
    list_unit: str | None, most: int,
) -> None:
    """Find what WORDS speak of: findings, checks, causes, jobs, backgrounds and trouble codes, with their ids.

    With --report, WORDS is what a person said, such as "bangs into second when hot, no codes"; the answer is a
    list of findings with yes, no or a grade, ready to be written into a case.
    """
    knowledge, text = shiftlore.load(knowledge_path), " ".join(words)
    if list_unit is not None:
        _print_all(knowledge, list_unit, form)
        return
    if not words:
        raise click.UsageError("Say what to find, or --list UNIT for everything that can be entered.")
    if report:
        _print_report(knowledge, text, form, most)
        return
    hits = shiftlore.find(knowledge, text, most, kinds or None)
    if form == "json":
        write_out(render_json({"hits": hits}))
        return
    for hit in hits:
        write_out(f"{hit.kind:<10} {_id_pattern(knowledge, hit.kind, hit.id):<36} {hit.label}{_grades(knowledge, hit)}")
    if not hits:
        click.echo("Nothing matches. Try fewer or other words.", err=True)


def _print_all(knowledge: "Knowledge", unit_id: str, form: str) -> None:
    """Print all that a case of a unit may hold: findings with their answers, and backgrounds."""
    from shiftlore.compiling import compile_unit

    expansion = compile_unit(knowledge, unit_id).expansion
    records = expansion.finding_records
    rows = [
        {"kind": "finding", "id": key, "answers": node.grades, "label": node.label, "got_by": records[key].got_by}
        for key, node in expansion.findings.items()
    ]
    rows += [
        {"kind": "background", "id": key, "answers": tuple(item.shares), "label": item.label, "got_by": "history"}
        for key, item in knowledge.backgrounds.items()
    ]
    if form == "json":
        write_out(render_json({"entries": rows}))
        return
    for row in rows:
        write_out(f"{row['kind']:<10} {row['id']:<36} {row['label']} [{', '.join(row['answers'])}]")


def _id_pattern(knowledge: "Knowledge", kind: str, record_id: str) -> str:
    """Show how the id stands in a case: a template ends in the place for its instance."""
    each = None
    if kind == "finding":
        each = knowledge.findings[record_id].scope.each
    elif kind == "cause":
        each = knowledge.causes[record_id].scope.each
    return f"{record_id}_<{each}>" if each else record_id


def _grades(knowledge: "Knowledge", hit: object) -> str:
    """Show the answers that a graded finding or a background takes."""
    kind, record_id = hit.kind, hit.id  # type: ignore[attr-defined]
    if kind == "finding" and knowledge.findings[record_id].grades != ("no", "yes"):
        return f" [{', '.join(knowledge.findings[record_id].grades)}]"
    if kind == "background":
        return f" [{', '.join(knowledge.backgrounds[record_id].shares)}]"
    return ""


def _print_report(knowledge: "Knowledge", text: str, form: str, most: int) -> None:
    """Print the answers that a report seems to hold."""
    from shiftlore.words import read_free_text

    found = read_free_text(knowledge, text, most=most)
    if form == "json":
        write_out(render_json({"answers": [
            {"kind": one.kind, "id": one.expanded_id, "answer": one.answer, "label": one.label, "code": one.code,
             "score": one.score, "matched": one.matched} for one in found
        ]}))
        return
    for one in found:
        key = one.code or one.expanded_id
        write_out(f"{one.kind:<10} {key + ': ' + (one.answer or '?'):<40} {one.label.replace('{name}', 'a gear')}")
    if not found:
        click.echo("Nothing in that matches a finding. Try `shiftlore find` with fewer words.", err=True)
