"""Sheets and cases are told apart by their keys."""

import pytest

from shiftlore.knowledge import find_knowledge, is_sheet_file


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("id: x\nlabel: X\ngears: {}\nelements: []\n", True),
        ("id: x\nkind_only: yes\n", True),
        ("shiftlore: 1\nunit: long5\n", False),
        ("unit: long5\nfindings: {}\n", False),
        ("[1, 2]", False),
        ("a: [", False),
        ("", False),
    ],
)
def test_is_sheet_file__goes_by_the_keys(tmp_path, text, expected):
    (tmp_path / "a.yaml").write_text(text)
    assert expected == is_sheet_file(tmp_path / "a.yaml")


def test_is_sheet_file__knows_every_sheet_that_came_with_the_program():
    assert all(is_sheet_file(path) for path in (find_knowledge() / "units").glob("*.yaml"))
