"""Files written whole or not at all."""

import os
import stat
import time
from pathlib import Path

import pytest

from shiftlore.basics.whole_files import new_file_mode, read_bounded, try_place, write_whole


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


def test_write_whole__does_not_take_the_place_of_a_file_that_appeared(tmp_path: Path) -> None:
    target = tmp_path / "a.txt"
    write_whole(target, b"first", 0o600, replace=False)
    with pytest.raises(FileExistsError):
        write_whole(target, b"second", 0o600, replace=False)
    assert (b"first", ["a.txt"]) == (target.read_bytes(), os.listdir(tmp_path))


def test_write_whole__does_not_replace_where_the_system_has_no_links(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(*_: object) -> None:
        raise PermissionError(1, "Operation not permitted")

    monkeypatch.setattr(os, "link", refuse)
    test_write_whole__does_not_take_the_place_of_a_file_that_appeared(tmp_path)


def test_write_whole__takes_away_what_killed_runs_have_left_of_this_file(tmp_path: Path) -> None:
    names = [".a[1].txt.old.part", ".a[1].txt.now.part", ".other.txt.old.part"]
    for name in names:
        (tmp_path / name).write_bytes(b"half")
        long_ago = time.time() - (3600 if "old" in name else 0)
        os.utime(tmp_path / name, (long_ago, long_ago))
    write_whole(tmp_path / "a[1].txt", b"all", 0o600)
    assert {"a[1].txt", ".a[1].txt.now.part", ".other.txt.old.part"} == set(os.listdir(tmp_path))


def test_try_place__gives_the_real_place_and_leaves_nothing(tmp_path: Path) -> None:
    (tmp_path / "link").symlink_to("real.txt")
    assert (tmp_path / "real.txt").resolve() == try_place(tmp_path / "link")
    assert ["link"] == os.listdir(tmp_path)


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="this system has no named pipes")
def test_try_place__tells_what_cannot_be_written(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe")
    (tmp_path / "dangling").symlink_to("none/real.txt")
    for name, why in {
        "pipe": "no ordinary file", ".": "folder", "none/a": "No such file", "dangling": "No such file", "a" * 300: "too long",
    }.items():  # fmt: skip
        with pytest.raises(OSError, match=why):
            try_place(tmp_path / name)


@pytest.mark.skipif(not os.path.exists("/proc/version"), reason="needs a folder in which nobody may write")
def test_try_place__a_folder_that_takes_no_file_is_told() -> None:
    with pytest.raises(OSError):
        try_place(Path("/proc/a.txt"))


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="this system has no named pipes")
def test_read_bounded__waits_for_nothing_and_takes_one_byte_more(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe")
    (tmp_path / "file").write_bytes(b"x" * 100)
    assert (b"x" * 100, b"x" * 11) == (read_bounded(tmp_path / "file", 100), read_bounded(tmp_path / "file", 10))
    for name in (tmp_path / "pipe", Path("/dev/zero"), tmp_path):
        with pytest.raises(OSError, match=r"no ordinary file|Is a directory"):
            read_bounded(name, 10)
