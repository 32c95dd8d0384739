"""Torques of a shift by inverse dynamics, against closed forms."""

from collections.abc import Callable
from dataclasses import replace

import numpy as np
from pytest import approx, mark

from shiftlore.driving.driveable import prepare_unit
from shiftlore.driving.road_vehicles import RoadVehicle
from shiftlore.driving.swapping import Swap
from shiftlore.sheets import UnitSheet

Sheets = Callable[[str], UnitSheet]
LIGHT = replace(RoadVehicle(), member_kgm2=1e-9)
TURNING = LIGHT.engine_kgm2 + LIGHT.turbine_kgm2


def _swap(sheet: UnitSheet, old: str, new: str, output: float = 100.0, vehicle: RoadVehicle = LIGHT) -> Swap:
    unit = prepare_unit(sheet)
    return Swap(unit, vehicle, old=old, new=new, now=unit.moves[old] * unit.ratios[old] * output, output=output)


def test_torques__of_an_upshift_are_load_and_inertia_on_what_comes(sheet_of: Sheets) -> None:
    # C = T + J w / t: the closed form of a shift between two clutches.
    swap = _swap(sheet_of("bare3"), "2", "3")
    assert -50.0 == approx(swap.gap)
    aimed = swap.torques(150.0)
    assert 150.0 + TURNING * 50.0 / LIGHT.sync_s == approx(aimed["3"], rel=1e-3)
    assert 0.0 == approx(aimed["2"], abs=1e-6)


def test_torques__of_a_downshift_under_power_let_the_turbine_rise(sheet_of: Sheets) -> None:
    swap = _swap(sheet_of("bare3"), "3", "2", output=20.0)
    aimed = swap.torques(150.0)
    assert 150.0 - TURNING * 10.0 / LIGHT.sync_s == approx(aimed["3"], rel=1e-3)
    assert 0.0 == approx(aimed["2"], abs=1e-6)


def test_torques__of_a_downshift_while_coasting_pull_the_turbine_up(sheet_of: Sheets) -> None:
    aimed = _swap(sheet_of("bare3"), "3", "2").torques(-20.0)
    assert 20.0 + TURNING * 50.0 / LIGHT.sync_s == approx(aimed["2"], rel=1e-3)
    assert 0.0 == approx(aimed["3"], abs=1e-6)


@mark.parametrize(
    ("name", "old", "new", "element"), [("long6", "1", "2", "b1"), ("long6", "3", "4", "c3"), ("long8", "6", "7", "b1")]
)
def test_torques__of_a_train_are_its_own_share_of_the_same(
    name: str, old: str, new: str, element: str, sheet_of: Sheets
) -> None:
    sheet = sheet_of(name)
    swap = _swap(sheet, old, new)
    share = prepare_unit(sheet).shares[new][element]
    assert share * (150.0 + swap.pull_nm) == approx(swap.torques(150.0)[element], rel=1e-3)


def test_torques__of_two_swaps_at_once_hold_back_the_set_that_would_run_away(sheet_of: Sheets) -> None:
    # From 2 to 3 the overdrive set of long5 goes down while the rear set goes up: its brake has to hold on meanwhile.
    aimed = _swap(sheet_of("long5"), "2", "3").torques(150.0)
    assert aimed["b1"] > 50
    assert aimed["b0"] > 20


def test_torques__leave_a_one_way_clutch_to_let_go_by_itself(sheet_of: Sheets) -> None:
    aimed = _swap(sheet_of("trans6"), "1", "2").torques(150.0)
    assert ["b1"] == [name for name, torque in aimed.items() if torque > 1]


def test_torques__of_an_engagement_stop_the_turbine(sheet_of: Sheets) -> None:
    unit = prepare_unit(sheet_of("long6"))
    now = unit.motion.b_in * 70.0 / float(unit.motion.b_in @ unit.motion.b_in)
    swap = Swap(unit, LIGHT, old="", new="1", now=now, output=0.0)
    assert -70.0 == approx(swap.gap)
    assert swap.torques(30.0)["c1"] > 30.0


def test_pull_nm__is_the_inertia_over_the_aimed_time(sheet_of: Sheets) -> None:
    assert TURNING * 50.0 / LIGHT.sync_s == approx(_swap(sheet_of("bare3"), "2", "3").pull_nm)
    assert np.isfinite(_swap(sheet_of("bare3"), "2", "3", output=0.0).pull_nm)
