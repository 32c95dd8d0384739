"""Whole reports as they were read and found right; `SHIFTLORE_UPDATE_GOLDEN=1 pytest tests/reports/test_golden.py`
writes them anew, and the commit says why.
"""

import os
from pathlib import Path

import pytest
from support.trade import EXAMPLES, ROOT, shipped

import shiftlore
from shiftlore.reports.case_text import render_ranking

GOLDEN = ROOT / "tests" / "golden"
UPDATE = os.environ.get("SHIFTLORE_UPDATE_GOLDEN") == "1"


def ranked(path: Path) -> str:
    """Rank an example and write it as a pipe would get it."""
    case = shiftlore.read_case(path, shipped())
    return render_ranking(shiftlore.rank(shipped(), case), case.odometer_km) + "\n"


@pytest.mark.parametrize("path", sorted(EXAMPLES.glob("*.yaml")), ids=lambda path: path.stem)
def test_render_ranking__reads_as_it_did(path: Path) -> None:
    golden = GOLDEN / f"rank_{path.stem}.txt"
    if UPDATE:
        golden.parent.mkdir(exist_ok=True)
        golden.write_text(ranked(path), encoding="utf-8")
    assert golden.read_text(encoding="utf-8") == ranked(path)


def test_golden__no_file_is_left_over() -> None:
    wanted = {f"rank_{path.stem}.txt" for path in EXAMPLES.glob("*.yaml")}
    assert wanted == {path.name for path in GOLDEN.iterdir()}
