"""A browser without a window, for the tests of the owner's page."""

import json
import os
import re
import shutil
import subprocess
import tempfile
from functools import cache
from pathlib import Path

import pytest

from shiftlore.reports.page_files import FLAGS, find_browser

BROWSER = find_browser()
needs_browser = pytest.mark.skipif(BROWSER is None, reason="no Chromium on this machine")
SECONDS = 90
PAGE_OBJECT = re.compile(rb"/Type\s*/Page[^s]")
AXE_PLACES = ("SHIFTLORE_AXE", "node_modules/axe-core/axe.min.js")

RUN_AXE = """
<script>%s</script>
<script>axe.run(document, {resultTypes: ['violations']}).then(function (found) {
  var rows = found.violations.map(function (v) {
    return {id: v.id, impact: v.impact, nodes: v.nodes.map(function (n) { return n.html.slice(0, 120); })};
  });
  document.body.innerHTML = '<pre id="axe"></pre>';
  document.getElementById('axe').textContent = '@@' + JSON.stringify(rows) + '@@';
});</script>
"""


def run_browser(page: str, *flags: str, folder: Path) -> "subprocess.CompletedProcess[bytes]":
    """Open a page in a fresh profile; files go into the folder."""
    assert BROWSER is not None
    (folder / "page.html").write_text(page, encoding="utf-8")
    with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as profile:
        command = [
            BROWSER,
            "--no-sandbox",
            *FLAGS,
            f"--user-data-dir={profile}",
            *flags,
            (folder / "page.html").as_uri(),
        ]
        return subprocess.run(command, capture_output=True, timeout=SECONDS, check=False)


def count_pages(pdf: bytes) -> int:
    """Count the sheets of a PDF."""
    return len(PAGE_OBJECT.findall(pdf))


def print_page(page: str, folder: Path) -> bytes:
    """Print a page to PDF as the browser does for a user."""
    run_browser(page, f"--print-to-pdf={folder / 'page.pdf'}", folder=folder)
    return (folder / "page.pdf").read_bytes()


@cache
def read_axe() -> str | None:
    """Give the source of axe-core: a file that is there, else from the registry through npm, else None."""
    for place in (os.environ.get(AXE_PLACES[0], ""), AXE_PLACES[1]):
        if place and Path(place).is_file():
            return Path(place).read_text(encoding="utf-8")
    npm = shutil.which("npm")
    if npm is None:
        return None
    with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as name:
        command = [npm, "install", "--prefix", name, "--no-audit", "--no-fund", "axe-core@4"]
        subprocess.run(command, capture_output=True, timeout=SECONDS, check=False)
        found = Path(name) / AXE_PLACES[1]
        return found.read_text(encoding="utf-8") if found.is_file() else None


def find_violations(page: str, source: str, folder: Path) -> list[dict]:
    """Let axe-core look at a page; its content policy is taken out, so that the script may run."""
    open_page = re.sub(r'<meta http-equiv="Content-Security-Policy"[^>]*>', "", page)
    with_axe = open_page.replace("</body>", RUN_AXE.replace("%s", source) + "</body>")
    done = run_browser(with_axe, "--dump-dom", "--virtual-time-budget=20000", folder=folder)
    told = re.search(r"@@(.*?)@@", done.stdout.decode("utf-8", "replace").split('id="axe"')[-1], re.DOTALL)
    assert told is not None, done.stderr.decode("utf-8", "replace")[-600:]
    text = told[1].replace("&lt;", "<").replace("&gt;", ">").replace("&amp;", "&")
    return list(json.loads(text))
