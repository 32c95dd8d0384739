"""A file is held by one session; the next is told, and what a dead one left does not count."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from shiftlore.basics import ShiftloreError
from shiftlore.basics.holding import Hold, hold_file


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
    (tmp_path / ".d.yaml.open").symlink_to(tmp_path / "nowhere")
    assert "" == Hold(tmp_path / "d.yaml").take()


def test_take__a_note_cannot_steer_the_screen(tmp_path: Path) -> None:
    note = {"process": os.getpid(), "machine": "\x1b[31m", "since": "\x9b2J"}
    (tmp_path / ".c.yaml.open").write_text(json.dumps(note))
    assert f"process {os.getpid()} on \\x1b[31m since \\x9b2J" == Hold(tmp_path / "c.yaml").take()


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


def test_take__a_note_let_go_meanwhile_is_not_taken_from_a_third(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    third = Hold(tmp_path / "case.yaml")
    third.take()
    found = [FileNotFoundError()]

    def read(path: Path, most: int) -> bytes:
        if found:
            raise found.pop()  # the first let go; before the second looks again, the third has it
        return path.read_bytes()

    monkeypatch.setattr("shiftlore.basics.holding.read_bounded", read)
    assert f"process {os.getpid()} on " in Hold(tmp_path / "case.yaml").take()
    assert third.is_here()


def test_move_to__the_old_file_is_free_and_the_new_one_held(tmp_path: Path) -> None:
    hold = Hold(tmp_path / "case.yaml")
    hold.take()
    hold.move_to(tmp_path / "case-2.yaml")
    assert [".case-2.yaml.open"] == os.listdir(tmp_path) and hold.is_here()
    hold.release()
    assert [] == os.listdir(tmp_path)


def test_hold_file__one_at_a_time_and_free_again_after_a_fault(tmp_path: Path) -> None:
    path = tmp_path / "case.yaml"
    with pytest.raises(ZeroDivisionError), hold_file(path):
        with (
            pytest.raises(
                ShiftloreError, match=r"case\.yaml is open in .* \(process \d+ on .* delete .*\.case\.yaml\.open\.$"
            ),
            hold_file(path),
        ):
            pass
        raise ZeroDivisionError
    assert [] == os.listdir(tmp_path)
