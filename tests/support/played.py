"""Play a whole session on a terminal of 80 columns and 24 rows, with the lines that are typed in its transcript.

A transcript is one or more runs: `$ shiftlore triage ...`, what was on the screen, and after each `> ` what was typed
(`^C` and `^D` are keys). Where a text does not fit the screen, Enter goes on. `$ cat FILE` shows what is on disk.
"""

import io
import os
import re
import shlex
import sys
from pathlib import Path

import pytest

from shiftlore.cli.main import run_with
from support.terminals import wiped
from support.trade import share_trade

UPDATE = "SHIFTLORE_UPDATE_GOLDEN"
PROMPT, PAGER, ROWS, COLUMNS = "> ", "-- ", 24, 80


class Terminal(io.StringIO):
    """A screen of which the program believes that it is one."""

    def isatty(self) -> bool:
        return True


class Keyboard(io.StringIO):
    """Types the next line at a prompt, Enter at the end of a page, and echoes what is typed."""

    def __init__(self, screen: Terminal, lines: list[str]):
        super().__init__()
        self.screen, self.lines = screen, lines

    def isatty(self) -> bool:
        return True

    def readline(self, size: int = -1, /) -> str:
        """Give the next line."""
        if self.screen.getvalue().rsplit("\n", 1)[-1].startswith(PAGER):
            self.screen.write("\n")
            return "\n"
        line = self.lines.pop(0) if self.lines else "^D"
        self.screen.write(line if line in ("^C", "^D") else line + "\n")
        if line == "^C":
            raise KeyboardInterrupt
        return "" if line == "^D" else line + "\n"


def replay(path: Path, folder: Path, patch: pytest.MonkeyPatch) -> tuple[str, str]:
    """Play a golden file again: what stands in it, and what was on the screen; or write it anew where that was asked for."""
    text = path.read_text(encoding="utf-8")
    transcript = play(text, folder, patch)
    if os.environ.get(UPDATE):
        path.write_text(transcript, encoding="utf-8")
        pytest.skip("written anew")
    return text, transcript


def play(text: str, folder: Path, patch: pytest.MonkeyPatch) -> str:
    """Run every command of a golden file with the lines that are typed in it, and give the transcript."""
    shown = text[: text.index("$ ")]
    patch.chdir(folder)
    patch.setattr("shutil.get_terminal_size", lambda *_: os.terminal_size((COLUMNS, ROWS)))
    patch.setenv("NO_COLOR", "1")
    patch.setenv("SHIFTLORE_CASEBOOK", str(folder / "casebook.db"))
    share_trade(patch)
    for run in filter(None, re.split(r"^(?=\$ )", text[len(shown) :], flags=re.MULTILINE)):
        command, _, screen = run.partition("\n")
        words = shlex.split(command[2:])
        if words[:1] == ["cat"]:
            shown += f"{command}\n{Path(words[1]).read_text(encoding='utf-8')}\n"
            continue
        terminal = Terminal()
        typed = [
            line[len(PROMPT) :] for line in screen.splitlines() if line.startswith(PROMPT) or line == PROMPT.strip()
        ]
        for stream in ("stdout", "stderr"):
            patch.setattr(sys, stream, terminal)
        patch.setattr(sys, "stdin", Keyboard(terminal, typed))
        run_with(words[1:])
        shown += f"{command}\n{wiped(terminal.getvalue())}\n"
    return "\n".join(line.rstrip() for line in shown.rstrip("\n").split("\n")) + "\n"


def screens_of(text: str) -> list[str]:
    """Give the runs of the program in a transcript."""
    return [run for run in re.split(r"^(?=\$ )", text, flags=re.MULTILINE) if run.startswith("$ shiftlore")]


def check_screens(text: str) -> None:
    """See that a transcript fits the screen and shows no traceback."""
    screens = screens_of(text)
    assert screens and all(
        len(line) <= COLUMNS for run in screens for line in run.split("\n")[1:] if line[:2] != PROMPT
    )
    pages = [len(page.split("\n")) for run in screens for page in re.split(r"^> .*$|^-- .*$", run, flags=re.MULTILINE)]
    assert max(pages) <= ROWS + 4, "the echo of an answer may stand above a page"
    assert "Traceback" not in text
