"""`shiftlore unit`."""

from collections.abc import Callable
from pathlib import Path

import pytest
from support.interruptions import NEW_SHEET
from support.trade import write_small

from shiftlore.basics.holding import hold_file


def test_unit__a_shipped_one_by_its_id(run: Callable) -> None:
    ended = run("unit", "long5")
    assert (0, "") == (ended.code, ended.err)
    assert "computed" in ended.out


def test_unit__lost_and_stuck(run: Callable) -> None:
    out = run("unit", "long5", "--lost", "b1", "--stuck", "sol_a=off").out
    assert "b1" in out.lower() and "sol_a" in out.lower()


def test_unit__unknown_ids_name_the_near_ones(run: Callable) -> None:
    for arguments, near in (
        (["long6x"], "long6"),
        (["long5", "--lost", "c9"], "c1"),
        (["long5", "--stuck", "sol_a"], "on"),
    ):
        ended = run("unit", *arguments)
        assert (2, "") == (ended.code, ended.out)
        assert near in ended.err


def test_unit__a_wrong_sheet_says_where(run: Callable, write: Callable) -> None:
    ended = run("unit", write("id: x\nlabel: X\ngears: 3\n", "x.yaml"))
    assert (1, "") == (ended.code, ended.out)
    assert "x.yaml:" in ended.err


def test_unit__a_drawing_is_written_once_unless_forced(run: Callable, tmp_path: Path) -> None:
    path = tmp_path / "long5.svg"
    assert 0 == run("unit", "long5", "--draw", str(path)).code
    assert path.read_text(encoding="utf-8").startswith("<svg")
    assert 2 == run("unit", "long5", "--draw", str(path)).code
    assert 0 == run("unit", "long5", "--draw", str(path), "--force").code


def names_of(path: Path) -> list[str]:
    """List the variables of a network file."""
    return [line.split()[1] for line in path.read_text(encoding="utf-8").splitlines() if line.startswith("variable")]


@pytest.mark.filterwarnings("ignore")
def test_unit__a_network_of_the_small_knowledge_is_written_whole(run: Callable, tmp_path: Path) -> None:
    folder, path = write_small(tmp_path / "rules"), tmp_path / "long5.bif"
    ended = run("unit", "long5", "--network", str(path), "--knowledge", str(folder))
    assert (0, "") == (ended.code, ended.out)
    assert {"fault", "line_pressure_low", "fluid_colour", "gear_slips_2"} <= set(names_of(path))
    assert ["long5.bif", "rules"] == sorted(item.name for item in tmp_path.iterdir())


@pytest.mark.filterwarnings("ignore")
def test_unit__a_network_about_one_finding_is_written_once_unless_forced(run: Callable, tmp_path: Path) -> None:
    path = tmp_path / "slips.bif"
    asked = ("unit", "trans4", "--network", str(path), "--about", "fluid_colour")
    assert 0 == run(*asked).code
    assert "fault" in names_of(path) and "slips" not in names_of(path)
    ended = run(*asked)
    assert 2 == ended.code and "--force" in ended.err
    assert 0 == run(*asked, "--force").code


@pytest.mark.parametrize(
    ("arguments", "code", "told"),
    [
        (["long5", "--network", "{}/a.txt"], 2, ".bif"),
        (["long5", "--about", "slips"], 2, "--network"),
        (["knowledge/units/long5.yaml", "--network", "{}/a.bif"], 2, "--knowledge FOLDER"),
        (["lnog5", "--network", "{}/a.bif"], 2, "long5"),
        (["trans4", "--network", "{}/a.bif", "--about", "slpis"], 2, "slips"),
    ],
)
@pytest.mark.filterwarnings("ignore")
def test_unit__a_network_that_cannot_be_meant_is_refused(
    run: Callable, tmp_path: Path, arguments: list[str], code: int, told: str
) -> None:
    ended = run("unit", *(argument.format(tmp_path) for argument in arguments))
    assert (code, "") == (ended.code, ended.out)
    assert told in ended.err and not list(tmp_path.iterdir())


def test_unit__a_network_is_written_without_what_libraries_tell_programmers(program: Callable, tmp_path: Path) -> None:
    path = tmp_path / "slips.bif"
    ended = program("unit", "trans4", "--network", str(path), "--about", "fluid_colour")
    assert (0, f"The network stands in {path}.\n") == (ended.returncode, ended.stderr.decode())


def test_unit__a_network_without_the_library_says_what_to_install(
    run: Callable, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("importlib.util.find_spec", lambda name: None)
    ended = run("unit", "long5", "--network", str(tmp_path / "a.bif"))
    assert 2 == ended.code and "python -m pip install pgmpy" in ended.err


def test_unit__a_new_sheet_that_was_stopped_goes_on_where_it_was(run: Callable, tmp_path: Path) -> None:
    path = tmp_path / "own3.yaml"
    first = run("unit", "--new", str(path), stdin="\n".join([*NEW_SHEET[:3], "b", *NEW_SHEET[2:7], "q"]) + "\n")
    assert 1 == first.code and "goes on from there" in first.err and not path.exists()
    second = run("unit", "--new", str(path), stdin="\n".join(NEW_SHEET[7:]) + "\n")
    assert 0 == second.code, second.out + second.err
    assert "Going on with the answers" in second.out and "holds together" in second.out
    assert [path] == list(tmp_path.iterdir())
    assert 0 == run("unit", str(path)).code


def test_unit__a_file_that_appeared_during_the_questions_stays(run: Callable, tmp_path: Path) -> None:
    path = tmp_path / "own3.yaml"
    import shiftlore.cli.common as common

    read = common.read_line

    def read_and_write() -> str:
        path.write_text("somebody else's")
        return read()

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(common, "read_line", read_and_write)
        ended = run("unit", "--new", str(path), stdin="\n".join(NEW_SHEET) + "\n")
    assert 2 == ended.code and "--force" in ended.err and "somebody else's" == path.read_text()
    assert 0 == run("unit", "--new", str(path), "--force").code, "the answers are kept"
    assert "own3" in path.read_text()


def test_unit__an_unfinished_new_sheet_keeps_its_answers(run: Callable, tmp_path: Path) -> None:
    path = tmp_path / "new.yaml"
    assert 1 == run("unit", "--new", str(path), stdin="mine\nMy unit\n").code
    assert not path.exists() and "mine\nMy unit\n" == (tmp_path / "new.yaml.answers").read_text()


def test_unit__a_drawing_is_whole_or_not_there(run: Callable, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "t.svg"
    assert 0 == run("unit", "long5", "--draw", str(path)).code
    before = path.read_bytes()

    def full(handle: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("os.fsync", full)
    ended = run("unit", "long5", "--draw", str(path), "--force")
    assert 1 == ended.code and "No space left" in ended.err
    assert (before, [path]) == (path.read_bytes(), list(tmp_path.iterdir()))


def test_unit__a_drawing_does_not_take_the_place_of_a_case(run: Callable, write: Callable) -> None:
    path = Path(write("unit: long5\n"))
    assert 2 == run("unit", "long5", "--draw", str(path), "--force").code
    assert "unit: long5\n" == path.read_text()


def test_unit__the_second_on_a_new_sheet_is_told(run: Callable, tmp_path: Path) -> None:
    path = tmp_path / "own3.yaml"
    with hold_file(path):
        ended = run("unit", "--new", str(path), stdin="\n".join(NEW_SHEET) + "\n")
    assert (1, "") == (ended.code, ended.out) and "is open in another session (process " in ended.err
    assert [] == list(tmp_path.iterdir())


def test_unit__answers_that_are_none_are_left_alone(run: Callable, tmp_path: Path) -> None:
    kept = tmp_path / "own3.yaml.answers"
    kept.write_text("own3\nOwn three-speed\nstep fwd converter\n\nmy own notes of something else\n")
    ended = run("unit", "--new", str(tmp_path / "own3.yaml"), stdin="\n".join(NEW_SHEET) + "\n")
    assert 2 == ended.code and "own3.yaml.answers:5: This is no answer" in ended.err
    assert "my own notes of something else" in kept.read_text() and [kept] == list(tmp_path.iterdir())
