"""Files written whole or not at all."""

import os
import stat
from pathlib import Path

import pytest

from shiftlore.basics.whole_files import new_file_mode, write_whole


def test_write_whole__takes_the_name_over_with_its_mode(tmp_path: Path) -> None:
    target = tmp_path / "a.txt"
    target.write_bytes(b"old")
    write_whole(target, b"new", 0o640)
    assert (b"new", 0o640) == (target.read_bytes(), stat.S_IMODE(target.stat().st_mode))
    assert ["a.txt"] == os.listdir(tmp_path)


@pytest.mark.parametrize("kind", [OSError, KeyboardInterrupt])
def test_write_whole__stopped_half_way_keeps_the_old(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, kind: type[BaseException]
) -> None:
    target = tmp_path / "a.txt"
    target.write_bytes(b"old")

    def stop(handle: int) -> None:
        raise kind

    monkeypatch.setattr(os, "fsync", stop)
    with pytest.raises(kind):
        write_whole(target, b"new", 0o600)
    assert (b"old", ["a.txt"]) == (target.read_bytes(), os.listdir(tmp_path))


def test_new_file_mode__follows_the_users_mask() -> None:
    before = os.umask(0o027)
    try:
        assert 0o640 == new_file_mode()
    finally:
        os.umask(before)
