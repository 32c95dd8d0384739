"""Pages for the owner, written from the shared options."""

import datetime

from shiftlore.advising import Options
from shiftlore.knowledge import Shop
from shiftlore.reports.page_html import PageSettings, render_page
from shiftlore.words import load_phrases
from support.offers import compiled, offered

DAY = datetime.date(2026, 3, 2)


def shop(**changes) -> Shop:
    """The shop of the knowledge folder, with changes."""
    own = compiled().knowledge.shop
    assert own is not None
    return own.vary(**changes)


def page(
    name: str = "slips",
    language: str = "en",
    paper: str = "a4",
    options: Options | None = None,
    budget: float | None = 600.0,
    **changes,
) -> str:
    """Write a page; `changes` are those of the shop."""
    settings = PageSettings(shop(**changes), DAY, paper)
    return render_page(options or offered(name, budget), load_phrases(language), settings)
