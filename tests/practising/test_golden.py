"""Whole rounds of practice as an apprentice has them, on a terminal of 80 columns and 24 rows; see `support.played`.

Write other lines after `> `, and `SHIFTLORE_UPDATE_GOLDEN=1 pytest tests/practising/test_golden.py` writes the screens anew.
"""

from pathlib import Path

import pytest
from support.played import check_screens, replay

FILES = sorted((Path(__file__).parent / "golden").glob("*.txt"))


@pytest.mark.parametrize("path", FILES, ids=[path.stem for path in FILES])
def test_practise__a_round_reads_as_it_did(path: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    text, transcript = replay(path, tmp_path, monkeypatch)
    assert text == transcript


@pytest.mark.parametrize("path", FILES, ids=[path.stem for path in FILES])
def test_golden_rounds__fit_the_screen(path: Path) -> None:
    check_screens(path.read_text(encoding="utf-8"))
