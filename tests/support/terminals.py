"""The program in a real terminal: a pseudo-terminal of the system with 24 rows of 80 columns, as a user has it."""

import os
import re
import signal
import sys
import time
from pathlib import Path

import pexpect

from support.trade import ROOT

ROWS, COLUMNS, PATIENCE = 24, 80, 30.0
HAND = 0.2  # seconds from seeing the prompt to pressing a key
PROMPT, PAGER = "> ", " leaves them out -- "
_KEYS = re.compile(r"\x1b\[[?\d;]*[A-Za-z]|\x1b[=>]|\x07")
_WIPED = re.compile(r"(?:[^\n\r]*\r)+ +\r")


def wiped(text: str) -> str:
    """Take out what was said while something was worked out, as it is taken off the screen."""
    return _WIPED.sub("", text)


class RealTerminal:
    """One run of the program; `shown` is all that stood on its screen, with what was typed."""

    def __init__(self, *arguments: str, folder: Path):
        environment = {**os.environ, "PYTHONPATH": str(ROOT / "src"), "TERM": "xterm", "NO_COLOR": "1"}
        environment |= {"SHIFTLORE_SHOP": str(folder / "no-shop.yaml")}
        environment = {name: value for name, value in environment.items() if name not in ("COLUMNS", "LINES")}
        command = [sys.executable, "-m", "shiftlore", *arguments]
        size = (ROWS, COLUMNS)
        self.child = pexpect.spawn(
            command[0],
            command[1:],
            cwd=str(folder),
            env=environment,
            dimensions=size,
            preexec_fn=lambda: signal.signal(signal.SIGINT, signal.SIG_DFL),  # test runners switch it off
        )
        self.child.delaybeforesend = None
        self.raw = b""

    @property
    def shown(self) -> str:
        """Give the text as it stands on the screen: without what was wiped out and the terminal's own signs."""
        text = _KEYS.sub("", self.raw.decode(errors="replace"))
        return re.sub(r"\r+\n", "\n", wiped(text))

    def wait(self) -> bool:
        """Read until it waits for a line; pages are turned by Enter. False when it has ended."""
        until = time.monotonic() + PATIENCE
        while time.monotonic() < until:
            last = self.shown.rsplit("\n", 1)[-1]
            if last == PROMPT:
                return True
            if last.endswith(PAGER):
                self.child.send("\r")
                if not self._read_more(PATIENCE):
                    return False
            elif not self._read_more(0.2):
                return False
        raise AssertionError(f"it neither asks nor ends: {self.shown[-500:]!r}")

    def _read_more(self, seconds: float) -> bool:
        """Read what has come; False when it has ended."""
        try:
            self.raw += self.child.read_nonblocking(65536, timeout=seconds)
        except pexpect.TIMEOUT:
            return True
        except pexpect.EOF:
            self.child.wait()
            return False
        return True

    def type(self, line: str) -> bool:
        """Type a line, or a key such as ^C, and wait for what follows; False when the program has ended.

        A key follows the prompt as soon as a hand could: Python's own line editor loses a Ctrl-C that comes
        in the very moment it sets itself up.
        """
        is_key = line in ("^C", "^D")
        if is_key:
            self.raw += line.encode()
            time.sleep(HAND)
            self.child.sendcontrol(line[1].lower())
        else:
            self.child.send(line + "\r")
        return self._read_more(PATIENCE) and self.wait()

    def kill(self) -> None:
        """End it without warning, as a power cut does."""
        self.child.kill(9)
        self.child.wait()
