"""`shiftlore casebook report`: a page from the casebook that is named."""

from collections.abc import Callable
from pathlib import Path

import pytest
from support.casebook_entries import ENTRY, entry_of

import shiftlore
import shiftlore.cli.common as common
from shiftlore.casebook.places import CASEBOOK_PLACE


@pytest.fixture
def book(tmp_path: Path) -> str:
    """Give a casebook of two cases."""
    place = str(tmp_path / "casebook.db")
    with shiftlore.open_casebook(place) as opened:
        opened.file(ENTRY)
        opened.file(entry_of(1, outcome="came_back", comeback_km=500.0))
    return place


def test_report__writes_a_page_and_says_how_many_cases(run: Callable, book: str, tmp_path: Path) -> None:
    target = tmp_path / "cases.html"
    ended = run("casebook", "report", str(target), "--casebook", book)
    assert (0, f"2 cases added up in {target}.\n") == (ended.code, ended.out)
    assert "1 of 2" in target.read_text(encoding="utf-8")


def test_report__leaves_a_page_that_is_there_alone_unless_told(run: Callable, book: str, tmp_path: Path) -> None:
    target = tmp_path / "cases.html"
    target.write_text("mine")
    assert 2 == run("casebook", "report", str(target), "--casebook", book).code and "mine" == target.read_text()
    assert 0 == run("casebook", "report", str(target), "--casebook", book, "--force").code


def test_report__refuses_a_name_that_is_no_page(run: Callable, book: str, tmp_path: Path) -> None:
    ended = run("casebook", "report", str(tmp_path / "cases.pdf"), "--casebook", book)
    assert 2 == ended.code and "ends in .html" in ended.err


def test_recall_cases__looks_where_the_casebook_is_named(monkeypatch: pytest.MonkeyPatch, book: str) -> None:
    assert CASEBOOK_PLACE == common.CASEBOOK_NAMED
    monkeypatch.setenv(common.CASEBOOK_NAMED, book)
    assert () == common.recall_cases()  # neither says what it looked like
    monkeypatch.setenv(common.CASEBOOK_NAMED, f"{book}-nowhere")
    assert () == common.recall_cases() and not Path(f"{book}-nowhere").exists()
