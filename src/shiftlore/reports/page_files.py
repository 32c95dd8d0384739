"""Files of the owner's page: the shop's logo read in, the page printed to PDF.

A PDF is printed by a library if it is installed, else by a browser that is on the machine.
"""

import base64
import re
import shutil
import subprocess
import tempfile
from importlib import import_module, util
from pathlib import Path
from typing import Any

from shiftlore.basics import UsageProblem
from shiftlore.basics.whole_files import read_bounded

LARGEST_LOGO = 400_000
"""Bytes of a logo at most: more makes the page slow to mail and prints no better."""

PICTURES = {
    ".png": ("image/png", b"\x89PNG"),
    ".jpg": ("image/jpeg", b"\xff\xd8"),
    ".jpeg": ("image/jpeg", b"\xff\xd8"),
    ".gif": ("image/gif", b"GIF8"),
    ".svg": ("image/svg+xml", b"<"),
}
_SVG = re.compile(rb"\s*(<\?xml[^>]*>\s*)?(<!--.*?-->\s*|<!DOCTYPE\s+svg[^>\[]*>\s*)*+<svg[\s>]", re.DOTALL)


def read_logo(name: str, folder: Path) -> tuple[str, str]:
    """Read the shop's logo as a picture that stands in the page itself.

    Args:
        name: file as written in the shop's settings, relative to their folder; empty for none.
    Returns: a data address, or ""; and what was wrong, or "".
    """
    if not name:
        return "", ""
    path = folder / name
    if not Path(name).is_absolute() and not path.resolve().is_relative_to(folder.resolve()):
        return (
            "",
            f"The logo {name} is left out: it lies outside {folder}. Put it there, or set it: shiftlore shop logo=FILE.",
        )
    kind = PICTURES.get(path.suffix.lower())
    if kind is None:
        return "", f"The logo {name} is left out: give a file that ends in {', '.join(PICTURES)}."
    try:
        content = read_bounded(path, LARGEST_LOGO)
    except (OSError, ValueError) as error:
        return "", f"The logo {name} is left out: {getattr(error, 'strerror', None) or error}."
    if len(content) > LARGEST_LOGO:
        return "", f"The logo {name} is left out: it has more than {LARGEST_LOGO // 1000} kB."
    if not content.lstrip().startswith(kind[1]) or (kind[1] == b"<" and not _SVG.match(content)):
        return "", f"The logo {name} is left out: it is no {path.suffix[1:].lower()} picture."
    return f"data:{kind[0]};base64,{base64.b64encode(content).decode('ascii')}", ""


LIBRARY = "weasyprint"
BROWSERS = ("chromium", "chromium-browser", "chrome", "headless_shell")
FLAGS = (
    "--headless",
    "--disable-gpu",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--disable-quic",
    "--no-pdf-header-footer",
    "--disable-extensions",
    "--host-resolver-rules=MAP * ~NOTFOUND",
)
PRINT_SECONDS = 60
NEITHER = (
    "A PDF needs one more thing: install the extra with `pip install shiftlore[pdf]`, or Chromium. "
    "Or write the page as .html and print it to PDF from any browser."
)


def print_pdf(page: str) -> bytes:
    """Print a page to PDF.

    Raises: UsageProblem: there is neither the library nor a browser, or printing failed.
    """
    library = _find_library()
    if library is not None:
        return _print_by_library(page, library)
    browser = find_browser()
    if browser is None:
        raise UsageProblem(NEITHER)
    return _print_by_browser(page, browser)


def _find_library() -> Any:
    """Import the library, or give None where it or what it stands on is missing."""
    if util.find_spec(LIBRARY) is None:
        return None
    try:
        return import_module(f"{LIBRARY}.urls") and import_module(LIBRARY)
    except (ImportError, OSError):
        return None


def find_browser() -> str | None:
    """Find a browser that prints without a window, or None."""
    return next((found for name in BROWSERS if (found := shutil.which(name))), None)


def _print_by_library(page: str, library: Any) -> bytes:
    """Print by the library; it may read what stands in the page, and fetch nothing."""
    fetcher = library.urls.URLFetcher(allowed_protocols=("data",))
    content: bytes = library.HTML(string=page, url_fetcher=fetcher).write_pdf()
    return content


def _print_by_browser(page: str, browser: str) -> bytes:
    with tempfile.TemporaryDirectory(prefix="shiftlore-pdf-") as name:
        folder = Path(name)
        (folder / "page.html").write_text(page, encoding="utf-8")
        target = folder / "page.pdf"
        command = [
            browser,
            *FLAGS,
            f"--user-data-dir={folder / 'profile'}",
            f"--print-to-pdf={target}",
            (folder / "page.html").as_uri(),
        ]
        problem = _run(command, target)
        if problem and not target.exists():
            # In a container the browser's own sandbox often cannot start; the page is ours and asks for nothing.
            problem = _run([command[0], "--no-sandbox", *command[1:]], target)
        if not target.exists():
            raise UsageProblem(
                f"Printing to PDF failed: {problem} Write the page as .html and print it from a browser."
            )
        return target.read_bytes()


def _run(command: list[str], target: Path) -> str:
    """Run the browser; gives what went wrong, or ""."""
    try:
        done = subprocess.run(command, capture_output=True, timeout=PRINT_SECONDS, check=False)
    except (OSError, subprocess.TimeoutExpired) as error:
        return f"{type(error).__name__}."
    last = done.stderr.decode("utf-8", "replace").strip().splitlines()[-1:]
    return "" if target.exists() else " ".join(last) or f"the browser ended with {done.returncode}."
