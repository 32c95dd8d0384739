"""What contradicts a sheet."""

from pathlib import Path

from pytest import mark
from support.layouts import LAYOUTS

from shiftlore.gearing import check_sheet
from shiftlore.sheets import load_sheet, read_sheet

UNITS = Path(__file__).parents[2] / "knowledge" / "units"


def _codes(text: str) -> list[tuple[str, str]]:
    return [(problem.code, problem.severity) for problem in check_sheet(load_sheet(text, "x.yaml"))]


@mark.parametrize("path", sorted(UNITS.glob("*.yaml")), ids=lambda path: path.stem)
def test_check_sheet__our_own_sheets(path: Path) -> None:
    assert check_sheet(load_sheet(path)) == []


def test_check_sheet__says_what_makes_a_gear_of_it() -> None:
    text = LAYOUTS["lepelletier_6"].replace("on: [a, b]", "on: [a]")
    (problem,) = check_sheet(load_sheet(text, "x.yaml"))
    assert problem.code == "U130"
    assert "neutral" in problem.what
    assert " b" in problem.write_instead


def test_check_sheet__tie_up_is_refused() -> None:
    assert _codes(LAYOUTS["lepelletier_6"].replace("on: [a, b]", "on: [a, b, d]")) == [("U130", "error")]


def test_check_sheet__one_wrong_line_is_named_alone() -> None:
    text = LAYOUTS["lepelletier_6"].replace("on: [a, b]", "on: [a, e]")
    (problem,) = check_sheet(load_sheet(text, "x.yaml"))
    assert (problem.code, problem.what[:6]) == ("U132", "Gear 3")


def test_check_sheet__wrong_teeth_are_refused_with_the_difference() -> None:
    text = (UNITS / "trans4.yaml").read_text().replace("sun: 38, ring: 72", "sun: 38, ring: 82")
    codes = _codes(text)
    assert ("U132", "error") in codes


def test_check_sheet__one_way_clutch_stated_the_wrong_way_round() -> None:
    assert _codes(LAYOUTS["simpson_3"].replace("lets: forward", "lets: backward")) == [("U142", "error")]


def test_check_sheet__gear_through_an_overrunning_clutch() -> None:
    codes = _codes(LAYOUTS["series_5"].replace("on: [k2, k3, b1]", "on: [k2, k3, f1]"))
    assert ("U143", "error") in codes


def test_check_sheet__neutral_that_drives() -> None:
    assert _codes(LAYOUTS["simpson_3"].replace("N: {on: []}", "N: {on: [forward, kickdown]}")) == [("U131", "error")]


def test_check_sheet__reverse_that_drives_forward() -> None:
    codes = _codes(LAYOUTS["two_front_speeds_8"].replace("R2: {ratio: 2.176, on: [c4, b2]}", "R2: {on: [c1, c3]}"))
    assert codes == [("U133", "error")]


def test_check_sheet__ratio_that_two_gears_could_have_spoilt() -> None:
    # Two unknown sets and four telling gears: either 1 or 2 may be misprinted, the nearer one is refused.
    (problem,) = check_sheet(load_sheet(LAYOUTS["crossed_fed_4"].replace("ratio: 1.57", "ratio: 1.77"), "x.yaml"))
    assert (problem.code, problem.what[:6]) == ("U132", "Gear 2")
    assert "gear 2 (it would be 1.57" in problem.write_instead and "gear 1" in problem.write_instead


def test_check_sheet__ratios_that_hold_a_transfer_gear() -> None:
    text = LAYOUTS["two_suns_2"].replace("1.82", "2.02").replace("1.00", "1.11")
    (problem,) = check_sheet(load_sheet(text, "x.yaml"))
    assert (problem.code, "pair" in problem.write_instead) == ("U134", True)


def test_check_sheet__a_broken_tie_is_not_told_gear_by_gear() -> None:
    sheet, problems = read_sheet(LAYOUTS["lepelletier_6"].replace("held: front.sun\n", ""), "x.yaml")
    assert [problem.code for problem in problems] == ["U117"]
    assert sheet is not None and check_sheet(sheet) == []


def test_check_sheet__a_misspelt_element_is_not_told_again() -> None:
    sheet, problems = read_sheet(LAYOUTS["lepelletier_6"].replace("on: [a, b]", "on: [a, bb]"), "x.yaml")
    assert [problem.code for problem in problems] == ["U121"]
    assert sheet is not None and check_sheet(sheet) == []


def test_check_sheet__failsafe_gear_may_brake_the_engine() -> None:
    # The overrun clutch is applied without power and stands under `coast` in 3.
    assert _codes(LAYOUTS["crossed_serial_4"]) == []
