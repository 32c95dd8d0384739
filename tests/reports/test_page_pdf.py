"""The page as PDF."""

import pytest
from support.browser import count_pages, needs_browser
from support.pages import page

from shiftlore.basics import UsageProblem
from shiftlore.reports import page_pdf
from shiftlore.reports.page_pdf import find_browser, print_pdf


def test_print_pdf__says_clearly_what_is_missing(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(page_pdf.util, "find_spec", lambda name: None)
    monkeypatch.setenv("PATH", "")
    with pytest.raises(UsageProblem, match=r"shiftlore\[pdf\]"):
        print_pdf("<p>page</p>")


def test_print_pdf__a_browser_that_does_nothing_is_told(tmp_path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "chromium").write_text("#!/bin/sh\necho 'no display' >&2\nexit 1\n")
    (tmp_path / "chromium").chmod(0o755)
    monkeypatch.setattr(page_pdf.util, "find_spec", lambda name: None)
    monkeypatch.setenv("PATH", f"{tmp_path}:/bin:/usr/bin")
    with pytest.raises(UsageProblem, match="no display"):
        print_pdf("<p>page</p>")


def test_find_browser__none_on_an_empty_path(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PATH", "")
    assert find_browser() is None


def test_print_pdf__a_library_that_cannot_start_is_passed_over(monkeypatch: pytest.MonkeyPatch) -> None:
    def fail(name: str) -> None:
        raise OSError("cannot load library")

    monkeypatch.setattr(page_pdf.util, "find_spec", lambda name: object())
    monkeypatch.setattr(page_pdf, "import_module", fail)
    monkeypatch.setenv("PATH", "")
    with pytest.raises(UsageProblem, match=r"shiftlore\[pdf\]"):
        print_pdf("<p>page</p>")


@pytest.mark.skipif(page_pdf.util.find_spec("weasyprint") is None, reason="the extra pdf is not installed")
def test_print_pdf__one_page_by_the_library_and_nothing_fetched() -> None:
    content = print_pdf(page().replace("<main>", '<main><img src="http://example.invalid/x.png" alt="">'))
    assert content.startswith(b"%PDF-")


@needs_browser
def test_print_pdf__one_page_by_the_browser(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(page_pdf.util, "find_spec", lambda name: None)
    content = print_pdf(page())
    assert content.startswith(b"%PDF-") and 1 == count_pages(content)
