"""Colour, plain text, and what the commands share."""

import io
import os
import re
import sys
import time
from collections.abc import Callable
from pathlib import Path

import pexpect
import pytest
from support.trade import ROOT

from shiftlore.basics import ShiftloreError, UsageProblem
from shiftlore.cli.common import (
    busy,
    free_name,
    read_line,
    require_place,
    save_output,
    show_pages,
    strong_mark,
    terminal_width,
    wants_colour,
)
from shiftlore.cli.main import shiftlore as shiftlore_group

CASE = "examples/touring_camper.yaml"


def in_terminal(*arguments: str, columns: int = 100, **settings: str) -> str:
    """Run the program in a terminal and give all it shows."""
    environment = {**os.environ, "PYTHONPATH": str(ROOT / "src"), "TERM": "xterm", **settings}
    environment = {name: value for name, value in environment.items() if name not in ("COLUMNS", "LINES")}
    child = pexpect.spawn(
        sys.executable,
        ["-m", "shiftlore", *arguments],
        cwd=str(ROOT),
        env=environment,
        encoding="utf-8",
        timeout=60,
        dimensions=(200, columns),
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


def test_require_place__says_what_to_give_instead(write: Callable, tmp_path: Path) -> None:
    path = Path(write("x"))
    require_place(path, force=True, ending=".yaml")
    require_place(path.with_name("other.yaml"), force=False)
    for place, ending, told in [
        (path, "", "--force"),
        (path, ".svg|.html", "ends in .svg or .html"),
        (tmp_path / "none" / "a.svg", ".svg", "no folder"),
        (tmp_path / ("a" * 300), "", "too long"),
        (tmp_path / "a\x1b[31m", "", r"\\x1b\[31m"),
        (Path("/dev/null"), "", "no ordinary file"),
    ]:
        with pytest.raises(UsageProblem, match=told):
            require_place(place, force=False, ending=ending)
    assert [path] == list(tmp_path.iterdir())


def test_save_output__leaves_no_half_file_and_nothing_beside(tmp_path: Path) -> None:
    save_output(tmp_path / "page.html", b"all of it", force=False)
    with pytest.raises(UsageProblem, match="--force"):
        save_output(tmp_path / "page.html", b"other", force=False)
    assert [b"all of it"] == [path.read_bytes() for path in tmp_path.iterdir()]


def test_save_output__a_place_that_cannot_be_is_told(tmp_path: Path) -> None:
    for place, told in ((tmp_path / "none" / "page.html", "cannot be written"), (tmp_path, "is a folder")):
        with pytest.raises(ShiftloreError, match=told):
            save_output(place, b"x", force=True)


def test_save_output__a_failure_keeps_what_was_there(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "page.html").write_bytes(b"old")

    def fail(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "replace", fail)
    with pytest.raises(ShiftloreError, match="No space left"):
        save_output(tmp_path / "page.html", b"new", force=True)
    assert [b"old"] == [path.read_bytes() for path in tmp_path.iterdir()]


def test_free_name__passes_over_those_that_are_there(tmp_path: Path) -> None:
    (tmp_path / "case-2.yaml").touch()
    assert tmp_path / "case-3.yaml" == free_name(tmp_path / "case.yaml")


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["options", "--budget", "400 EUR"], '"400 EUR" will not do. Write the budget as a plain number from 0 to'),
        (["options", "--budget", "nan"], "such as 400."),
        (["next", "--budget", "-1"], "such as 400."),
        (["next", "--labour", "inf"], "Write the labour as a plain number"),
        (["next", "--steps", "many"], '"many" will not do. Write a whole number from 1 to 12.'),
        (["next", "--fold", "0"], "from 0.5 to 100, such as 3."),
    ],
)
def test_number__wrong_ones_are_refused_in_plain_words(run: Callable, arguments: list[str], said: str) -> None:
    ended = run(*arguments, CASE)
    assert (2, "") == (ended.code, ended.out)
    assert said in " ".join(ended.err.split()) and "range" not in ended.err


def test_busy__writes_nothing_in_a_pipe(capsys: pytest.CaptureFixture[str]) -> None:
    with busy("Working"):
        pass
    assert ("", "") == tuple(capsys.readouterr())


class Terminal(io.StringIO):
    """A stream that says it is a terminal."""

    def isatty(self) -> bool:
        return True


def test_busy__says_what_is_done_and_wipes_it_out_even_after_a_fault(monkeypatch: pytest.MonkeyPatch) -> None:
    shown = Terminal()
    monkeypatch.setattr(sys, "stderr", shown)
    with pytest.raises(UsageProblem), busy("Working"):
        raise UsageProblem("no")
    assert "Working ...\r" + " " * 17 + "\r" == shown.getvalue()


@pytest.mark.parametrize(("share", "told"), [(None, r"\rWorking \.\.\. \d+ s"), (0.42, r"\rWorking \.\.\. 42 %")])
def test_busy__says_how_far_it_is(monkeypatch: pytest.MonkeyPatch, share: float | None, told: str) -> None:
    shown = Terminal()
    monkeypatch.setattr(sys, "stderr", shown)
    monkeypatch.setattr("shiftlore.cli.common.TICK_SECONDS", 0.002)
    with busy("Working") as tell:
        if share is not None:
            tell(share)
        until = time.monotonic() + 5
        while not re.search(told, shown.getvalue()) and time.monotonic() < until:
            time.sleep(0.002)
    assert re.search(told, shown.getvalue())
    assert "\r" + " " * 17 + "\r" == shown.getvalue()[-19:]


@pytest.mark.parametrize(("typed", "lines"), [(["", ""], 60), (["q"], 23), (["7", "q"], 46)])
def test_show_pages__a_screen_at_a_time(monkeypatch: pytest.MonkeyPatch, typed: list[str], lines: int) -> None:
    shown, text = Terminal(), "\n".join(f"line {number}" for number in range(60))
    monkeypatch.setattr(sys, "stdin", Terminal())
    monkeypatch.setattr(sys, "stdout", shown)
    monkeypatch.setattr("shutil.get_terminal_size", lambda *_: os.terminal_size((80, 24)))
    monkeypatch.setattr("shiftlore.cli.common.read_line", lambda prompt: typed.pop(0))
    monkeypatch.setattr("shiftlore.cli.common._typed_ahead", [])
    show_pages(text)
    assert (lines, []) == (shown.getvalue().count("line "), typed)


def test_show_pages__what_is_typed_between_screens_is_taken_at_the_next_prompt(monkeypatch: pytest.MonkeyPatch) -> None:
    typed = ["slips when cold", ""]
    monkeypatch.setattr(sys, "stdin", Terminal())
    monkeypatch.setattr(sys, "stdout", Terminal())
    monkeypatch.setattr("shutil.get_terminal_size", lambda *_: os.terminal_size((80, 24)))
    monkeypatch.setattr("builtins.input", lambda prompt: typed.pop(0))
    show_pages("\n".join(["x"] * 60))
    typed.append("next")
    assert ["slips when cold", "next"] == [read_line(), read_line()]


def test_show_pages__whole_in_a_pipe(capsys: pytest.CaptureFixture[str]) -> None:
    show_pages("\n".join(["x"] * 60))
    assert 60 == capsys.readouterr().out.count("x")


def complete(*words: str) -> list[str]:
    """Give what a shell would be offered for the last word, by click's own interface."""
    from click.shell_completion import ShellComplete

    *before, begun = words
    shell = ShellComplete(shiftlore_group, {}, "shiftlore", "_SHIFTLORE_COMPLETE")
    return [item.value for item in shell.get_completions(before, begun)]


@pytest.mark.parametrize(
    ("words", "offered"),
    [
        (("explain", "pump_w"), ["pump_worn", "pump_worn_seen"]),
        (("explain", "--unit", "long"), ["long5", "long6", "long8"]),
        (("find", "--list", "step-"), ["step-fwd", "step-rwd"]),
        (("triage", "--unit", "dct"), ["dct", "dct-dry", "dct7"]),
        (("simulate", "long6"), ["long6"]),
        (("unit", "cv"), ["cvt"]),
        (("next", "x.yaml", "--open", "pan"), ["pan_off"]),
        (("ra",), ["rank"]),
        (("next", "--tr"), ["--tree", "--tree-format"]),
        (("explain", "no_such_id"), []),
    ],
)
def test_complete_ids__what_a_shell_is_offered(words: tuple[str, ...], offered: list[str]) -> None:
    assert offered == complete(*words)


def test_complete_ids__of_another_knowledge_folder(tmp_path: Path) -> None:
    (tmp_path / "causes").mkdir()
    (tmp_path / "causes" / "own_cause.yaml").write_text("id: own_cause\n", encoding="utf-8")
    assert ["own_cause"] == complete("explain", "--knowledge", str(tmp_path), "own")


@pytest.mark.parametrize("command", ["rank", "next", "options"])
def test_case_argument__is_completed_as_a_file(command: str) -> None:
    from click.shell_completion import ShellComplete

    shell = ShellComplete(shiftlore_group, {}, "shiftlore", "_SHIFTLORE_COMPLETE")
    assert ["file"] == [item.type for item in shell.get_completions([command], "examples/f")]


@pytest.mark.parametrize("shell", ["bash", "zsh", "fish"])
def test_run__gives_the_script_for_each_shell(shell: str, program: Callable) -> None:
    ended = program(_SHIFTLORE_COMPLETE=f"{shell}_source")
    assert (0, b"") == (ended.returncode, ended.stderr)
    assert b"_SHIFTLORE_COMPLETE=" + f"{shell}_complete".encode() in ended.stdout


@pytest.mark.parametrize("command", ["practise", "triage"])
def test_refuse_unit__a_unit_is_no_file(run: Callable, command: str) -> None:
    ended = run(command, "long5")
    assert 2 == ended.code
    assert "Write --unit long5" in ended.err and not (ROOT / "long5").exists()
