"""`shiftlore options`: what to offer the owner, as text, as JSON, or as a page to print."""

import datetime
from pathlib import Path
from typing import TYPE_CHECKING

import click

import shiftlore
import shiftlore.cli.common as common
from shiftlore.basics import UnknownId

if TYPE_CHECKING:
    from shiftlore.advising import Options
    from shiftlore.knowledge import Shop

BUDGET_HELP = "What the owner will spend; the case's own by default."
JOB_HELP = 'Price this job too, whatever its chance, such as "fluid change"; may be given again.'
LANGUAGE_HELP = "Language of the page, such as en or de; the shop's own by default."
PAGES = "FILE.html|FILE.pdf"
DAY = click.DateTime(["%Y-%m-%d"])

complete_jobs = common.complete_ids("jobs")


@click.command("options", short_help="Say what to offer the owner, and print the page for it.")
@common.case_options
@click.option("--budget", type=common.BUDGET, help=BUDGET_HELP)
@click.option("--page", "--sheet", "path", type=common.A_PATH, metavar=PAGES, help="Write the page for the owner here.")
@click.option("--job", "jobs", multiple=True, metavar="ID|WORDS", help=JOB_HELP, shell_complete=complete_jobs)
@click.option("--language", help=LANGUAGE_HELP)
@click.option("--paper", type=click.Choice(["a4", "letter"]), help="Paper of the page.")
@click.option("--date", "day", type=DAY, help="Date of the page; today by default.")
@common.shop_option
@common.force_option
def options_command(
    case_path: str, form: str, plain: bool, folder: Path | None, timing: bool, budget: float | None, path: Path | None,
    jobs: tuple[str, ...], language: str | None, paper: str | None, day: datetime.datetime | None, shop_path: Path |
    None, force: bool,
) -> None:  # fmt: skip
    """Say what to offer the owner of CASE (a file, or - for standard input): price, chance, and what comes after."""
    from shiftlore.reports.options_text import render_options

    if path is not None:
        common.require_place(path, force=force, ending=".html|.htm|.pdf")
    knowledge = common.load_trade(folder, shop_path)
    case = common.read_case_file(case_path, knowledge)
    with common.busy("Working out the options"):
        offered = shiftlore.options(knowledge, case, budget, jobs)
    if path is not None:
        assert knowledge.shop is not None, "options need a shop, and say so"
        date = day.date() if day else datetime.date.today()
        _write_page(offered, knowledge.shop, path, force, folder=folder, language=language, paper=paper, date=date)
    if form == "json":
        common.write_json(offered, timing)
        return
    common.tell_time(offered.seconds, timing)
    if path is None:
        common.show_pages(render_options(offered, common.terminal_width(), common.strong_mark(plain)))


def _write_page(
    offered: "Options",
    shop: "Shop",
    path: Path,
    force: bool,
    *,
    folder: Path | None,
    language: str | None,
    paper: str | None,
    date: datetime.date,
) -> None:
    """Write the page, whole or not at all; what was strange goes to standard error."""
    from shiftlore.knowledge import find_knowledge
    from shiftlore.reports.page_files import print_pdf, read_logo
    from shiftlore.reports.page_html import PageSettings, choose_paper, render_page
    from shiftlore.words import load_phrases

    folder = folder or find_knowledge()
    try:
        phrases = load_phrases(language or shop.locale, folder)
    except UnknownId as error:
        if language:
            raise
        click.echo(f"{error} The page is in English.", err=True)
        phrases = load_phrases("en", folder)
    logo, trouble = read_logo(shop.logo, folder)
    if trouble:
        click.echo(trouble, err=True)
    page = render_page(offered, phrases, PageSettings(shop, date, paper or choose_paper(shop.locale), logo))
    content = print_pdf(page) if path.suffix.lower() == ".pdf" else page.encode("utf-8")
    common.save_output(path, content, force)
    click.echo(f"The page stands in {path}.", err=True)
