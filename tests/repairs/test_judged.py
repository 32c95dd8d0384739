"""Vehicles that people judged, as they are read from lists."""

from pathlib import Path

import pytest
from support.judged import Judged, read_judged

from shiftlore.basics import KnowledgeError

AREAS, KINDS = ("pump", "band"), ("cvt", "step", "step-fwd", "trans4")
BY_ANSWERS = """
- id: J1
  kind: trans4
  km: 130000
  findings: {slips: yes, fluid_level: low, no_reverse: no}
  background: {usage: towing}
  readers: [{pump: 60, band: 30}, {band: 100}]
"""
BY_WORDS = (
    "- {id: K1, source: a letter, kind: step, layout: fwd, speeds: 4, said: [slips when hot], readers: [{pump: 80}]}\n"
)


def read(folder: Path, *texts: str) -> tuple[Judged, ...]:
    for number, text in enumerate(texts):
        (folder / f"{number}.yaml").write_text(text, encoding="utf-8")
    return read_judged(folder, AREAS, KINDS)


def test_read_judged__by_answers(tmp_path: Path) -> None:
    (one,) = read(tmp_path, BY_ANSWERS)
    assert ("J1", "trans4", 130_000.0) == (one.id, one.case.unit, one.case.odometer_km)
    assert {"slips": "yes", "fluid_level": "low", "no_reverse": "no"} == {
        key: answer.grade for key, answer in one.case.findings.items()
    }
    assert {"usage": "towing"} == one.case.background
    assert ({"pump": 0.6, "band": 0.3}, {"band": 1.0}) == one.readers


def test_read_judged__by_words(tmp_path: Path) -> None:
    (one,) = read(tmp_path, BY_WORDS)
    assert ("step-fwd", ("slips when hot",), {}) == (one.case.unit, one.case.said, one.case.findings)


def test_read_judged__no_folder_holds_none(tmp_path: Path) -> None:
    assert () == read_judged(tmp_path / "nowhere", AREAS, KINDS)


@pytest.mark.parametrize(
    "text, says",
    [
        (BY_ANSWERS.replace("pump: 60", "pmup: 60"), '0.yaml:7:14: error R014: Unknown area "pmup".'),
        (BY_ANSWERS.replace("pump: 60", "pump: 90"), "0.yaml:7:13: error R019: These percents add up to 120."),
        (BY_ANSWERS.replace("  readers: [{pump: 60, band: 30}, {band: 100}]\n", ""), "0.yaml:2:3: error R011: "),
        (BY_ANSWERS.replace("findings:", "findngs:"), '0.yaml:5:3: error R012: A vehicle has no key "findngs".'),
        (BY_ANSWERS + BY_ANSWERS.lstrip("\n"), "0.yaml:8:3: error R018: J1 stands twice."),
    ],
)
def test_read_judged__what_is_wrong_is_told_with_its_place(tmp_path: Path, text: str, says: str) -> None:
    with pytest.raises(KnowledgeError) as caught:
        read(tmp_path, text)
    assert str(caught.value).startswith(says)
