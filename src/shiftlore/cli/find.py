"""`shiftlore find`: findings, checks, causes and jobs that match plain words."""

from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

import shiftlore
import shiftlore.cli.common as common

if TYPE_CHECKING:
    from shiftlore.knowledge import Cause, Finding, Knowledge
    from shiftlore.words import Hit

KINDS = ["finding", "check", "cause", "job", "background", "code"]
LIST_HELP = "List every finding of a unit (or kind) with its answers, and every background; no WORDS then."


@click.command("find", short_help="Find findings, checks, causes and jobs by plain words.")
@click.argument("words", nargs=-1, metavar="WORDS...")
@common.format_option
@common.knowledge_option
@click.option("--kind", "kinds", type=click.Choice(KINDS), multiple=True, help="Only this kind; may be given again.")
@click.option("--report", is_flag=True, help="Read WORDS as somebody's report and give the answers that it holds.")
@click.option("--list", "unit", metavar="UNIT", help=LIST_HELP)
@click.option("--most", type=click.IntRange(1, 200), default=12, help="At most so many.")
def find_command(
    words: tuple[str, ...], form: str, folder: Path | None, kinds: tuple[str, ...], report: bool, unit: str | None,
    most: int,
) -> None:  # fmt: skip
    """Find what WORDS speak of: findings, checks, causes, jobs, backgrounds and trouble codes, with their ids.

    With --report, WORDS is what a person said, such as "bangs into second when hot, no codes"; the answer is a
    list of findings with yes, no or a grade, ready to be written into a case.
    """
    knowledge, text = common.load_trade(folder), " ".join(words)
    if unit is not None:
        rows = _list_entries(knowledge, unit)
        lines = (f"{row['kind']:<10} {row['id']:<36} {row['label']} [{', '.join(row['answers'])}]" for row in rows)
        _print_all(form, {"entries": rows}, lines, "")
    elif not words:
        raise click.UsageError("Say what to find, or --list UNIT for everything that can be entered.")
    elif report:
        answers = _read_report(knowledge, text, most)
        lines = (
            f"{row['kind']:<10} {(row['code'] or row['id']) + ': ' + (row['answer'] or '?'):<40} "
            + row["label"].replace("{name}", "a gear")
            for row in answers
        )
        nothing = "Nothing in that matches a finding. Try `shiftlore find` with fewer words."
        _print_all(form, {"answers": answers}, lines, nothing)
    else:
        hits = shiftlore.find(knowledge, text, most, kinds or None)
        nothing = "Nothing matches. Try fewer or other words."
        _print_all(form, {"hits": hits}, (_render_hit(knowledge, hit) for hit in hits), nothing)


def _print_all(form: str, found: dict[str, Any], lines: Iterable[str], nothing: str) -> None:
    """Print what was found as JSON or line by line; say so on standard error where it is nothing."""
    if form == "json":
        common.write_json(found)
        return
    for line in lines:
        click.echo(line)
    if not any(found.values()):
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


def _read_report(knowledge: "Knowledge", text: str, most: int) -> list[dict[str, Any]]:
    """Read the answers that a report seems to hold."""
    from shiftlore.words import read_free_text

    shown = ("kind", "expanded_id", "answer", "label", "code", "score", "matched")
    found = read_free_text(knowledge, text, most=most)
    return [{"id" if name == "expanded_id" else name: getattr(one, name) for name in shown} for one in found]


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
