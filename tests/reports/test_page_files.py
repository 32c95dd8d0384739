"""Files of the owner's page."""

import base64
from pathlib import Path

import pytest

from shiftlore.basics import UsageProblem
from shiftlore.reports.page_files import LARGEST_LOGO, read_logo, save_whole

PNG = b"\x89PNG\r\n\x1a\nrest"


def test_read_logo__stands_in_the_page_itself(tmp_path: Path) -> None:
    (tmp_path / "logo.png").write_bytes(PNG)
    assert (f"data:image/png;base64,{base64.b64encode(PNG).decode()}", "") == read_logo("logo.png", tmp_path)


def test_read_logo__none_is_no_trouble(tmp_path: Path) -> None:
    assert ("", "") == read_logo("", tmp_path)


@pytest.mark.parametrize(("name", "content"), [
    ("logo.exe", PNG), ("logo.png", b"no picture"), ("logo.png", PNG + bytes(LARGEST_LOGO)), ("gone.png", None),
])
def test_read_logo__what_cannot_be_used_is_told_and_left_out(tmp_path: Path, name: str, content: bytes | None) -> None:
    if content is not None:
        (tmp_path / name).write_bytes(content)
    logo, trouble = read_logo(name, tmp_path)
    assert "" == logo and trouble.startswith(f"The logo {name} is left out")


def test_save_whole__leaves_no_half_file_and_nothing_beside(tmp_path: Path) -> None:
    save_whole(tmp_path / "page.html", b"all of it")
    assert [b"all of it"] == [path.read_bytes() for path in tmp_path.iterdir()]


def test_save_whole__a_folder_that_is_not_there_is_told(tmp_path: Path) -> None:
    with pytest.raises(UsageProblem, match="cannot be written"):
        save_whole(tmp_path / "none" / "page.html", b"x")


def test_save_whole__a_folder_in_its_place_is_told(tmp_path: Path) -> None:
    with pytest.raises(UsageProblem, match="is a folder"):
        save_whole(tmp_path, b"x")


def test_save_whole__a_failure_keeps_what_was_there(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    import os

    (tmp_path / "page.html").write_bytes(b"old")

    def fail(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "replace", fail)
    with pytest.raises(UsageProblem, match="No space left"):
        save_whole(tmp_path / "page.html", b"new")
    assert [b"old"] == [path.read_bytes() for path in tmp_path.iterdir()]
