"""`shiftlore unit`."""

from collections.abc import Callable
from pathlib import Path


def test_unit__a_shipped_one_by_its_id(run: Callable) -> None:
    ended = run("unit", "long5")
    assert (0, "") == (ended.code, ended.err)
    assert "computed" in ended.out


def test_unit__lost_and_stuck(run: Callable) -> None:
    out = run("unit", "long5", "--lost", "b1", "--stuck", "sol_a=off").out
    assert "b1" in out.lower() and "sol_a" in out.lower()


def test_unit__unknown_ids_name_the_near_ones(run: Callable) -> None:
    for arguments, near in ((["long6x"], "long6"), (["long5", "--lost", "c9"], "c1"), (["long5", "--stuck", "sol_a"], "on")):
        ended = run("unit", *arguments)
        assert (1, "") == (ended.code, ended.out)
        assert near in ended.err


def test_unit__a_wrong_sheet_says_where(run: Callable, write: Callable) -> None:
    ended = run("unit", write("id: x\nlabel: X\ngears: 3\n", "x.yaml"))
    assert (1, "") == (ended.code, ended.out)
    assert "x.yaml:" in ended.err


def test_unit__a_drawing_is_written_once_unless_forced(run: Callable, tmp_path: Path) -> None:
    path = tmp_path / "long5.svg"
    assert 0 == run("unit", "long5", "--draw", str(path)).code
    assert path.read_text(encoding="utf-8").startswith("<svg")
    assert 1 == run("unit", "long5", "--draw", str(path)).code
    assert 0 == run("unit", "long5", "--draw", str(path), "--force").code


def test_unit__an_unfinished_new_sheet_is_not_written(run: Callable, tmp_path: Path) -> None:
    path = tmp_path / "new.yaml"
    assert 1 == run("unit", "--new", str(path), stdin="mine\nMy unit\n").code
    assert not path.exists()
