"""Run the command line in this process, or as a program of its own."""

import io
import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple

import pytest
from support.trade import NO_CASEBOOK, NO_SHOP, ROOT, share_trade

from shiftlore.cli.main import run_with


class Ended(NamedTuple):
    """How a command ended: exit code, standard output, standard error."""

    code: int
    out: str
    err: str


@pytest.fixture
def run(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> Callable[..., Ended]:
    """Give a function that runs a command in this process, with standard input from a text or bytes."""

    def go(*arguments: str, stdin: str | bytes = "") -> Ended:
        raw = stdin.encode() if isinstance(stdin, str) else stdin
        monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(raw), encoding="utf-8"))
        monkeypatch.chdir(ROOT)
        share_trade(monkeypatch)
        code = run_with(list(arguments))
        told = capsys.readouterr()
        return Ended(code, told.out, told.err)

    return go


@pytest.fixture
def program() -> Callable[..., "subprocess.CompletedProcess[bytes]"]:
    """Give a function that runs the program as a process of its own."""

    def go(*arguments: str, stdin: bytes = b"", **settings: str) -> "subprocess.CompletedProcess[bytes]":
        environment = {**os.environ, "PYTHONPATH": str(ROOT / "src"), "SHIFTLORE_SHOP": NO_SHOP}
        environment |= {"SHIFTLORE_CASEBOOK": NO_CASEBOOK, **settings}
        command = [sys.executable, "-m", "shiftlore", *arguments]
        return subprocess.run(command, input=stdin, capture_output=True, cwd=ROOT, env=environment, timeout=60)

    return go


@pytest.fixture
def write(tmp_path: Path) -> Callable[[str], str]:
    """Give a function that writes a case file and gives its path."""

    def put(text: str, name: str = "case.yaml") -> str:
        path = tmp_path / name
        path.write_text(text, encoding="utf-8")
        return str(path)

    return put
