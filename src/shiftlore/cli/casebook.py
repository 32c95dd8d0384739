"""`shiftlore casebook`: looks closed cases up, counts, exports, imports and forgets them."""

import contextlib
import datetime
import os
import sys
import tempfile
from collections.abc import Callable, Iterator
from functools import partial
from pathlib import Path
from typing import IO, TYPE_CHECKING

import click

import shiftlore
import shiftlore.cli.common as common
from shiftlore.basics import ShiftloreError, UsageProblem
from shiftlore.basics.problems import printable

if TYPE_CHECKING:
    from shiftlore.casebook import Imported

PLACE_HELP = "A casebook's file, or the address of a PostgreSQL; your own by default, or what `shiftlore shop` says."
OWN_FILE = 0o600
_AT_ONCE = 1 << 20

place_option = click.option("--casebook", "place", metavar="PLACE", help=PLACE_HELP)


@click.group("casebook", short_help="Look closed cases up; count, export, import and forget them.")
def casebook_command() -> None:
    """Look up what came in, what it was and what came of it; `shiftlore close` puts a case in.

    The casebook is a file of your own, or a PostgreSQL that several benches share: shiftlore shop casebook=PLACE.
    """


@click.command("list", short_help="List closed cases.")
@place_option
@click.option("--area", metavar="AREA", help="Only of this area.", shell_complete=common.complete_ids("areas"))
@common.unit_option("unit", "Only of this unit or kind.")
@click.option("--cause", metavar="ID", help="Only what was this cause.", shell_complete=common.complete_ids("causes"))
@click.option("--person", metavar="TEXT", help="Only this person's.")
@click.option("--since", type=common.DAY, help="Only what was closed on this date or later.")
@common.format_option
@common.plain_option
def list_command(
    area: str | None, unit: str | None, cause: str | None, person: str | None, since: datetime.datetime | None,
    form: str, plain: bool, place: str | None,
) -> None:  # fmt: skip
    """List closed cases, oldest first."""
    from shiftlore.casebook import plain_entry
    from shiftlore.reports.shop_text import render_entries

    day = since.date().isoformat() if since else None
    with shiftlore.open_casebook(place) as book:
        found = book.entries(area, unit, cause, day, person)
    common.show(form, {"entries": [plain_entry(one) for one in found]}, partial(render_entries, found), plain)


@click.command("show", short_help="Show one closed case in full.")
@place_option
@click.argument("entry_id", metavar="ID")
@common.format_option
@common.plain_option
def show_command(entry_id: str, form: str, plain: bool, place: str | None) -> None:
    """Show the closed case ID in full; the first digits of it will do."""
    from shiftlore.casebook import plain_entry
    from shiftlore.reports.shop_text import render_entry

    with shiftlore.open_casebook(place) as book:
        found = book.get(entry_id)
    common.show(form, {"entries": [plain_entry(found)]}, partial(render_entry, found), plain)


@click.command("counts", short_help="Count cases by outcome, area, cause and unit.")
@place_option
@common.format_option
@common.plain_option
def counts_command(form: str, plain: bool, place: str | None) -> None:
    """Count cases by outcome, area, cause and unit, those that were forgotten too."""
    from shiftlore.reports.shop_text import render_counts

    with shiftlore.open_casebook(place) as book:
        counts = book.counts()
    common.show(form, {"counts": counts}, partial(render_counts, counts), plain)


@click.command("report", short_help="Write a page of what the closed cases say.")
@place_option
@click.argument("target", metavar="FILE.html", type=common.A_PATH)
@common.force_option
@common.knowledge_option
def report_command(target: Path, force: bool, folder: Path | None, place: str | None) -> None:
    """Write FILE.html for the shop's head: what came in, what it was, what was cured at once, and what the checks were worth.

    It names no owner. Prices are your own (shiftlore shop), and what your cases have taught is what the overlay says that your
    settings name.
    """
    from shiftlore.casebook.tallies import tally_casebook
    from shiftlore.reports.casebook_page import render_casebook_page
    from shiftlore.reports.page_html import choose_paper

    common.require_place(target, force=force, ending=".html|.htm")
    knowledge = common.load_trade(folder)
    assert knowledge.shop is not None, "the rules come with one"
    with shiftlore.open_casebook(place) as book, common.busy("Adding up") as tell:
        entries, forgotten = tuple(book.each_entry()), len(book.forgotten())
        report = tally_casebook(knowledge, entries, forgotten, lambda count: tell(count / len(entries)))
    page = render_casebook_page(report, knowledge.shop, datetime.date.today(), choose_paper(knowledge.shop.locale))
    common.save_output(target, page.encode(), force)
    click.echo(f"{report.n} {'case' if report.n == 1 else 'cases'} added up in {printable(str(target))}.")


@click.command("export", short_help="Write the casebook as JSON Lines.")
@place_option
@click.argument("target", metavar="FILE", type=click.Path(allow_dash=True))
@common.force_option
def export_command(target: str, force: bool, place: str | None) -> None:
    """Write the whole casebook to FILE (or - for standard output) as JSON Lines, to keep it safe or to move it."""
    from shiftlore.casebook import export_lines

    if target != common.STDIN:
        common.require_place(Path(target), force=force)
    with shiftlore.open_casebook(place) as book:
        if target != common.STDIN:
            common.save_output(Path(target), export_lines(book), force, OWN_FILE)
            click.echo(f"The casebook stands in {printable(target)}.", err=True)
            return
        for line in export_lines(book):
            sys.stdout.buffer.write(line)
        sys.stdout.buffer.flush()


@click.command("import", short_help="Take JSON Lines into the casebook.")
@place_option
@click.argument("source", metavar="FILE", type=click.Path(allow_dash=True))
@click.option("--keep-going", is_flag=True, help="Take the good lines in, though others are bad.")
def import_command(source: str, keep_going: bool, place: str | None) -> None:
    """Take the lines of FILE (or - for standard input) into the casebook; what is there already stays as it is.

    If a line is bad, each is told with what to write instead, and nothing goes in unless you add --keep-going.
    """
    from shiftlore.casebook import check_lines, import_lines
    from shiftlore.reports.shop_text import render_import

    with _open_lines(source) as lines, shiftlore.open_casebook(place) as book, common.busy("Importing") as tell:
        size = max(os.fstat(lines.fileno()).st_size, 1)
        checked = check_lines(lines, _BytesRead(tell, size, 0.0))
        if not checked.bad or keep_going:
            lines.seek(0)
            done = import_lines(book, lines, _BytesRead(tell, size, 0.5))
    _tell_bad(checked, source)
    if checked.bad and not keep_going:
        raise ShiftloreError("Nothing was taken in. Put these lines right, or take the others in with --keep-going.")
    click.echo(render_import(done))
    if checked.bad:
        raise click.exceptions.Exit(1)


class _BytesRead:
    """Tells how far the two passes over the lines are."""

    def __init__(self, tell: Callable[[float], None], size: int, begun: float):
        self.tell, self.size, self.begun, self.read = tell, size, begun, 0

    def __call__(self, length: int) -> None:
        self.read += length
        self.tell(self.begun + 0.5 * min(self.read / self.size, 1.0))


@contextlib.contextmanager
def _open_lines(source: str) -> Iterator[IO[bytes]]:
    """Open a file of lines; what comes through a pipe is kept on disk, for it is read twice.

    Raises: ShiftloreError: it cannot be read.
    """
    if source != common.STDIN and not Path(source).is_file():
        raise UsageProblem(f"There is no file {printable(source)}. Name one that `shiftlore casebook export` wrote.")
    with contextlib.ExitStack() as stack:
        try:
            if source != common.STDIN:
                yield stack.enter_context(open(source, "rb"))
                return
            kept = stack.enter_context(tempfile.TemporaryFile())
            while part := sys.stdin.buffer.read(_AT_ONCE):
                kept.write(part)
            kept.seek(0)
        except OSError as error:
            raise ShiftloreError(f"{printable(source)} cannot be read: {error.strerror or error}.") from error
        yield kept


def _tell_bad(checked: "Imported", source: str) -> None:
    name = common.STDIN_NAME if source == common.STDIN else printable(source)
    for number, problem in checked.problems:
        click.echo(f"{name}:{number}: {printable(problem)}", err=True)
    if checked.bad > len(checked.problems):
        click.echo(f"{checked.bad - len(checked.problems)} more lines are bad.", err=True)


@click.command("forget", short_help="Forget a person's cases, or one case; the counts stay.")
@place_option
@click.argument("name", metavar="PERSON|ID")
@click.option("--yes", is_flag=True, help="Do not ask.")
def forget_command(name: str, yes: bool, place: str | None) -> None:
    """Take the cases of PERSON, or the case ID, out of the casebook for good; only the counts of them stay.

    Case files and earlier exports are not touched: delete those yourself.
    """
    with shiftlore.open_casebook(place) as book:
        count = len((name.strip() and book.entries(person=name)) or (book.get(name),))
        what = f"{count} {'case' if count == 1 else 'cases'}"
        if not yes:
            click.echo(f"Forget {what} of {printable(name)} for good? Write y or n.")
            try:
                if common.read_line().strip().lower() not in ("y", "yes"):
                    raise click.ClickException("Nothing was forgotten.")
            except EOFError:
                raise click.ClickException("Nothing was forgotten. Add --yes where nobody can be asked.") from None
        forgotten = book.forget(name)
    click.echo(f"{forgotten} {'case' if forgotten == 1 else 'cases'} forgotten; the counts stay.")


for _command in (
    list_command, show_command, counts_command, report_command, export_command, import_command, forget_command,
):  # fmt: skip
    casebook_command.add_command(_command)
