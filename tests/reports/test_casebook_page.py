"""The page for the shop's head: a made-up book, an empty one, one of a single case; hostile labels; print and a browser."""

import datetime
import re
from dataclasses import replace
from functools import cache
from html.parser import HTMLParser
from pathlib import Path
from xml.etree import ElementTree

import pytest
from hypothesis import given, settings
from support.browser import count_pages, find_violations, needs_browser, print_page, read_axe
from support.demo_book import demo_entries
from support.hostile import HOSTILE
from support.trade import shipped

from shiftlore.casebook.tallies import CasebookReport, NamedCount, ReliabilityBand, measure_share, tally_casebook
from shiftlore.knowledge import Shop
from shiftlore.reports.casebook_page import draw_reliability, render_casebook_page

DAY = datetime.date(2026, 3, 2)
VOID = {"meta", "br", "img", "link"}


@cache
def demo() -> CasebookReport:
    """Add the made-up book up once."""
    return tally_casebook(shipped(), demo_entries())


def shop() -> Shop:
    found = shipped().shop
    assert found is not None
    return found


def page_of(report: CasebookReport) -> str:
    return render_casebook_page(report, shop(), DAY)


def words_of(page: str) -> str:
    return " ".join(re.sub(r"<[^>]*>", " ", page.partition("</head>")[2]).split())


class Tags(HTMLParser):
    """Follows which element is open, and gathers names and attributes."""

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.names: set[str] = set()
        self.attributes: set[str] = set()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.names.add(tag)
        self.attributes |= {name for name, _ in attrs}
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.names.add(tag)
        self.attributes |= {name for name, _ in attrs}

    def handle_endtag(self, tag: str) -> None:
        assert tag == self.open.pop()


def read_tags(page: str) -> Tags:
    tags = Tags()
    tags.feed(page)
    assert [] == tags.open
    return tags


def test_render_casebook_page__every_part_is_there_and_nothing_comes_from_outside() -> None:
    page = page_of(demo())
    words = words_of(page)
    for part in ("What came in", "Where the trouble lay", "What it was", "changed nothing", "trusted", "have taught"):
        assert part in words
    assert f"{demo().cured.hits} of 36" in words and "Wilson" in words
    assert "default-src 'none'" in page and "http" not in page.replace("http-equiv", "")
    assert not {"script", "iframe", "link", "form"} & read_tags(page).names


def test_render_casebook_page__figures_are_those_of_the_tally() -> None:
    words = words_of(page_of(demo()))
    assert f"EUR {demo().idle_money:,.0f}" in words
    belief = demo().belief
    assert belief is not None and f"Brier score {belief.brier:.2f}" in words
    assert f"in {belief.first.hits} of 36 cases" in words
    for check in demo().checks[:3]:
        assert f"{check.label} {check.made} {check.idle} EUR {check.money:,.0f}" in words


def test_render_casebook_page__an_empty_book_says_how_to_begin() -> None:
    words = words_of(page_of(tally_casebook(shipped(), ())))
    assert "No case is closed yet. Close the first one with: shiftlore close CASE" in words
    assert "%" not in words.replace("95 %", "")


def test_render_casebook_page__one_case_is_too_few_to_say() -> None:
    words = words_of(page_of(tally_casebook(shipped(), demo_entries()[:1])))
    assert words.count("Too few to say") >= 4
    assert "100 %" not in words and "1 of 1" in words and "<svg" not in page_of(tally_casebook(shipped(), ()))


def test_render_casebook_page__nobody_is_named() -> None:
    named = [replace(one, person="Odalinde Quist") for one in demo_entries()[:12]]
    assert "Odalinde" not in page_of(tally_casebook(shipped(), named))


def test_render_casebook_page__what_is_forgotten_or_not_read_or_taught_is_told() -> None:
    report = replace(demo(), forgotten=2, n_unread=1, n_taught=40, taught=(("Pump worn", 10.0, 14.0, 3.2),))
    words = words_of(page_of(report))
    assert "2 forgotten cases stand in no figure here." in words
    assert "1 case could not be read under today's rules" in words.replace("&#x27;", "'")
    assert "From 40 cases" in words and "Pump worn 10.0 14.0 3.2" in words


@given(HOSTILE)
@settings(max_examples=40, deadline=None)
def test_render_casebook_page__hostile_labels_stay_text(label: str) -> None:
    tame = read_tags(page_of(demo()))
    rows = (NamedCount("x", label, 3),)
    checks = tuple(replace(check, label=label) for check in demo().checks)
    report = replace(
        demo(), complaints=rows, areas=rows, causes=rows, checks=checks, taught=((label, 1.0, 2.0, 3.0),), n_taught=1
    )
    page = render_casebook_page(report, shop().vary(name=label), DAY)
    tags = read_tags(page)
    assert tags.names <= tame.names and tags.attributes <= tame.attributes


def test_draw_reliability__is_well_formed_and_each_dot_stands_at_its_place() -> None:
    bands = (ReliabilityBand(0.2, 0.4, 0.3, measure_share(2, 8)), ReliabilityBand(0.8, 1.0, 1.0, measure_share(4, 4)))
    drawing = ElementTree.fromstring(draw_reliability(bands))
    dots = [(float(one.attrib["cx"]), float(one.attrib["cy"])) for one in drawing.iter("circle")]
    diagonal = next(one for one in drawing.iter("line") if "stroke-dasharray" in one.attrib)
    ends = [float(diagonal.attrib[name]) for name in ("x1", "y1", "x2", "y2")]
    assert (ends[2], ends[3]) == dots[1]
    assert ends[0] + 0.3 * (ends[2] - ends[0]) == pytest.approx(dots[0][0], abs=0.1)
    assert ends[1] + 0.25 * (ends[3] - ends[1]) == pytest.approx(dots[0][1], abs=0.1)
    texts = [one.text for one in drawing.iter("text")]
    assert "2/8" in texts and "4/4" in texts
    assert "right in 2 of 8" in (drawing.findtext("desc") or "")


@needs_browser
def test_casebook_page__prints_on_two_sheets_at_most(tmp_path: Path) -> None:
    assert count_pages(print_page(page_of(demo()), tmp_path)) <= 2


@needs_browser
def test_casebook_page__axe_finds_nothing_to_object_to(tmp_path: Path) -> None:
    source = read_axe()
    if source is None:
        pytest.skip("no axe-core on this machine")
    assert [] == find_violations(page_of(demo()), source, tmp_path)
