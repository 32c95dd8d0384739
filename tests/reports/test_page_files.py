"""Files of the owner's page."""

import base64
import os
from pathlib import Path

import pytest
from support.browser import count_pages, needs_browser
from support.pages import page

from shiftlore.basics import UsageProblem
from shiftlore.reports import page_files
from shiftlore.reports.page_files import LARGEST_LOGO, find_browser, print_pdf, read_logo

PNG = b"\x89PNG\r\n\x1a\nrest"


def test_read_logo__stands_in_the_page_itself(tmp_path: Path) -> None:
    (tmp_path / "logo.png").write_bytes(PNG)
    assert (f"data:image/png;base64,{base64.b64encode(PNG).decode()}", "") == read_logo("logo.png", tmp_path)


@pytest.mark.parametrize(
    "head", [b"<svg>", b'<?xml version="1.0"?>\n<!-- ours -->\n<!DOCTYPE svg PUBLIC "x" "y">\n<svg width="1"/>']
)
def test_read_logo__a_drawing_is_a_picture(tmp_path: Path, head: bytes) -> None:
    (tmp_path / "logo.svg").write_bytes(head)
    assert "" == read_logo("logo.svg", tmp_path)[1]


def test_read_logo__none_is_no_trouble(tmp_path: Path) -> None:
    assert ("", "") == read_logo("", tmp_path)


@pytest.mark.parametrize(
    ("name", "content"),
    [
        ("logo.exe", PNG),
        ("logo.png", b"no picture"),
        ("logo.png", PNG + bytes(LARGEST_LOGO)),
        ("gone.png", None),
        ("page.svg", b"<!DOCTYPE html><html></html>"),
        ("long.svg", b"<!---->" * 9_000),
        ("../logo.png", PNG),
        ("link.png", None),
        ("pipe.png", None),
    ],
)
def test_read_logo__what_cannot_be_used_is_told_and_left_out(tmp_path: Path, name: str, content: bytes | None) -> None:
    folder = tmp_path / "folder"
    folder.mkdir()
    if content is not None:
        (folder / name).write_bytes(content)
    (tmp_path / "secret.png").write_bytes(PNG)
    (folder / "link.png").symlink_to("../secret.png")
    if hasattr(os, "mkfifo"):
        os.mkfifo(folder / "pipe.png")
    logo, trouble = read_logo(name, folder)
    assert "" == logo and trouble.startswith(f"The logo {name} is left out")


def test_print_pdf__says_clearly_what_is_missing(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(page_files.util, "find_spec", lambda name: None)
    monkeypatch.setenv("PATH", "")
    with pytest.raises(UsageProblem, match=r"shiftlore\[pdf\]"):
        print_pdf("<p>page</p>")


def test_print_pdf__a_browser_that_does_nothing_is_told(tmp_path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "chromium").write_text("#!/bin/sh\necho 'no display' >&2\nexit 1\n")
    (tmp_path / "chromium").chmod(0o755)
    monkeypatch.setattr(page_files.util, "find_spec", lambda name: None)
    monkeypatch.setenv("PATH", f"{tmp_path}:/bin:/usr/bin")
    with pytest.raises(UsageProblem, match="no display"):
        print_pdf("<p>page</p>")


def test_find_browser__none_on_an_empty_path(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PATH", "")
    assert find_browser() is None


def test_print_pdf__a_library_that_cannot_start_is_passed_over(monkeypatch: pytest.MonkeyPatch) -> None:
    def fail(name: str) -> None:
        raise OSError("cannot load library")

    monkeypatch.setattr(page_files.util, "find_spec", lambda name: object())
    monkeypatch.setattr(page_files, "import_module", fail)
    monkeypatch.setenv("PATH", "")
    with pytest.raises(UsageProblem, match=r"shiftlore\[pdf\]"):
        print_pdf("<p>page</p>")


@pytest.mark.skipif(page_files.util.find_spec("weasyprint") is None, reason="the extra pdf is not installed")
def test_print_pdf__one_page_by_the_library_and_nothing_fetched() -> None:
    content = print_pdf(page().replace("<main>", '<main><img src="http://example.invalid/x.png" alt="">'))
    assert content.startswith(b"%PDF-")


@needs_browser
def test_print_pdf__one_page_by_the_browser(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(page_files.util, "find_spec", lambda name: None)
    content = print_pdf(page())
    assert content.startswith(b"%PDF-") and 1 == count_pages(content)


class Press:
    """A library that prints; it keeps what it was allowed to fetch and what it was given."""

    def __init__(self) -> None:
        self.urls, self.allowed, self.given = self, (), ""

    def URLFetcher(self, allowed_protocols: tuple[str, ...]) -> "Press":
        self.allowed = allowed_protocols
        return self

    def HTML(self, string: str, url_fetcher: "Press") -> "Press":
        self.given = string
        return url_fetcher

    def write_pdf(self) -> bytes:
        return b"%PDF"


def test_print_pdf__the_library_may_fetch_only_what_the_page_holds(monkeypatch: pytest.MonkeyPatch) -> None:
    press = Press()
    monkeypatch.setattr(page_files, "_find_library", lambda: press)
    assert b"%PDF" == print_pdf("<p>a page</p>")
    assert (("data",), "<p>a page</p>") == (press.allowed, press.given)


@pytest.mark.skipif(os.name == "nt", reason="a shell script")
def test_print_pdf__a_browser_whose_sandbox_cannot_start_is_asked_once_more(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    browser = tmp_path / "browser"
    browser.write_text(
        '#!/bin/sh\ncase "$*" in *--no-sandbox*) ;; *) exit 1;; esac\n'
        'for part; do case "$part" in --print-to-pdf=*) printf "%%PDF" > "${part#*=}";; esac; done\n'
    )
    browser.chmod(0o755)
    monkeypatch.setattr(page_files, "_find_library", lambda: None)
    monkeypatch.setattr(page_files, "find_browser", lambda: str(browser))
    assert b"%PDF" == print_pdf("<p>a page</p>")


def test_print_pdf__a_browser_that_cannot_be_run_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(page_files, "_find_library", lambda: None)
    monkeypatch.setattr(page_files, "find_browser", lambda: str(tmp_path / "gone"))
    with pytest.raises(UsageProblem, match=r"FileNotFoundError.*\.html"):
        print_pdf("<p>a page</p>")
