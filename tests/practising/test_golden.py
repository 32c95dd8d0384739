"""Whole rounds of practice as an apprentice has them, on a terminal of 80 columns and 24 rows; see `support.played`.

Write other lines after `> `, and `SHIFTLORE_UPDATE_GOLDEN=1 pytest tests/practising/test_golden.py` writes the screens anew.
"""

import os
from pathlib import Path

import pytest
from support.played import check_screens, play

FILES = sorted((Path(__file__).parent / "golden").glob("*.txt"))
UPDATE = "SHIFTLORE_UPDATE_GOLDEN"


@pytest.mark.parametrize("path", FILES, ids=[path.stem for path in FILES])
def test_practise__a_round_reads_as_it_did(path: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    text = path.read_text(encoding="utf-8")
    transcript = play(text, tmp_path, monkeypatch)
    if os.environ.get(UPDATE):
        path.write_text(transcript, encoding="utf-8")
        pytest.skip("written anew")
    assert text == transcript


@pytest.mark.parametrize("path", FILES, ids=[path.stem for path in FILES])
def test_golden_rounds__fit_the_screen(path: Path) -> None:
    check_screens(path.read_text(encoding="utf-8"))
