"""A case file is written whole or not at all."""

import os
import stat

import pytest

from shiftlore.basics import CaseError
from shiftlore.cases import Case, Known, read_case, save_case

KNOWN = Known({}, {}, ["long5"])


def test_save_case__reads_back(tmp_path):
    save_case(tmp_path / "a.yaml", Case("long5", note="twice"))
    assert Case("long5", note="twice") == read_case(tmp_path / "a.yaml", KNOWN)


def test_save_case__leaves_no_other_file(tmp_path):
    save_case(tmp_path / "a.yaml", Case("long5"))
    assert ["a.yaml"] == os.listdir(tmp_path)


def test_save_case__keeps_the_mode(tmp_path):
    path = tmp_path / "a.yaml"
    path.write_text("old")
    path.chmod(0o640)
    save_case(path, Case("long5"))
    assert 0o640 == stat.S_IMODE(path.stat().st_mode)


def test_save_case__a_new_file_gets_the_users_mode(tmp_path):
    old = os.umask(0o027)
    try:
        save_case(tmp_path / "a.yaml", Case("long5"))
    finally:
        os.umask(old)
    assert 0o640 == stat.S_IMODE((tmp_path / "a.yaml").stat().st_mode)


def test_save_case__follows_a_link(tmp_path):
    (tmp_path / "real.yaml").write_text("old")
    (tmp_path / "link.yaml").symlink_to("real.yaml")
    save_case(tmp_path / "link.yaml", Case("long5"))
    assert (tmp_path / "link.yaml").is_symlink()
    assert "unit: long5" in (tmp_path / "real.yaml").read_text()


def test_save_case__a_missing_folder_is_told(tmp_path):
    with pytest.raises(CaseError, match=r"a\.yaml.*C040.*cannot be written: No such file"):
        save_case(tmp_path / "none" / "a.yaml", Case("long5"))


def test_save_case__a_folder_in_its_place_is_told(tmp_path):
    with pytest.raises(CaseError, match="it is a folder"):
        save_case(tmp_path, Case("long5"))


def test_save_case__a_full_disk_leaves_the_old_file(tmp_path, monkeypatch):
    path = tmp_path / "a.yaml"
    path.write_text("old")

    def full(handle):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(CaseError, match="No space left"):
        save_case(path, Case("long5"))
    assert ("old", ["a.yaml"]) == (path.read_text(), os.listdir(tmp_path))


@pytest.mark.skipif(os.name != "posix" or os.getuid() == 0, reason="the superuser may write everywhere")
def test_save_case__a_write_protected_file_is_told(tmp_path):
    path = tmp_path / "a.yaml"
    path.write_text("old")
    path.chmod(0o400)
    with pytest.raises(CaseError, match="write-protected"):
        save_case(path, Case("long5"))
