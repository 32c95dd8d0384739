"""`shiftlore options`: what to offer the owner, as text, as JSON, or as a page to print."""

import datetime
from pathlib import Path
from typing import TYPE_CHECKING

import click

import shiftlore
from shiftlore.basics import UnknownId, UsageProblem
from shiftlore.cli.common import (
    case_argument,
    format_option,
    knowledge_option,
    plain_option,
    read_case_file,
    refuse_existing,
    strong_mark,
    terminal_width,
    write_out,
)

if TYPE_CHECKING:
    from shiftlore.advising import Options
    from shiftlore.knowledge import Shop

LARGEST_BUDGET = 10_000_000


@click.command("options", short_help="Say what to offer the owner, and print the page for it.")
@case_argument
@format_option
@plain_option
@knowledge_option
@click.option("--budget", type=click.FloatRange(0, LARGEST_BUDGET), default=None,
              help="What the owner will spend; the case's own by default.")
@click.option("--page", "--sheet", "page_path", type=click.Path(path_type=Path), default=None, metavar="FILE.html|FILE.pdf",
              help="Write the page for the owner here.")
@click.option("--language", default=None, help="Language of the page, such as en or de; the shop's own by default.")
@click.option("--paper", type=click.Choice(["a4", "letter"]), default=None, help="Paper of the page.")
@click.option("--date", "date_text", type=click.DateTime(["%Y-%m-%d"]), default=None,
              help="Date of the page; today by default.")
@click.option("--force", is_flag=True, help="Overwrite an existing file.")
def command(
    case_path: str, form: str, plain: bool, knowledge_path: Path | None, budget: float | None, page_path: Path | None,
    language: str | None, paper: str | None, date_text: datetime.datetime | None, force: bool,
) -> None:
    """Say what to offer the owner of CASE (a file, or - for standard input): price, chance, and what comes after."""
    if page_path is not None:
        _check_target(page_path, force)
    from shiftlore.reports.as_json import render_json
    from shiftlore.reports.options_text import render_options

    knowledge = shiftlore.load(knowledge_path)
    offered = shiftlore.options(knowledge, read_case_file(case_path, knowledge), budget)
    if page_path is not None:
        assert knowledge.shop is not None, "options need a shop, and say so"
        day = date_text.date() if date_text else datetime.date.today()
        _write_page(offered, knowledge.shop, knowledge_path, page_path, language, paper, day)
        if form == "text":
            return
    if form == "json":
        write_out(render_json(offered))
    else:
        write_out(render_options(offered, terminal_width(), strong_mark(plain)))


def _check_target(path: Path, force: bool) -> None:
    """Refuse a target that cannot be meant, before anything is computed."""
    if path.suffix.lower() not in (".html", ".htm", ".pdf"):
        raise UsageProblem(f"{path} is neither a page nor a PDF. Give a file name that ends in .html or .pdf.")
    refuse_existing(path, force)


def _write_page(
    offered: "Options", shop: "Shop", knowledge_path: Path | None, path: Path, language: str | None,
    paper: str | None, day: datetime.date,
) -> None:
    """Write the page, whole or not at all; what was strange goes to standard error."""
    from shiftlore.knowledge import find_knowledge
    from shiftlore.reports.page_files import print_pdf, read_logo, save_whole
    from shiftlore.reports.page_html import PageSettings, choose_paper, render_page
    from shiftlore.words import load_phrases

    folder = knowledge_path or find_knowledge()
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
    settings = PageSettings(shop, day, paper or choose_paper(shop.locale), logo)
    page = render_page(offered, phrases, settings)
    save_whole(path, print_pdf(page) if path.suffix.lower() == ".pdf" else page.encode("utf-8"))
    click.echo(f"The page stands in {path}.", err=True)
