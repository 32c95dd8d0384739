"""Where the casebook is, and what of a file or folder is refused before anything is opened."""

import os
import stat
from pathlib import Path

import pytest

from shiftlore.basics import KnowledgeError
from shiftlore.casebook import CasebookError, find_casebook, hide_password
from shiftlore.casebook.places import Place, ready_file


@pytest.fixture(autouse=True)
def nothing_set(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """Start with a home of one's own and no setting."""
    for name in ("SHIFTLORE_CASEBOOK", "XDG_DATA_HOME", "LOCALAPPDATA", "APPDATA", "XDG_CONFIG_HOME"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setenv("HOME", str(tmp_path / "home"))
    monkeypatch.setenv("SHIFTLORE_SHOP", str(tmp_path / "shop.yaml"))


def test_find_casebook__in_the_data_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    assert Place(tmp_path / "home/.local/share/shiftlore/casebook.db") == find_casebook()
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "own"))
    assert Place(tmp_path / "own/shiftlore/casebook.db") == find_casebook()
    monkeypatch.setenv("XDG_DATA_HOME", "not/whole")  # Source: XDG Base Directory Specification: paths must be absolute
    assert Place(tmp_path / "home/.local/share/shiftlore/casebook.db") == find_casebook()


def test_find_casebook__without_a_home_never_at_the_root(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("HOME", "")
    with pytest.raises(CasebookError, match="There is no home folder"):
        find_casebook()


def test_find_casebook__what_is_named_goes_before_what_is_set(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "shop.yaml").write_text("casebook: books/ours.db\n")
    assert Place(tmp_path / "books/ours.db") == find_casebook()
    (tmp_path / "shop.yaml").write_text("shop:\n  casebook: postgresql://bench@server/shop\n")
    assert Place(url="postgresql+psycopg://bench@server/shop") == find_casebook()
    monkeypatch.setenv("SHIFTLORE_CASEBOOK", str(tmp_path / "set.db"))
    assert Place(tmp_path / "set.db") == find_casebook()
    assert Place(Path("named.db")) == find_casebook("named.db")


@pytest.mark.parametrize("text", ["casebok: ours.db\n", "[1]\n", "casebook: [a]\n", "{: :\n", "name: a\x00b\n"])
def test_find_casebook__a_shop_file_that_may_mean_another_casebook_is_told(text: str, tmp_path: Path) -> None:
    (tmp_path / "shop.yaml").write_text(text)
    with pytest.raises(KnowledgeError, match=r"shop\.yaml:\d+:\d+: error K0"):
        find_casebook()


@pytest.mark.parametrize("text", ["", "# None.\n", "currency: EUR\n", "casebook:\n", "prices: {no: 1}\n"])
def test_find_casebook__a_setting_that_says_nothing(text: str, tmp_path: Path) -> None:
    (tmp_path / "shop.yaml").write_text(text)
    assert "casebook.db" == find_casebook().path.name  # type: ignore[union-attr]


@pytest.mark.parametrize(
    ("named", "expected"),
    [
        ("postgres://a@b/c", Place(url="postgresql+psycopg://a@b/c")),
        ("postgresql+psycopg://a@b/c", Place(url="postgresql+psycopg://a@b/c")),
        ("sqlite:///book.db", Place(Path("book.db"))),
        ("sqlite:////var/book.db", Place(Path("/var/book.db"))),
        ("C:book.db", Place(Path("C:book.db"))),
    ],
)
def test_find_casebook__addresses(named: str, expected: Place) -> None:
    assert expected == find_casebook(named)


@pytest.mark.parametrize("named", ["mysql://a:secret@b/c", "sqlite://", "postgresql://", "http://x/y"])
def test_find_casebook__no_place_for_one(named: str) -> None:
    with pytest.raises(CasebookError, match=r"is no place for a casebook\. Name a file") as told:
        find_casebook(named)
    assert "secret" not in str(told.value)


def test_hide_password__and_nothing_else() -> None:
    assert "postgresql://a:***@b/c" == hide_password("postgresql://a:s:e@b/c")
    assert "postgresql://a@b/c" == hide_password("postgresql://a@b/c")
    assert "postgresql+psycopg://a:***@b/c" == str(Place(url="postgresql+psycopg://a:x@b/c"))


def test_place__is_there() -> None:
    assert Place(Path(__file__)).is_there and Place(url="postgresql://a@b/c").is_there
    assert not Place(Path("no") / "where").is_there and not Place(Path("x" * 5000)).is_there


@pytest.mark.skipif(os.name != "posix", reason="modes of files")
def test_ready_file__for_its_owner_alone(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "own"))
    path = find_casebook().path
    assert path is not None
    ready_file(path)
    assert [0o600, 0o700] == [stat.S_IMODE(one.stat().st_mode) for one in (path, path.parent)]
    ready_file(path)
    path.chmod(0o644)
    with pytest.raises(CasebookError, match=f"Make it yours alone: chmod 600 {path}"):
        ready_file(path)


def test_ready_file__tells_what_is_no_file(tmp_path: Path) -> None:
    with pytest.raises(CasebookError, match=r"is a folder\. Name the casebook's file, such as"):
        ready_file(tmp_path)
    with pytest.raises(CasebookError, match="There is no folder"):
        ready_file(tmp_path / "none" / "book.db")
    with pytest.raises(CasebookError, match=r"There is no folder|cannot be made"):
        ready_file(Path(__file__) / "book.db")
    with pytest.raises(CasebookError, match="cannot be made"):
        ready_file(tmp_path / ("x" * 300))
    if hasattr(os, "mkfifo"):
        os.mkfifo(tmp_path / "pipe", 0o600)
        with pytest.raises(CasebookError, match="is no ordinary file"):
            ready_file(tmp_path / "pipe")
