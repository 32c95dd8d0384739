"""What is had with elements lost or stuck, and solenoids stuck."""

from pathlib import Path

from pytest import mark
from support.layouts import LAYOUTS

from shiftlore.gearing.charts import work_out
from shiftlore.gearing.defects import Defect, find_remains, list_defects
from shiftlore.sheets import load_sheet

UNITS = Path(__file__).parents[2] / "knowledge" / "units"


def _had(text: str | Path, kind: str, part: str, gears: str) -> str:
    """Write what is had in place of these gears, as `1-4-4-1`; N neutral, X tie-up, ? a ratio of no gear."""
    outcomes = find_remains(work_out(load_sheet(text)), [Defect(kind, part)])
    words = {"neutral": "N", "tied_up": "X"}
    found = [outcomes[Defect(kind, part), gear] for gear in gears.split()]
    return "-".join(item.had or words.get(item.state, "?") for item in found)


@mark.parametrize(
    ("kind", "part", "expected"),
    [
        # Common practice for the two-solenoid four-speed (A on in 1 and 4, B on in 1 and 2).
        ("sol_off", "sol_a", "2-2-3-3"),
        ("sol_on", "sol_a", "1-1-4-4"),
        ("sol_off", "sol_b", "4-3-3-4"),
        ("sol_on", "sol_b", "1-2-2-1"),
    ],
)
def test_find_outcomes__shift_solenoid_sequences(kind: str, part: str, expected: str) -> None:
    assert expected == _had(LAYOUTS["crossed_4"], kind, part, "1 2 3 4")


@mark.parametrize(
    ("part", "expected"),
    [
        # Common practice: without the 2-4 band a four-speed of this kind has 1-1-3-3, without 3-4 clutch 1-2-1-2.
        ("second_fourth_band", "1-1-3-3-R"),
        ("third_fourth", "1-2-1-2-R"),
        ("low_reverse", "1-2-3-4-N"),
        ("low_one_way", "N-2-3-4-R"),
        ("forward", "N-N-N-4-R"),
    ],
)
def test_find_outcomes__lost_elements(part: str, expected: str) -> None:
    text = LAYOUTS["crossed_4"]
    assert expected.split("-")[:2] == _had(text, "lost", part, "1 2 3 4 R").split("-")[:2]
    assert expected.split("-")[4] == _had(text, "lost", part, "R")


def test_find_outcomes__lost_band_keeps_first_through_the_one_way_clutch() -> None:
    assert _had(LAYOUTS["simpson_3"], "lost", "kickdown", "1 2 3 R") == "1-1-3-R"
    assert _had(LAYOUTS["simpson_3"], "lost", "direct", "1 2 3 R") == "1-2-1-N"


def test_find_outcomes__lost_overdrive_brake_falls_back_to_direct() -> None:
    assert _had(LAYOUTS["simpson_overdrive_4"], "lost", "b0", "1 2 3 4") == "1-2-3-3"


def test_find_outcomes__stuck_clutch_moves_off_in_neutral() -> None:
    # Common practice: a forward clutch that cannot let go drives in neutral and ties up reverse.
    outcomes = find_remains(work_out(load_sheet(LAYOUTS["simpson_3"])), [Defect("stuck", "forward")])
    neutral = outcomes[Defect("stuck", "forward"), "N"]
    assert (neutral.had, neutral.changed) == ("1", True)
    assert outcomes[Defect("stuck", "forward"), "R"].state == "tied_up"


def test_find_outcomes__stuck_one_way_clutch_ties_up_above() -> None:
    assert _had(LAYOUTS["simpson_3"], "stuck", "overrun", "1 2 3") == "1-X-X"


def test_find_outcomes__stuck_second_brake_starts_in_second() -> None:
    # Common practice: the one-way clutch of first overruns, so the vehicle pulls away in second.
    assert _had(LAYOUTS["simpson_3"], "stuck", "kickdown", "1 2 3") == "2-2-X"


def test_find_outcomes__only_clutches_flare_or_bind() -> None:
    assert _had(UNITS / "long6.yaml", "lost", "b1", "1 2 3 4 5 6 R") == "1-N-3-4-5-N-R"
    assert _had(UNITS / "long6.yaml", "stuck", "b1", "1 2 3 6 R") == "X-2-X-6-X"


def test_find_outcomes__unpowered_solenoid_that_applies() -> None:
    assert _had(UNITS / "trans4.yaml", "sol_off", "sol_a", "1 2 3 4") == "1-2-3-X"
    assert _had(UNITS / "trans4.yaml", "sol_on", "sol_a", "1 2 3 4") == "N-N-N-4"


def test_find_outcomes__pattern_that_the_sheet_does_not_know() -> None:
    text = LAYOUTS["simpson_overdrive_4"].replace("on_in: [2, 3]", "on_in: [2]")
    outcomes = find_remains(work_out(load_sheet(text)), [Defect("sol_off", "sol_1")])
    assert outcomes[Defect("sol_off", "sol_1"), "2"].state == "unknown"


def test_find_outcomes__coast_clutch_lost_costs_engine_braking_only() -> None:
    outcomes = find_remains(work_out(load_sheet(UNITS / "long5.yaml")), [Defect("lost", "c0")])
    third = outcomes[Defect("lost", "c0"), "3"]
    assert (third.had, third.changed, third.brakes_engine) == ("3", False, False)
    assert "no engine braking" in third.feels


def test_find_outcomes__chart_alone_still_tells_the_sequence() -> None:
    assert _had(LAYOUTS["chart_only_4"], "lost", "intermediate", "1 2 3 4 R") == "1-1-3-N-R"
    assert _had(LAYOUTS["chart_only_4"], "stuck", "direct", "1 2 3 4 R") == "3-X-3-X-X"


@mark.parametrize("kind", ["lost", "stuck"])
def test_find_outcomes__converter_clutch_changes_no_gear(kind: str) -> None:
    outcomes = find_remains(work_out(load_sheet(UNITS / "long6.yaml")), [Defect(kind, "k1")])
    assert not any(outcome.changed for outcome in outcomes.values())
    assert "lock" in outcomes[Defect(kind, "k1"), "6"].feels


@mark.parametrize("name", sorted(LAYOUTS))
def test_find_outcomes__unfaulted_lines_stay(name: str) -> None:
    # An element that a gear does not use can be lost without that gear noticing.
    sheet = load_sheet(LAYOUTS[name])
    worked = work_out(sheet)
    outcomes = find_remains(worked, [fault for fault in list_defects(sheet) if fault.kind == "lost"])
    for (fault, line), outcome in outcomes.items():
        gear = sheet.gears.get(line)
        if gear is not None and fault.part not in gear.on:
            assert not outcome.changed, (fault.part, line)


@mark.parametrize(
    ("layout", "kind", "part", "expected"),
    [
        # Common practice: the selector cuts the oil of forward elements in R, so a dead solenoid leaves reverse.
        ("crossed_fed_4", "sol_off", "uds", "1-2-3-X-R"),
        ("crossed_fed_4", "sol_off", "s24", "X-2-X-4-R"),
        # A clutch that has seized binds in R, whatever the selector does.
        ("crossed_fed_4", "stuck", "ud", "1-2-3-X-X"),
        # Common practice: no third, and second times overdrive in fourth, without the direct clutch.
        ("simpson_overdrive_4", "lost", "c2", "1-2-2-?-N"),
        # The one-way clutch beside the reduction brake holds in forward gears alone.
        ("counter_5", "lost", "redb", "1-2-3-4-N"),
    ],
)
def test_find_outcomes__reverse_too(layout: str, kind: str, part: str, expected: str) -> None:
    assert expected == _had(LAYOUTS[layout], kind, part, "1 2 3 4 R")


def test_find_outcomes__a_pattern_that_gears_share_tells_nothing() -> None:
    text = LAYOUTS["lepelletier_6"] + "solenoids:\n- {id: s1, type: on_off, on_in: [1]}\n"
    outcomes = find_remains(work_out(load_sheet(text)), [Defect("sol_on", "s1"), Defect("sol_off", "s1")])
    assert {outcomes[Defect("sol_on", "s1"), gear].state for gear in "23456"} == {"unknown"}
    assert outcomes[Defect("sol_off", "s1"), "1"].state == "unknown"


@mark.parametrize("name", sorted(LAYOUTS))
def test_find_remains__what_is_had_is_a_line_of_the_chart_or_none(name: str) -> None:
    sheet = load_sheet(LAYOUTS[name])
    worked = work_out(sheet)
    for (defect, line), remains in find_remains(worked, list_defects(sheet)).items():
        assert remains.state in ("driven", "neutral", "tied_up", "unknown")
        assert remains.feels
        assert (remains.had is None) or (remains.had in sheet.gears and remains.state == "driven")
        if worked.motion is not None and remains.had is not None and remains.ratio is not None:
            there = worked.lines[remains.had].ratio_computed
            assert there is not None and abs(remains.ratio / there - 1) < 1e-4, (defect, line)


@mark.parametrize("name", sorted(LAYOUTS))
def test_find_remains__a_lost_friction_element_binds_nothing(name: str) -> None:
    # Taking away a hold can leave the unit free, or a one-way clutch may take over; it can never tie it up.
    sheet = load_sheet(LAYOUTS[name])
    friction = [item.id for item in sheet.elements.values() if item.type != "one_way_clutch"]
    remains = find_remains(work_out(sheet), [Defect("lost", part) for part in friction])
    assert "tied_up" not in {item.state for item in remains.values()}


@mark.parametrize("name", sorted(LAYOUTS))
def test_find_remains__a_stuck_element_of_the_gear_changes_nothing_there(name: str) -> None:
    sheet = load_sheet(LAYOUTS[name])
    remains = find_remains(work_out(sheet), [item for item in list_defects(sheet) if item.kind == "stuck"])
    for (defect, line), item in remains.items():
        if line in sheet.gears and defect.part in sheet.gears[line].on:
            assert not item.changed, (defect, line)


def test_list_defects__two_for_each_element_and_solenoid() -> None:
    sheet = load_sheet(UNITS / "long5.yaml")
    defects = list_defects(sheet)
    assert len(defects) == len(set(defects)) == 2 * (len(sheet.elements) + len(sheet.solenoids))


def test_find_remains__one_of_two_reverse_gears_keeps_its_name() -> None:
    sheet = load_sheet(LAYOUTS["series_5"])
    feels = {item.feels for item in find_remains(work_out(sheet), list_defects(sheet)).values()}
    assert {text.split(" instead")[0] for text in feels if text.startswith("reverse")} == {"reverse R1", "reverse R2"}
