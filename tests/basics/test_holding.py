"""A file is held by one session; the next is told, and what a dead one left does not count."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from shiftlore.basics.holding import Hold


def test_take__the_second_is_told_who_has_it(tmp_path: Path) -> None:
    first, second = Hold(tmp_path / "case.yaml"), Hold(tmp_path / "case.yaml")
    assert "" == first.take()
    assert f"process {os.getpid()} on " in second.take()
    first.release()
    assert "" == second.take()


def test_take_over__the_first_finds_out_and_lets_the_second_have_it(tmp_path: Path) -> None:
    first, second = Hold(tmp_path / "case.yaml"), Hold(tmp_path / "case.yaml")
    first.take()
    second.take_over()
    assert (False, True) == (first.is_here(), second.is_here())
    first.release()
    assert second.is_here() and [".case.yaml.open"] == os.listdir(tmp_path)


def test_take__what_a_dead_process_or_a_broken_note_left_does_not_count(tmp_path: Path) -> None:
    code = f"from pathlib import Path; from shiftlore.basics.holding import Hold; print(repr(Hold(Path({str(tmp_path / 'c.yaml')!r})).take()))"
    assert b"''" in subprocess.run([sys.executable, "-c", code], capture_output=True, check=True).stdout
    assert (tmp_path / ".c.yaml.open").exists(), "it ended without letting go"
    assert "" == Hold(tmp_path / "c.yaml").take()
    (tmp_path / ".c.yaml.open").write_bytes(b"{half")
    assert "" == Hold(tmp_path / "c.yaml").take()


@pytest.mark.parametrize("process", [2**70, "x", None, -1])
def test_take__another_machines_process_counts_as_running(tmp_path: Path, process: object) -> None:
    (tmp_path / ".c.yaml.open").write_text(json.dumps({"process": process, "machine": "another", "mark": "m"}))
    assert "another" in Hold(tmp_path / "c.yaml").take()


def test_is_here__a_note_that_is_gone_was_taken_by_nobody(tmp_path: Path) -> None:
    hold = Hold(tmp_path / "c.yaml")
    hold.take()
    hold.place.unlink()
    assert hold.is_here()
    hold.release()
