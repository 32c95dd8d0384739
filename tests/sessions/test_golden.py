"""Whole sessions as the three users have them, on a terminal of 80 columns and 24 rows.

A golden file is one or more runs: `$ shiftlore triage ...`, what was on the screen, and after each `> ` what was typed
(`^C` and `^D` are keys). Where a text does not fit the screen, Enter goes on. `$ cat FILE` shows what is on disk. Write
other lines after `> `, and `SHIFTLORE_UPDATE_GOLDEN=1 pytest tests/sessions/test_golden.py` writes the screens anew.
"""

import re
from pathlib import Path

import pytest
from support.played import check_screens, replay

GOLDEN = Path(__file__).parent / "golden"
FILES = sorted(GOLDEN.glob("*.txt"))


@pytest.mark.parametrize("path", FILES, ids=[path.stem for path in FILES])
def test_triage__a_session_reads_as_it_did(path: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    text, transcript = replay(path, tmp_path, monkeypatch)
    assert text == transcript


@pytest.mark.parametrize("path", FILES, ids=[path.stem for path in FILES])
def test_golden_sessions__fit_the_screen_and_answer_nothing_by_an_empty_line(path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    check_screens(text)
    for before in re.findall(r"^> *\n(.*)$", text, flags=re.MULTILINE):
        assert "Noted" not in before
