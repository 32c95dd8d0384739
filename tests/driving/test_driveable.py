"""Which sheets can be driven, and what is read off them."""

from collections.abc import Callable

import numpy as np
from pytest import approx, mark, raises
from support.layouts import LAYOUTS

from shiftlore.basics import UsageProblem
from shiftlore.driving.driveable import prepare_unit
from shiftlore.sheets import UnitSheet, load_sheet

Sheets = Callable[[str], UnitSheet]


@mark.parametrize("name", ["long5", "long6", "long8", "trans4", "trans6"])
def test_prepare_unit__takes_every_shipped_unit_with_gears(name: str, sheet_of: Sheets) -> None:
    sheet = sheet_of(name)
    unit = prepare_unit(sheet)
    assert not unit.is_lumped
    assert [gear for gear, line in sheet.gears.items() if line.kind == "forward"] == list(unit.forward)
    for gear, line in sheet.gears.items():
        if line.ratio is not None:
            assert line.ratio == approx(unit.ratios[gear], rel=0.006)


def test_prepare_unit__knows_the_motion_of_every_gear(sheet_of: Sheets) -> None:
    unit = prepare_unit(sheet_of("trans6"))
    for gear, ratio in unit.ratios.items():
        assert 1.0 == approx(float(unit.motion.b_in @ unit.moves[gear]))
        assert 1 / ratio == approx(float(unit.motion.b_out @ unit.moves[gear]))


def test_prepare_unit__tells_what_brakes_the_engine_from_what_drives(sheet_of: Sheets) -> None:
    unit = prepare_unit(sheet_of("trans6"))
    assert {"c1"} == set(unit.parts["1"])
    assert {"b2"} == set(unit.brakes_engine["1"])
    assert set() == set(unit.parts[""])


def test_prepare_unit__shares_out_the_torque(sheet_of: Sheets) -> None:
    # Two friction elements in first: C1 carries the carrier's torque, 1 + sun / ring of the front set, teeth 38 and 90.
    unit = prepare_unit(sheet_of("long6"))
    assert 1 + 38 / 90 == approx(unit.shares["1"]["c1"])


def test_prepare_unit__lumps_a_sheet_of_ratios_alone(sheet_of: Sheets) -> None:
    unit = prepare_unit(sheet_of("bare3"))
    assert unit.is_lumped
    assert {"2"} == set(unit.parts["2"])
    assert {"c1", "b1"} == set(unit.elements["2"])
    assert -2.3 == unit.ratios["R"]
    assert (2, len(unit.ratios)) == (unit.motion.basis.shape[1], len(unit.train.couplings))
    assert np.eye(2).tolist() == np.abs(unit.motion.basis).round(9).tolist()


@mark.parametrize(
    ("name", "word"), [("step", "not known"), ("cvt", "belt"), ("dct7", "without a converter"), ("dct", "not known")]
)
def test_prepare_unit__says_which_cannot_be_driven(name: str, word: str, sheet_of: Sheets) -> None:
    with raises(UsageProblem, match=word):
        prepare_unit(sheet_of(name))


def test_prepare_unit__refuses_a_shaft_past_the_converter() -> None:
    with raises(UsageProblem, match="past the converter"):
        prepare_unit(load_sheet(LAYOUTS["split_input_4"]))


def test_prepare_unit__names_the_gears_without_a_ratio() -> None:
    text = "id: a\nlabel: A\nelements: [{id: c1, type: clutch}]\ngears: {1: {ratio: 2, on: [c1]}, 2: {on: [c1]}}\n"
    with raises(UsageProblem, match=r"no ratio for gear 2\. Write it"):
        prepare_unit(load_sheet(text))


def test_top_ratio__is_the_smallest_forward(sheet_of: Sheets) -> None:
    assert 0.674 == approx(prepare_unit(sheet_of("long6")).top_ratio, rel=0.006)
