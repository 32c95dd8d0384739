"""Charts worked out on their gear trains; layouts from memory and textbooks."""

from pathlib import Path

import numpy as np
from pytest import approx, mark
from support.layouts import LAYOUTS

from shiftlore.gearing import check_sheet
from shiftlore.gearing.charts import work_out
from shiftlore.gearing.motions import analyse_states, solve_torques
from shiftlore.sheets import UnitSheet, load_sheet, read_sheet

UNITS = Path(__file__).parents[2] / "knowledge" / "units"
WITH_TRAIN = sorted(name for name in LAYOUTS if name != "chart_only_4")


def _load(name: str) -> UnitSheet:
    return load_sheet(LAYOUTS[name] if name in LAYOUTS else UNITS / f"{name}.yaml", f"{name}.yaml")


@mark.parametrize("name", WITH_TRAIN)
def test_work_out__printed_ratios_of_real_layouts(name: str) -> None:
    worked = work_out(_load(name))
    errors = {line: abs(found.error_percent) for line, found in worked.lines.items() if found.error_percent is not None}
    assert [problem.what for problem in worked.problems if problem.severity == "error"] == []
    assert len(errors) >= 3
    assert max(errors.values()) < 1.0


@mark.parametrize("name", WITH_TRAIN)
def test_work_out__torque_and_power_balance_in_every_gear(name: str) -> None:
    # Ideal meshes lose nothing: input power equals output power, and all torques on every free motion add up to 0.
    sheet = _load(name)
    motion = work_out(sheet).motion
    assert motion is not None
    gears = [gear for gear in sheet.gears.values() if gear.kind != "neutral"]
    known = [[item for item in gear.on if item in motion.places] for gear in gears]
    always = [item for item in motion.places if item not in sheet.elements and item.startswith("(")]
    closed = np.array([motion.mask([*items, *always]) for items in known])
    out = analyse_states(motion, closed).out
    torque, load = solve_torques(motion, closed)
    assert load * out == approx(-np.ones(len(gears)), abs=1e-9)
    push = motion.b_in + torque @ motion.rows + load[:, None] * motion.b_out
    assert push == approx(np.zeros(push.shape), abs=1e-9)


def test_work_out__one_way_clutches_find_their_direction() -> None:
    worked = work_out(_load("crossed_4"))
    assert worked.train is not None
    lets = {item.id: item.lets for item in worked.train.couplings if item.kind == "one_way"}
    assert lets == {"forward_one_way": -1, "low_one_way": 1}


def test_work_out__proves_on_the_gears_left_over() -> None:
    solution = work_out(_load("series_5")).solution
    assert solution is not None
    assert len(solution.solved_from) == 3
    assert set(solution.proved_on) | set(solution.solved_from) == {"1", "2", "3", "4", "5", "R1", "R2"}
    assert max(solution.proved_on.values()) < 0.6


def test_work_out__halves_of_a_set_give_the_same_torques() -> None:
    whole, halves = work_out(_load("lepelletier_6")), work_out(_load("lepelletier_halves_6"))
    for name, line in whole.lines.items():
        assert line.torque == approx(halves.lines[name].torque, rel=1e-4)


def test_work_out__converter_carries_part_of_a_split_input() -> None:
    # Third gear of a split input: the mechanical path carries about 60 % (common practice for this layout).
    worked = work_out(_load("split_input_4"))
    assert worked.lines["3"].torque["direct"] == approx(0.58, abs=0.03)
    assert worked.lines["3"].torque["forward"] == approx(0.42, abs=0.03)


def test_work_out__says_what_the_ratios_do_not_fix() -> None:
    sheet = _load("lepelletier_6")
    only_third = {name: gear.vary(ratio=None) if name != "3" else gear for name, gear in sheet.gears.items()}
    missing = work_out(sheet.vary(gears=only_third)).missing
    assert any("rear" in text and "do not fix" in text for text in missing)


def test_work_out__without_any_ratio_nothing_is_guessed() -> None:
    sheet = _load("lepelletier_6")
    worked = work_out(sheet.vary(gears={name: gear.vary(ratio=None) for name, gear in sheet.gears.items()}))
    assert worked.motion is None
    assert "front, rear" in worked.missing[0]


def test_work_out__pinions_stand_still_in_direct_gear() -> None:
    worked = work_out(_load("trans4"))
    assert worked.lines["3"].pinions == approx({"front": 0.0, "rear": 0.0}, abs=1e-9)
    # Willis by hand: carrier held, sun 33 at speed 1, pinion (67 - 33) / 2 = 17 teeth.
    assert worked.lines["R"].pinions["front"] == approx(-33 / 17, abs=1e-9)


def _codes(text: str) -> list[tuple[str, str]]:
    return [(problem.code, problem.severity) for problem in check_sheet(load_sheet(text, "x.yaml"))]


@mark.parametrize("path", sorted(UNITS.glob("*.yaml")), ids=lambda path: path.stem)
def test_check_sheet__our_own_sheets(path: Path) -> None:
    assert check_sheet(load_sheet(path)) == []


OWN_SETS = [
    (path.stem, item.id)
    for path in sorted(UNITS.glob("*.yaml"))
    for item in load_sheet(path).sets.values()
    if item.teeth and "ring" in item.teeth
]


@mark.parametrize(("unit", "name"), OWN_SETS)
def test_our_own_sheets__their_planets_fit_between_the_teeth(unit: str, name: str) -> None:
    """Equal spacing of 3, 4 or 5 planets, from textbooks: (ring + sun) / n is whole; over two pinions (ring - sun) / n."""
    item = load_sheet(UNITS / f"{unit}.yaml").sets[name]
    teeth, ring = item.teeth, item.teeth["ring"]
    single = teeth.get("large_sun") or (teeth["sun"] if item.kind == "simple" else None)
    double = teeth.get("small_sun") or (teeth["sun"] if item.kind == "double_pinion" else None)
    assert single is None or (ring - single) % 2 == 0
    sums = [*([ring + single] if single else []), *([ring - double] if double else [])]
    assert any(all(total % planets == 0 for total in sums) for planets in (3, 4, 5))


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
    text = (UNITS / "trans4.yaml").read_text().replace("sun: 33, ring: 77", "sun: 33, ring: 87")
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
