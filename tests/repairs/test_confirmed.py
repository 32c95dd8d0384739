"""Vehicles to learn numbers from, as they are read from cases and from lists of repairs."""

from pathlib import Path

import pytest
from support.trade import shipped

from shiftlore.basics import CaseError
from shiftlore.repairs import Confirmed, gather_confirmed

CASE = "unit: long6\nfindings: {slips: yes}\n"
BY_OUTCOME = CASE + "outcome: {causes: [pump_worn], confirmed: seen}\n"
BY_JOB = CASE + "done: [{job: converter_exchange_job, result: cured}]\n"
LIST = """\
- {id: A1, source: a page, record: repair, kind: step, presented: [slips], area: pump, also_accept: [filter_or_pickup]}
- {id: A2, source: a letter, record: recall, kind: step, presented: [leaks], area: cooler_or_lines}
"""


def gather(folder: Path, **texts: str) -> list[Confirmed]:
    for name, text in texts.items():
        (folder / f"{name}.yaml").write_text(text, encoding="utf-8")
    return gather_confirmed(shipped(), [folder])


def test_gather_confirmed__by_its_outcome_by_the_job_that_cured_it_or_open(tmp_path: Path) -> None:
    named, cured, still = gather(tmp_path, a=BY_OUTCOME, b=BY_JOB, c=CASE)
    assert (("pump_worn",), "seen", 0.8) == (named.causes, named.known_by, named.weight)
    assert "cured" == cured.known_by and 1.0 == cured.weight
    assert "converter_clutch_lining_worn" in cured.causes
    assert ((), "not_told", 0.2) == (still.causes, still.known_by, still.weight)
    assert all(one.is_sample and one.told_unasked == 0 for one in (named, cured, still))


def test_gather_confirmed__an_outcome_without_a_word_for_it_is_assumed(tmp_path: Path) -> None:
    (one,) = gather(tmp_path, a=CASE + "outcome: {causes: [pump_worn]}\n")
    assert ("assumed", 0.4) == (one.known_by, one.weight)


def test_gather_confirmed__published_repairs_know_areas_and_only_repairs_are_a_sample(tmp_path: Path) -> None:
    repair, recall = gather(tmp_path, lists=LIST)
    assert (("pump", "filter_or_pickup"), "repair", True) == (repair.areas, repair.known_by, repair.is_sample)
    assert (("cooler_or_lines",), "recall", False) == (recall.areas, recall.known_by, recall.is_sample)
    assert repair.weight > recall.weight and repair.told_unasked > 0 and not repair.case.said


def test_gather_confirmed__tells_the_problems_of_all_files(tmp_path: Path) -> None:
    with pytest.raises(CaseError) as caught:
        gather(tmp_path, a=CASE.replace("slips", "slops"), b=CASE.replace("long6", "lng6"))
    assert "a.yaml:2:12" in str(caught.value) and "b.yaml:1:7" in str(caught.value)
