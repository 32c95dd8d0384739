"""Colour, plain text, and what the commands share."""

import os
import sys
from collections.abc import Callable

import pexpect
import pytest
from support.trade import ROOT

from shiftlore.basics import UsageProblem
from shiftlore.cli.common import refuse_existing, strong_mark, terminal_width, wants_colour

CASE = "examples/touring_camper.yaml"


def in_terminal(*arguments: str, columns: int = 100, **settings: str) -> str:
    """Run the program in a terminal and give all it shows."""
    environment = {**os.environ, "PYTHONPATH": str(ROOT / "src"), "TERM": "xterm", **settings}
    environment.pop("COLUMNS", None)
    child = pexpect.spawn(
        sys.executable,
        ["-m", "shiftlore", *arguments],
        cwd=str(ROOT),
        env=environment,
        encoding="utf-8",
        timeout=60,
        dimensions=(40, columns),
    )
    child.expect(pexpect.EOF)
    child.close()
    assert 0 == child.exitstatus, child.before
    return str(child.before)


def test_rank__a_terminal_gets_bold_headings() -> None:
    assert "\x1b[1m" in in_terminal("rank", CASE)


@pytest.mark.parametrize("settings", [{"NO_COLOR": "1"}, {"TERM": "dumb"}])
def test_rank__no_colour_where_none_is_wanted(settings: dict[str, str]) -> None:
    assert "\x1b" not in in_terminal("rank", CASE, **settings)


def test_rank__plain_in_a_narrow_terminal_keeps_its_width() -> None:
    shown = in_terminal("rank", CASE, "--plain", columns=60)
    assert "\x1b" not in shown
    assert max(map(len, shown.splitlines())) <= 60


def test_wants_colour__never_in_a_pipe() -> None:
    assert not wants_colour(plain=False)
    assert "x" == strong_mark(False)("x")


def test_terminal_width__eighty_in_a_pipe() -> None:
    assert 80 == terminal_width()


def test_refuse_existing__only_with_force(write: Callable) -> None:
    from pathlib import Path

    path = Path(write("x"))
    refuse_existing(path, force=True)
    refuse_existing(path.with_name("other.yaml"), force=False)
    with pytest.raises(UsageProblem, match="--force"):
        refuse_existing(path, force=False)
