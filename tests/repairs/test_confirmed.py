"""Published repairs as they are read from lists."""

from pathlib import Path

import pytest
from support.trade import shipped

from shiftlore.basics import CaseError, KnowledgeError
from shiftlore.repairs import Confirmed, gather_confirmed, read_repairs
from shiftlore.repairs.confirmed import Repair, unit_of

KINDS = ("cvt", "dct", "step", "step-fwd", "step-rwd", "trans4")
ONE = """
- id: A1
  source: garage's page / sha1 0123456789
  record: repair
  kind: step-automatic
  layout: fwd
  speeds: 4
  presented: [slips when hot., no drive at all]
  odometer_km: 210000
  service_history: never serviced
  usage: unknown
  codes: [P0730, P0868]
  fluid: {level: low, colour: null}
  measured: [stall speed 300 rpm high]
  found_after: [gear worn]
  confirmed_cause: pump worn
  area: pump
  causes: [pump_worn]
  also_accept: [band]
  fix: pump renewed
  confidence: high
"""


def read(tmp_path: Path, *texts: str) -> tuple[Repair, ...]:
    for number, text in enumerate(texts):
        (tmp_path / f"{number}.yaml").write_text(text, encoding="utf-8")
    return read_repairs(tmp_path, shipped())


def told(tmp_path: Path, *texts: str) -> str:
    with pytest.raises(KnowledgeError) as caught:
        read(tmp_path, *texts)
    return str(caught.value)


def test_read_repairs__a_whole_record(tmp_path: Path) -> None:
    (repair,) = read(tmp_path, ONE)
    assert ("A1", "repair", "step-fwd", ("pump", "band")) == (repair.id, repair.record, repair.unit, repair.areas)
    assert (4, "fwd", 210_000.0, None) == (repair.speeds, repair.layout, repair.odometer_km, repair.entered)
    assert ("pump worn", ("pump_worn",)) == (repair.cause, repair.causes)


def test_read_repairs__all_that_was_presented_is_one_text_without_what_was_found_later(tmp_path: Path) -> None:
    (repair,) = read(tmp_path, ONE)
    assert repair.text == (
        "slips when hot. no drive at all. never serviced. stall speed 300 rpm high. codes P0730, P0868. fluid level low."
    )


def test_read_repairs__a_case_entered_by_hand_lies_beside(tmp_path: Path) -> None:
    (tmp_path / "entered").mkdir()
    (tmp_path / "entered" / "A1.yaml").write_text("unit: step\n", encoding="utf-8")
    (repair,) = read(tmp_path, ONE)
    assert tmp_path / "entered" / "A1.yaml" == repair.entered


def test_read_repairs__several_lists_in_the_order_of_their_names(tmp_path: Path) -> None:
    assert ["A1", "B1"] == [repair.id for repair in read(tmp_path, ONE, ONE.replace("A1", "B1"))]


def test_read_repairs__an_id_twice_is_told_with_both_places(tmp_path: Path) -> None:
    assert "1.yaml:2:3: error R018: A1 is also in 0.yaml, line 2.\n    Give one of the two another id." == told(
        tmp_path, ONE, ONE
    )


@pytest.mark.parametrize(
    "old, new, says",
    [
        ("area: pump", "area: pmup", '0.yaml:17:9: error R014: Unknown area "pmup".'),
        ("[band]", "[bnad]", '0.yaml:19:17: error R014: Unknown area "bnad".'),
        ("[pump_worn]", "[pump_wron]", '0.yaml:18:12: error R014: Unknown cause "pump_wron".'),
        ("  area: pump\n", "", "0.yaml:2:3: error R011: The repair has no area."),
        ("presented:", "presentd:", "0.yaml:2:3: error R011: The repair has no presented."),
        ("record: repair", "record: gossip", '0.yaml:4:11: error R014: Unknown record "gossip".'),
        ("odometer_km: 210000", "odometer_km: far", "0.yaml:9:16: error"),
    ],
)
def test_read_repairs__what_is_wrong_is_told_with_its_place(tmp_path: Path, old: str, new: str, says: str) -> None:
    assert old in ONE
    assert told(tmp_path, ONE.replace(old, new)).startswith(says)


def test_read_repairs__a_folder_without_lists(tmp_path: Path) -> None:
    assert "There is no list of repairs in this folder" in told(tmp_path)


@pytest.mark.parametrize(
    "kind, layout, unit",
    [("step-automatic", "rwd", "step-rwd"), ("step", "awd", "step"), ("dct", "fwd", "dct"), ("unknown", "", "step")],
)
def test_unit_of(kind: str, layout: str, unit: str) -> None:
    assert unit == unit_of(KINDS, kind, layout)


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
