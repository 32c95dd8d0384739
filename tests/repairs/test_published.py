"""Published repairs as they are read from lists."""

from pathlib import Path

import pytest
from support.trade import shipped

from shiftlore.basics import KnowledgeError
from shiftlore.repairs import read_repairs
from shiftlore.repairs.published import Repair, unit_of

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
