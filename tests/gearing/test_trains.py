"""Records of a gear train."""

from pathlib import Path

from pytest import approx
from support.layouts import LAYOUTS

from shiftlore.gearing.trains import (
    Coupling,
    CouplingKind,
    Mesh,
    Train,
    build_train,
    list_lines,
    list_states,
    stated_ratio,
)
from shiftlore.sheets import load_sheet


def _train() -> Train:
    meshes = (Mesh("a", "a.sun", "a.ring", "a.carrier", -1, None), Mesh("b", "b.sun", "b.ring", "b.carrier", -1, 2.0))
    return Train(meshes, (), (Coupling("f", "a.sun", kind=CouplingKind.ONE_WAY), Coupling("c", "a.ring")))


def test_unknown__names_meshes_without_ratio() -> None:
    assert _train().unknown() == (0,)


def test_with_ratios__fills_only_those_given() -> None:
    filled = _train().with_ratios({0: 1.9})
    assert [mesh.ratio for mesh in filled.meshes] == [1.9, 2.0]
    assert filled.unknown() == ()


def test_with_directions__leaves_others_alone() -> None:
    turned = _train().with_directions({"f": -1})
    assert [coupling.lets for coupling in turned.couplings] == [-1, 0]


UNITS = Path(__file__).parents[2] / "knowledge" / "units"

STEPPED = """
id: stepped
label: One set with stepped pinions
sets:
  a: {kind: stepped, teeth: {sun: 30, pinion_at_sun: 24, pinion_at_ring: 18, ring: 72, second_sun: 36}}
input: a.sun
output: a.carrier
elements:
- {id: b, type: brake, holds: a.ring}
- {id: b2, type: brake, holds: a.second_sun}
gears:
  1: {ratio: 4.2, on: [b]}
  R: {ratio: 0.6, on: [b2]}
"""


def test_build_train__stepped_pinions_multiply() -> None:
    # Willis by hand: ring held, 1 + (72 / 18) * (24 / 30) = 4.2; second sun held, 1 - (36 / 18) * (24 / 30) = -0.6.
    meshes = build_train(load_sheet(STEPPED)).meshes
    assert {mesh.member: mesh.ratio for mesh in meshes} == approx({"a.sun": 72 * 24 / (30 * 18), "a.second_sun": 2.0})


def test_build_train__members_that_nothing_uses_are_left_out() -> None:
    members = [mesh.member for mesh in build_train(load_sheet(LAYOUTS["ravigneaux_4"])).meshes]
    assert members == ["main.large_sun", "main.small_sun"]


def test_build_train__pairs_turn_opposite_and_idlers_keep_the_way() -> None:
    meshes = build_train(load_sheet(UNITS / "dct7.yaml")).meshes
    signs = {mesh.set_id: mesh.sign for mesh in meshes}
    assert (signs["first"], signs["reverse"]) == (-1, 1)


def test_build_train__converter_clutch_is_no_coupling() -> None:
    assert "k1" not in [item.id for item in build_train(load_sheet(UNITS / "long6.yaml")).couplings]


def test_list_states__belt_ratio_belongs_to_the_line() -> None:
    sheet = load_sheet(UNITS / "cvt.yaml")
    states = list_states(sheet, build_train(sheet))
    assert states["low"].closed == {"forward_clutch", "belt@2.35"}
    assert states["high"].closed == {"forward_clutch", "belt@0.42"}


def test_stated_ratio__held_range_has_that_of_its_gear() -> None:
    sheet = load_sheet(UNITS / "long5.yaml")
    assert stated_ratio(sheet, list_lines(sheet)["2 held"]) == 1.96
