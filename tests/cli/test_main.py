"""Exit codes, and what goes where, for every command."""

import os
import subprocess
import sys
from collections.abc import Callable

import pytest
from support.trade import ROOT

from shiftlore.cli import main as cli
from shiftlore.cli.main import BAD_INPUT, BAD_USAGE, COMMANDS, OK, OUR_FAULT, STOPPED

CASE = "examples/touring_camper.yaml"
READING = ["rank", "next", "options"]
ENVIRONMENT = {**os.environ, "PYTHONPATH": str(ROOT / "src")}


@pytest.mark.parametrize("command", COMMANDS)
def test_help__every_command_has_it(run: Callable, command: str) -> None:
    ended = run(command, "--help")
    assert (OK, "") == (ended.code, ended.err)
    assert ended.out.startswith(f"Usage: shiftlore {command}") and len(ended.out.splitlines()) > 5


def test_help__names_every_command(run: Callable) -> None:
    ended = run("--help")
    assert OK == ended.code
    assert all(f"\n  {command} " in ended.out for command in COMMANDS)


@pytest.mark.parametrize(
    "arguments",
    [
        ["nothing"],
        ["rank"],
        ["rank", CASE, "--no-such"],
        ["rank", CASE, "--format", "xml"],
        ["schema", "nothing"],
        ["find"],
        ["simulate", "long5", "--vehicles", "many"],
        ["unit"],
    ],
)
def test_run_with__wrong_usage_is_2_and_told_on_standard_error(run: Callable, arguments: list[str]) -> None:
    ended = run(*arguments)
    assert (BAD_USAGE, "") == (ended.code, ended.out)
    assert ended.err


@pytest.mark.parametrize("command", READING)
def test_run_with__a_broken_case_is_1_and_says_where(run: Callable, write: Callable, command: str) -> None:
    path = write("shiftlore: 1\nunit: long5\nfindings:\n  fluid_smel_burnt: yes\n")
    ended = run(command, path)
    assert (BAD_INPUT, "") == (ended.code, ended.out)
    assert f"{path}:4:3: " in ended.err and "fluid_smell_burnt" in ended.err


@pytest.mark.parametrize("command", READING)
@pytest.mark.parametrize(
    "text", ["", "[", "a: b: c", "unit: nothing\n", "unit: long5\nodometer_km: far\n", "\x00", "- 1\n"]
)
def test_run_with__no_traceback_whatever_the_file_holds(
    run: Callable, write: Callable, command: str, text: str
) -> None:
    ended = run(command, write(text))
    assert (BAD_INPUT, "") == (ended.code, ended.out)
    assert "Traceback" not in ended.err and ended.err.strip()


@pytest.mark.parametrize("command", READING)
def test_run_with__a_file_that_is_not_there(run: Callable, command: str) -> None:
    ended = run(command, "no_such_case.yaml")
    assert (BAD_INPUT, "") == (ended.code, ended.out)
    assert "no_such_case.yaml" in ended.err


@pytest.mark.parametrize("command", READING)
def test_run_with__an_unknown_unit_names_the_known_ones(run: Callable, write: Callable, command: str) -> None:
    ended = run(command, write("shiftlore: 1\nunit: long55\n"))
    assert BAD_INPUT == ended.code
    assert "long55" in ended.err and "long5" in ended.err


def test_run_with__standard_input_is_a_case_too(run: Callable) -> None:
    piped, named = run("rank", "-", stdin=(ROOT / CASE).read_text(encoding="utf-8")), run("rank", CASE)
    assert (OK, "", named.out) == (piped.code, piped.err, piped.out)


@pytest.mark.parametrize("command", READING)
def test_run_with__standard_input_that_is_no_text(run: Callable, command: str) -> None:
    ended = run(command, "-", stdin=b"\xff\xfe\x00unit")
    assert (BAD_INPUT, "") == (ended.code, ended.out)
    assert "<standard input>:1:1" in ended.err


@pytest.mark.parametrize("command", READING)
def test_run_with__text_in_a_pipe_has_neither_colour_nor_boxes(run: Callable, command: str) -> None:
    ended = run(command, "-", stdin=(ROOT / CASE).read_text(encoding="utf-8"))
    assert (OK, "") == (ended.code, ended.err)
    assert "\x1b" not in ended.out
    assert not set("─│┌┐└┘├┤┬┴┼═║█░") & set(ended.out)
    assert max(map(len, ended.out.splitlines())) <= 80


def test_run_with__a_fault_of_ours_is_3_and_asks_for_a_report(run: Callable, monkeypatch: pytest.MonkeyPatch) -> None:
    def spoil(*_: object) -> None:
        raise ZeroDivisionError("on purpose")

    monkeypatch.setattr("shiftlore.cli.common.read_case_file", spoil)
    ended = run("rank", CASE)
    assert (OUR_FAULT, "") == (ended.code, ended.out)
    assert "ZeroDivisionError" in ended.err and "report" in ended.err and "Traceback" not in ended.err


def test_run_with__stopped_from_the_keyboard(run: Callable, monkeypatch: pytest.MonkeyPatch) -> None:
    def interrupt(*_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr("shiftlore.cli.common.read_case_file", interrupt)
    assert (STOPPED, "") == run("rank", CASE)[:2]


def test_run__a_reader_that_leaves_early_is_no_fault() -> None:
    """The reader takes one line and closes the pipe, as `head -1` does."""
    command = [sys.executable, "-m", "shiftlore", "rank", CASE, "--all", "--format", "json"]
    with subprocess.Popen(
        command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, cwd=ROOT, env=ENVIRONMENT
    ) as process:
        assert process.stdout is not None and process.stderr is not None
        assert b"{\n" == process.stdout.readline()
        process.stdout.close()
        assert b"" == process.stderr.read()
        assert OK == process.wait(30)


def test_run__version_and_module_form(program: Callable) -> None:
    ended = program("--version")
    assert (0, b"") == (ended.returncode, ended.stderr)
    assert ended.stdout.startswith(b"shiftlore")


def test_get_command__an_unknown_one_is_none() -> None:
    assert cli.shiftlore.get_command(None, "nothing") is None  # type: ignore[arg-type]


@pytest.mark.parametrize(("words", "offered"), [("shiftlore opt", "options"), ("shiftlore options --ti", "--timing")])
def test_main__the_tab_key_completes_commands_and_options(program: Callable, words: str, offered: str) -> None:
    """Source: the protocol of click's completion for bash, as its documentation shows it."""
    settings = {"_SHIFTLORE_COMPLETE": "bash_complete", "COMP_WORDS": words, "COMP_CWORD": str(words.count(" "))}
    ended = program(**settings)
    assert f"plain,{offered}" in ended.stdout.decode().splitlines()
    source = program(_SHIFTLORE_COMPLETE="bash_source").stdout.decode()
    assert "complete -o nosort -F _shiftlore_completion shiftlore" in source


@pytest.mark.parametrize(
    ("redirected", "told"),
    [
        (">&-", "output is closed"),
        (">/dev/full", "No space left"),
        (">/dev/full 2>/dev/full", ""),
        ("--format json >/dev/full", "No space left"),
        ("2>&-", ""),
    ],
)
@pytest.mark.skipif(not os.path.exists("/dev/full"), reason="this system has no full device")
def test_run__an_output_that_takes_nothing_is_no_fault_of_ours(redirected: str, told: str) -> None:
    command = f'"{sys.executable}" -m shiftlore rank {CASE} {redirected}'
    ended = subprocess.run(["sh", "-c", command], capture_output=True, cwd=ROOT, env=ENVIRONMENT, timeout=60)
    assert (OK if redirected == "2>&-" else BAD_INPUT) == ended.returncode
    assert told in ended.stderr.decode() and b"Traceback" not in ended.stderr and b"Exception" not in ended.stderr


@pytest.mark.parametrize("arguments", ["rank -", "triage {}/c.yaml"])
def test_run__a_closed_input_is_no_fault_of_ours(arguments: str, tmp_path: object) -> None:
    command = f'"{sys.executable}" -m shiftlore {arguments.format(tmp_path)} <&-'
    ended = subprocess.run(["sh", "-c", command], capture_output=True, cwd=ROOT, env=ENVIRONMENT, timeout=60)
    assert (OK if "triage" in arguments else BAD_INPUT) == ended.returncode, ended.stderr


LONG = "n" * 300 + ".yaml"


@pytest.mark.parametrize(
    "arguments",
    [
        ["rank", LONG], ["triage", LONG], ["unit", LONG], ["validate", LONG], ["unit", "long5", "--draw", LONG],
        ["options", CASE, "--page", LONG + ".html"], ["rank", CASE, "--knowledge", LONG], ["shop", "--shop", LONG],
        ["next", CASE, "--shop", LONG], ["unit", "--new", LONG], ["shop", "units=" + LONG], ["shop", "logo=" + LONG],
    ],
)  # fmt: skip
def test_run_with__a_long_name_is_told(run: Callable, arguments: list[str]) -> None:
    ended = run(*arguments)
    assert ended.code in (BAD_INPUT, BAD_USAGE) and ended.err


@pytest.mark.parametrize(
    "arguments",
    [
        ["rank", CASE, "--knowledge", "nowhere"], ["options", CASE, "--page", "nowhere/x.html"],
        ["options", CASE, "--page", "x.txt"], ["options", CASE, "--page", "x.html", "--language", "xx"],
        ["unit", "lnog5"], ["unit", "long5", "--stuck", "a"], ["unit", "long5", "--stuck", "zz=on"],
        ["unit", "long5", "--lost", "zz"], ["unit", "long5", "--draw", "x.png"], ["explain", "nothing_such"],
        ["simulate", "lnog5"], ["validate", "nowhere"], ["validate", "--repairs", "nowhere"],
        ["next", CASE, "--shop", "nowhere"], ["shop", "nothing=3"], ["shop", "labour_per_hour=nan"],
        ["shop", "logo=nowhere.png"], ["options", CASE, "--job", "nothing_such"], ["find", "--list", "lnog5"],
        ["triage", "nowhere/c.yaml"], ["unit", "long5", "--ratio", "1e308"], ["unit", "--new", "x.txt"],
    ],
)  # fmt: skip
def test_run_with__what_cannot_be_meant_is_wrong_usage(run: Callable, arguments: list[str]) -> None:
    ended = run(*arguments)
    assert (BAD_USAGE, "") == (ended.code, ended.out), ended.err
    assert ended.err


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="this system has no named pipes")
@pytest.mark.parametrize("command", ["rank", "validate", "triage", "unit", "shop --shop"])
def test_run_with__a_pipe_or_device_is_not_waited_for(run: Callable, tmp_path: object, command: str) -> None:
    os.mkfifo(f"{tmp_path}/pipe.yaml")
    for name in (f"{tmp_path}/pipe.yaml", "/dev/zero"):
        ended = run(*command.split(), name)
        assert ended.code in (BAD_INPUT, BAD_USAGE) and ended.err + ended.out, name


def test_run_with__standard_input_is_read_no_further_than_a_case_may_be(run: Callable) -> None:
    class Endless:
        taken = 0

        def read(self, most: int) -> bytes:
            Endless.taken += most
            return "é".encode() * (most // 2) + b"x" * (most % 2)

    class Input:
        buffer = Endless()

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("shiftlore.cli.common.sys.stdin", Input())
        patch.setattr("shiftlore.cli.common.STDIN", "-")
        from support.trade import shipped

        from shiftlore.basics import CaseError
        from shiftlore.cli.common import read_case_file

        with pytest.raises(CaseError, match="larger than 256 KiB"):
            read_case_file("-", shipped())
    assert Endless.taken < 300 * 1024


def test_run_with__a_file_name_cannot_steer_the_screen(run: Callable, write: Callable) -> None:
    ended = run("validate", write("unit: 5\n", "a\x1b[31mb\u202e.yaml"))
    assert (
        BAD_INPUT == ended.code and "\x1b" not in ended.out + ended.err and "a\\x1b[31mb\\u202e.yaml:1:7" in ended.out
    )


def test_run_with__a_word_too_many_cannot_steer_the_screen(run: Callable) -> None:
    ended = run("rank", CASE, "a\u202eb")
    assert BAD_USAGE == ended.code and "(a\\u202eb)" in ended.err


def test_run__equal_cases_give_equal_bytes_of_json() -> None:
    """In two processes whose sets and dictionaries of text stand in another order."""
    code = f"from shiftlore.cli.main import run_with\nfor command in {READING}: run_with([command, {CASE!r}, '--format', 'json'])"
    first, second = (
        subprocess.check_output([sys.executable, "-c", code], cwd=ROOT, env={**ENVIRONMENT, "PYTHONHASHSEED": seed})
        for seed in ("1", "2")
    )
    assert first == second and 3 == first.count(b'{\n  "shiftlore": 1,\n')
