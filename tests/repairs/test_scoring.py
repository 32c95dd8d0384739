"""How published repairs are ranked, counted and explained."""

import math
from pathlib import Path

import pytest
from support.trade import shipped

from shiftlore.cases import Vehicle
from shiftlore.repairs import score_repairs
from shiftlore.repairs.confirmed import Repair, enter_repair, read_words
from shiftlore.repairs.scoring import Repaired, gather_scores, rank_repair

MILKY = Repair("M1", "", "repair", "step-fwd", ("the fluid looks like strawberry milk",), ("coolant_in_fluid",))
BATTERY = Repair("B1", "", "repair", "step", ("bangs into every gear", "battery was replaced"), ("band",))


def result(area: str, record: str = "repair", **areas: float) -> Repaired:
    repair = Repair(f"{area}{len(areas)}", "", record, "step", ("slips",), (area,))
    order = sorted(areas, key=lambda one: -areas[one])
    return Repaired(repair, order.index(area) + 1, areas, rank_repair(shipped(), repair).ranking)


def test_rank_repair__from_its_words() -> None:
    found = rank_repair(shipped(), MILKY)
    assert (1, "") == (found.place, found.refused)
    assert sum(found.areas.values()) == pytest.approx(1)
    assert found.p_right == found.areas["coolant_in_fluid"] > 0.5


def test_rank_repair__from_the_case_that_was_entered(tmp_path: Path) -> None:
    case = tmp_path / "case.yaml"
    case.write_text("shiftlore: 1\nunit: step\nfindings: {fluid_milky: yes}\n", encoding="utf-8")
    entered = Repair("M2", "", "repair", "step", ("nothing that helps",), ("coolant_in_fluid",), entered=case)
    assert 1 == rank_repair(shipped(), entered).place


def test_rank_repair__a_case_with_problems_is_refused_with_its_reason(tmp_path: Path) -> None:
    case = tmp_path / "case.yaml"
    case.write_text("shiftlore: 1\nunit: step\nfindings: {fluid_milki: yes}\n", encoding="utf-8")
    found = rank_repair(shipped(), Repair("M3", "", "repair", "step", (), ("band",), entered=case))
    assert 0 == found.place
    assert "fluid_milky" in found.refused
    scores = gather_scores([found])
    assert (("M3", found.refused),) == scores.refused
    assert {} == scores.groups


def test_score_repairs__counts_by_kind_of_record_and_area_and_tells_how_far_it_is() -> None:
    done: list[int] = []
    scores = score_repairs(shipped(), [MILKY, BATTERY], done.append)
    assert [1, 2] == done
    assert {"all", "repair", "coolant_in_fluid", "band"} == set(scores.groups)
    assert (2, (0.5, 0.5, 0.5)) == (scores.groups["all"].count, scores.groups["all"].within)
    assert ["B1"] == [miss.id for miss in scores.misses]


def test_gather_scores__places_loss_and_calibration_by_hand() -> None:
    scores = gather_scores([result("pump", pump=0.6, band=0.4), result("band", "bulletin", pump=0.75, band=0.25)])
    assert (0.5, 1.0, 1.0) == scores.groups["all"].within
    assert (1.0, 1.0, 1.0) == scores.groups["repair"].within
    assert (0.0, 1.0, 1.0) == scores.groups["bulletin"].within
    assert -(math.log(0.6) + math.log(0.25)) / 2 == pytest.approx(scores.log_loss)
    assert [(0.2, 1, 1.0), (0.4, 1, 0.0), (0.6, 1, 1.0), (0.7, 1, 0.0)] == [
        (band.low, band.count, band.right) for band in scores.bands
    ]


def test_explain_miss__names_the_answer_that_the_right_cause_explains_worst() -> None:
    """Common practice: coolant in the fluid is no sign of a worn band; the list must name just that answer."""
    wrong = Repair("W1", "", "repair", "step", ("the fluid looks like strawberry milk", "it whines"), ("pump",))
    (miss,) = gather_scores([rank_repair(shipped(), wrong)]).misses
    assert ("pump", "coolant_in_fluid") == (miss.area, miss.first)
    assert "fluid_milky" == miss.finding
    assert miss.decibans < -10


def test_enter_repair__words_are_read_of_the_vehicle_that_the_record_names():
    repair = Repair(
        "V1", "", "repair", "step", ("slips in third",), ("band",), speeds=4, layout="fwd", odometer_km=120000
    )
    case = enter_repair(shipped(), repair)
    assert (Vehicle("step", 4, "fwd"), 120000, "yes") == (
        case.vehicle,
        case.odometer_km,
        case.findings["slips_gear_3"].grade,
    )


def test_read_words__a_distance_in_the_words_comes_before_the_records():
    case = read_words(shipped(), Vehicle("step"), "slips in third, 156000 km", 120000)
    assert (156000, None, "") == (case.odometer_km, case.speeds, case.layout)
