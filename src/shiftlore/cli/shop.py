"""`shiftlore shop`: shows and sets the shop's own rate, tax, currency, prices, name and logo."""

from pathlib import Path
from typing import TYPE_CHECKING

import click

import shiftlore
import shiftlore.cli.common as common
from shiftlore.basics import UsageProblem

if TYPE_CHECKING:
    from shiftlore.knowledge import Knowledge, Price

SHEETS, CASEBOOK, OVERLAY = "units", "casebook", "overlay"
FILE_HELP = "The shop's file; by default your own, in your folder for settings or where SHIFTLORE_SHOP says."


@click.command("shop", short_help="Show and set your labour rate, tax, currency, prices, name and logo.")
@click.argument("changes", nargs=-1, metavar="[KEY=VALUE]...")
@click.option("--prices", "all_prices", is_flag=True, help="List the whole price book.")
@click.option("--shop", "path", type=common.A_PATH, metavar="FILE", help=FILE_HELP)
@common.format_option
@common.plain_option
@common.knowledge_option
def shop_command(
    changes: tuple[str, ...], all_prices: bool, path: Path | None, form: str, plain: bool, folder: Path | None
) -> None:
    """Show your shop's settings, or set some: labour_per_hour=95 currency=GBP tax_percent=20 atf_litre=11/14/19.

    They stand in a file of your own, which every command that prices reads; what you do not set stays an example. A
    word without = finds entries of the price book. An empty value, as in atf_litre=, goes back to the example.
    """
    from shiftlore.knowledge import find_own_shop, list_oddities

    words = " ".join(change for change in changes if "=" not in change)
    pairs = [change.partition("=") for change in changes if "=" in change]
    wanted = {name.strip(): _place(name.strip(), value.strip()) for name, _, value in pairs}
    knowledge, path = shiftlore.load(folder), path or find_own_shop()
    if path is None:
        raise UsageProblem("There is no home folder to keep settings in. Name the shop's file with --shop FILE.")
    if knowledge.shop is None:
        raise UsageProblem("There is no shop in this knowledge. Add shop.yaml to it.")
    own = shiftlore.shop(knowledge, path, wanted)
    if form == "json":
        settings = {name: _without_password(name, value) for name, value in own.settings.items()}
        common.write_json({"file": str(path), "settings": settings, "prices": own.prices, "shop": knowledge.shop})
        return
    from shiftlore.reports.shop_text import render_prices, render_shop
    from shiftlore.reports.wording import wrap_lines

    if pairs:
        click.echo(f"Set in {path}: {', '.join(wanted)}.", err=True)
        for told in list_oddities(knowledge, own, wanted):
            click.echo("\n".join(wrap_lines(told, "  ", "", common.terminal_width())), err=True)
    width = common.terminal_width()
    if words or all_prices:
        currency = own.settings.get("currency", knowledge.shop.currency)
        click.echo(render_prices(_find_prices(knowledge, words), own, currency, width))
    elif not pairs:
        click.echo(render_shop(knowledge, own, width, common.strong_mark(plain)))


def _place(name: str, value: str) -> str:
    """Give a file or folder by its full path, as the settings may stand elsewhere; other values as they are.

    Raises: UsageProblem: it is not there, or no picture.
    """
    if name not in ("logo", SHEETS, CASEBOOK, OVERLAY) or not value:
        return value
    if name == CASEBOOK:
        return _casebook(value)
    path = Path(value).expanduser().resolve()
    if name == OVERLAY:
        if not path.is_file():
            raise UsageProblem(f"There is no overlay {value}. Make it: shiftlore learn --casebook --into {value}")
        return str(path)
    if name == SHEETS and not path.is_dir():
        raise UsageProblem(f"There is no folder {value}. Give the folder that holds your own unit sheets.")
    if name != SHEETS:
        from shiftlore.reports.page_files import read_logo

        trouble = read_logo(path.name, path.parent)[1]
        if trouble:
            raise UsageProblem(trouble)
    return str(path)


def _casebook(value: str) -> str:
    """Give where the casebook is as it stands in the settings, which others on this machine may read.

    Raises: UsageProblem: it cannot be a casebook, or a password stands in it.
    """
    from shiftlore.casebook import CasebookError, find_casebook, hide_password

    try:
        place = find_casebook(value)
    except CasebookError as error:
        raise UsageProblem(str(error)) from error
    if place.path is not None:
        return str(place.path.resolve())
    if hide_password(value) != value:
        advice = "Leave it out here, and write it into ~/.pgpass, which only you can read."
        raise UsageProblem(f"A password stands in {hide_password(value)}. {advice}")
    return value


def _without_password(name: str, value: object) -> object:
    from shiftlore.casebook import hide_password

    return hide_password(str(value)) if name == CASEBOOK else value


def _find_prices(knowledge: "Knowledge", words: str) -> "list[Price]":
    """Find the entries of the price book in which every word stands.

    Raises: UsageProblem: none holds them all.
    """
    wanted = words.lower().split()
    found = [it for it in knowledge.prices.values() if all(w in f"{it.id} {it.label}".lower() for w in wanted)]
    if not found:
        raise UsageProblem(f'The price book has nothing with "{words}". Try one short word, or list all with --prices.')
    return found
