"""Two users' sessions in a real terminal of 80 columns and 24 rows: every screen fits, and nothing is lost.

What the screens say is held by the golden sessions (tests/sessions/golden), on the rules alone and in process; here the
program runs on its own, with all that it ships, the system's own line editing, keys and signals.
"""

import re
import shlex
from dataclasses import replace
from pathlib import Path

import pytest
from support.interruptions import load
from support.terminals import COLUMNS, PAGER, PROMPT, ROWS, RealTerminal
from support.trade import shipped

from shiftlore.cases import Case
from shiftlore.sessions import Interview, open_desk, take_line

GOLDEN = Path(__file__).parents[1] / "sessions" / "golden"
LINES = ("slips in third when hot, fluid is dark, 184000 km", "y", "P0733")


def play(name: str, folder: Path) -> str:
    """Type what a golden session types; give what stood on the screen."""
    text = (GOLDEN / f"{name}.txt").read_text(encoding="utf-8")
    runs = [run for run in re.split(r"^(?=\$ )", text, flags=re.MULTILINE) if run.startswith("$ shiftlore")]
    shown = []
    for run in runs:
        command, _, screen = run.partition("\n")
        terminal = RealTerminal(*shlex.split(command)[2:], folder=folder)
        is_on = terminal.wait()
        for line in (it[2:] for it in screen.split("\n") if it.startswith(PROMPT) or it == PROMPT.strip()):
            assert is_on, f"it had ended before {line!r}"
            is_on = terminal.type(line)
        assert not is_on, terminal.shown[-300:]
        shown.append(f"{command}\n{terminal.shown}")
    return strip("\n".join(shown))


def strip(text: str) -> str:
    """Take out blanks at the end of lines, and more than one empty line."""
    return re.sub(r"\n{2,}", "\n\n", "\n".join(line.rstrip() for line in text.split("\n"))).strip()


@pytest.mark.parametrize("name", ["apprentice", "advisor"])
def test_triage__a_real_terminal_takes_the_golden_sessions_a_screen_at_a_time(name: str, tmp_path: Path) -> None:
    shown = play(name, tmp_path)
    pages = re.split(rf"^{PROMPT}.*$|^-- .*{PAGER.strip()}$|^\\$ .*$", shown, flags=re.MULTILINE)
    assert all(len(page.strip("\n").split("\n")) <= ROWS + 2 for page in pages), "an answer's echo may stand above"
    assert all(len(line) <= COLUMNS for line in shown.split("\n") if not line.startswith(("$ ", PROMPT)))
    assert "I understood this" in shown and "What to do next" in shown and "Traceback" not in shown
    assert "\nEverything answered is in " in shown


def test_triage__killed_and_resumed_in_a_terminal_it_ends_as_if_nothing_had_happened(tmp_path: Path) -> None:
    path, ends = tmp_path / "case.yaml", ("kill", "^C", "^D")
    for number, (line, end) in enumerate(zip(LINES, ends, strict=True)):
        terminal = RealTerminal("triage", path.name, *([] if number else ["--unit", "long6"]), folder=tmp_path)
        assert terminal.wait() and terminal.type(line)
        if end == "kill":
            terminal.kill()
        else:
            assert not terminal.type(end)
            assert f"\n> {end}\nEverything answered is in case.yaml" in terminal.shown
    desk = open_desk(Interview(shipped(), Case("long6")))
    for line in LINES:
        desk = take_line(desk, line).desk
    whole, broken = desk.interview.case, load(path)
    assert whole == replace(broken, folder="")
