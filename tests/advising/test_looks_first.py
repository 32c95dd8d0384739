"""Which checks begin a careful visit, and which are made for what is told."""

import pytest
from support.trade import compiled_of, shipped

from shiftlore.advising.looks_first import (
    drop_alike,
    find_answered,
    is_fault_seen,
    is_made_for,
    is_scan,
    list_codes,
    list_waiting,
    place_look,
)
from shiftlore.advising.reasons import tell_stop
from shiftlore.advising.situations import choose_safely, prepare_situation
from shiftlore.cases import Answer, Case, Done
from shiftlore.compiling import CompiledCase, compile_case, compile_unit

WET = {
    "P0730": "yes",
    "intermittent": "yes",
    "after_wet": "yes",
    "failsafe_mode": "yes",
    "dct_odd_gears_missing": "yes",
}


@pytest.mark.parametrize(("told", "unit"), [
    (WET, "dct7"), ({"slips_gear_3": "yes", "shift_flares_2_3": "yes"}, "trans6"), ({"jerk_on_off_throttle": "yes"}, "long6"),
])  # fmt: skip
def test_drop_alike__one_look_is_not_offered_twice(told: dict[str, str], unit: str) -> None:
    """The fluid was to be looked at by a sample and at the level plug, one after the other, and sold thrice."""
    compiled = compiled_of(told, unit)
    prepared, choice, _ = choose_safely(prepare_situation(compiled))
    reveals = prepared.oracle.reveals
    kept = drop_alike(choice.steps, reveals)
    looks = [{*reveals[step.ids[0]]} for step in kept if step.kind == "check"]
    assert kept[:1] == choice.steps[:1] and looks
    assert not any(later <= look for place, look in enumerate(looks) for later in looks[place + 1 :])
    assert [step for step in kept if step.kind != "check"] == [step for step in choice.steps if step.kind != "check"]


def test_is_made_for__by_the_signs_that_are_told() -> None:
    late = compiled_of({"engage_delay_drive": "long"})
    look, shafts = (late.expansion.checks[key] for key in ("fluid_look", "shafts_turn_look"))
    assert (True, False) == (is_made_for(late, look), is_made_for(late, shafts))


@pytest.mark.parametrize(("answer", "made_for"), [("yes", True), ("no", False)])
def test_is_made_for__by_what_the_vehicle_went_through(answer: str, made_for: bool) -> None:
    """The clamps are looked at once the battery was off, and nowhere else (common practice)."""
    been = compiled_of({"shift_harsh_any": "yes"}, background={"battery_work": answer})
    assert made_for == is_made_for(been, been.expansion.checks["battery_clamps"])


def test_place_look__a_level_that_was_read_begins_no_visit() -> None:
    late = {"engage_delay_drive": "long"}
    read = late | {"fluid_level": "right", "fluid_smell_burnt": "no", "fluid_colour": "amber"}
    places = [place_look(told := compiled_of(each), told.expansion.checks["fluid_look"])[:2] for each in (late, read)]
    assert [(shipped().checks["fluid_look"].visit_order, True), (0, False)] == places


@pytest.mark.parametrize(("told", "place"), [("P0732", 0), ("no_codes_generic_scan", 1), ("fluid_smell_burnt", 1)])
def test_place_look__a_scan_begins_no_careful_visit_once_a_code_was_read(told: str, place: int) -> None:
    read = compiled_of({"slips": "yes", told: "yes"})
    assert (place, False, False) == place_look(read, shipped().checks["module_scan"])


@pytest.mark.parametrize(
    ("sign", "check", "unit"),
    [("code_wheel_speed", "wheel_speed_by_hand", "cvt"), ("code_cvt_pressure", "sensor_at_plug", "cvt"),
     ("P0705", "range_readout", "trans4"), ("display_blank", "range_readout", "long5"),
     ("vibration_with_road_speed", "driveline_play_look", "step-rwd"),
     ("module_does_not_answer", "fuse_look", "trans6"), ("module_does_not_answer", "bus_poll", "cvt"),
     ("vacuum_or_cable_wrong", "vacuum_modulator_look", "step-rwd"),
     ("engine_revs_limited", "back_pressure_test", "step-fwd"), ("engine_revs_limited", "back_pressure_test", "cvt")],
)  # fmt: skip
def test_place_look__what_is_told_is_proved_where_it_is_nearest(sign: str, check: str, unit: str) -> None:
    told = compiled_of({sign: "yes"}, unit)
    assert (0, True) == place_look(told, told.expansion.checks[check])[:2]


def test_is_scan__what_reads_all_codes_and_what_codes_were_read() -> None:
    read = compiled_of({"slips": "yes", "P0732": "yes", "no_codes_generic_scan": "no"})
    assert {"generic_scan", "module_scan"} == {key for key in read.expansion.checks if is_scan(read, key)}
    assert ["ratio_code_gear_2"] == [code for code in list_codes(read) if code.startswith("ratio_code_gear")]


@pytest.mark.parametrize("unit", ["step-fwd", "long8", "cvt"])
def test_place_look__codes_that_are_told_to_be_there_are_read(unit: str) -> None:
    """That some are stored was taken for having read them; a code by its name was read."""
    told, read = (compiled_of({"sluggish_generally": "yes", sign: "yes"}, unit) for sign in ("engine_codes", "P0300"))
    scan = told.expansion.checks["module_scan"]
    assert (1, True) == place_look(told, scan)[:2] and 0 == place_look(read, scan).early


def test_is_made_for__the_pan_before_a_one_way_clutch_and_the_plug_before_pulley_bearings() -> None:
    gone = compiled_of({"no_drive_forward": "yes", "no_reverse": "no", "drive_normal_manual": "yes"}, "trans6")
    assert is_made_for(gone, gone.expansion.checks["pan_drop"])
    howls, late = (compiled_of(said, "cvt") for said in ({"noise_whine": "yes"}, {"engage_delay_drive": "long"}))
    plug = howls.expansion.checks["drain_plug_look"]
    assert is_made_for(howls, plug) and not is_made_for(late, plug)


@pytest.mark.parametrize(
    ("more", "proves"), [({}, False), ({"noise_clunk_engage": "yes", "noise_squeal": "yes"}, True)]
)
def test_place_look__it_proves_what_most_likely_shows(more: dict[str, str], proves: bool) -> None:
    shaft = compiled_of({"vibration_with_road_speed": "yes", **more}, "step-rwd")
    assert proves == place_look(shaft, shaft.expansion.checks["driveline_play_look"]).proves


@pytest.mark.parametrize(
    ("life", "check"),
    [("recent_service", "papers_read"), ("module_replaced", "papers_read"), ("rebuilt", "apply_pressure_gauge")],
)
def test_is_made_for__what_was_done_to_it_is_asked_for_and_measured(life: str, check: str) -> None:
    """Wrong fluid led after a service, and nobody asked which was filled; a fresh rebuild was condemned without a gauge."""
    answers = {"shudder_light_throttle": "yes"}
    been, never = (
        compiled_of(answers, background={life: answer}) for answer in (shipped().backgrounds[life].happened, "no")
    )
    record = shipped().checks[check]
    assert is_made_for(been, record) and not is_made_for(never, record)


def test_is_made_for__a_cause_that_is_likely_and_not_one_that_is_not() -> None:
    """Moving the harness is made for wires: with a code that comes with the wet, and not with a sensor that reads wrong."""
    code = {"P0715": "yes", "failsafe_mode": "yes"}
    wet = {"after_wet": "yes", "intermittent": "yes", "speed_sensor_reading_input_speed": "right"}
    loose, dead = (
        compiled_of(code | wet, "trans6"),
        compiled_of(code | {"speed_sensor_reading_input_speed": "wrong"}, "trans6"),
    )
    assert is_made_for(loose, loose.expansion.checks["wiggle_test"])
    assert not is_made_for(dead, dead.expansion.checks["wiggle_test"])
    weak = compiled_of({"battery_weak": "yes", "other_lamps": "yes"})
    assert is_made_for(weak, weak.expansion.checks["battery_test"])


@pytest.mark.parametrize(
    ("speeds", "expected"),
    [(3, {"governor_look", "throttle_cable_look", "vacuum_modulator_look"}), (6, set()), (None, set())],
)
def test_is_made_for__only_what_the_vehicle_may_well_have(speeds: int | None, expected: set[str]) -> None:
    compiled = _of_kind(speeds)
    checks = (check for check in compiled.expansion.checks.values() if "no_upshift" in check.made_for)
    assert expected == {check.id for check in checks if is_made_for(compiled, check)}


def _of_kind(speeds: int | None) -> CompiledCase:
    case = Case("step-rwd", findings={"no_upshift": Answer("no_upshift", "yes")}, speeds=speeds)
    return compile_case(compile_unit(shipped(), case.vehicle), case)


@pytest.mark.parametrize(("told", "level", "pan"), [
    ({}, True, True), ({"fluid_colour": "dark"}, True, True), ({"fluid_level": "right"}, False, True),
    ({"pan_friction_material": "no"}, True, False),
])  # fmt: skip
def test_list_waiting__work_waits_for_level_and_pan_until_they_are_told(
    told: dict[str, str], level: bool, pan: bool
) -> None:
    compiled = compiled_of({"slips": "yes", **told}, "trans6")
    checks, jobs = compiled.expansion.checks, compiled.expansion.jobs
    waits = {key: list_waiting(compiled, checks[key], jobs) for key in ("fluid_look", "pan_drop", "leak_look")}
    assert level == ({"plain_service", "fluid_exchange_lines", "level_correction"} <= waits["fluid_look"])
    assert pan == ({"valve_body_exchange", "used_unit_fit", "overhaul"} <= waits["pan_drop"])
    assert not waits["leak_look"] and "plain_service" not in waits["pan_drop"]


def test_find_answered__whoever_told_level_colour_and_smell_has_looked() -> None:
    """The level stood in the list once more, after it was told right, amber and not burnt."""
    told = {"fluid_level": "right", "fluid_colour": "amber", "fluid_smell_burnt": "no"}
    looks = [
        find_answered(compiled_of({"no_drive_any": "yes", **each}, "cvt")) for each in (told, {"fluid_level": "right"})
    ]
    assert ["fluid_look_dipstick" in found or "fluid_look" in found for found in looks] == [True, False]
    assert "pan_drop" not in looks[0]


JOINT = {"noise_clunk_engage": "yes", "driveline_play_place": "propshaft_joint", "vibration_with_road_speed": "yes"}
SEEN = [
    (
        "step-fwd",
        {"wheel_bearing_noise": "yes", "noise_growl": "yes", "noise_with_road_speed": "yes"},
        "wheel_bearing_worn",
    ),
    ("step-fwd", {"brakes_drag": "yes", "drag_braked_feeling": "yes"}, "brake_drags"),
    ("trans4", {"mount_place": "of_gearbox", "downshift_harsh_stopping": "yes"}, "gearbox_mount_broken"),
    ("step-rwd", JOINT, "propshaft_joint_worn"),
    ("long5", {"exhaust_restricted": "yes", "limited_top_speed": "yes"}, "exhaust_blocked"),
    ("trans4", {"engine_temp_wrong_live": "yes", "gear_missing_4": "yes"}, "engine_temperature_sensor_or_thermostat"),
]


@pytest.mark.parametrize(("unit", "told", "cause"), SEEN)
def test_is_fault_seen__its_work_comes_before_every_check(unit: str, told: dict[str, str], cause: str) -> None:
    """Codes, road tests and a stall test came before the bearing, the brake and the mount that somebody had seen."""
    compiled = compiled_of(told, unit)
    _, choice, _ = choose_safely(prepare_situation(compiled))
    assert is_fault_seen(compiled)
    assert {"job"} == {step.kind for step in choice.steps}
    assert choice.stop.advised and compiled.expansion.cures[choice.steps[0].ids[0]].keys() & {cause}
    assert tell_stop(compiled, choice.stop).startswith("The fault itself was seen")


@pytest.mark.parametrize(("unit", "told"), [
    ("step-fwd", {"brakes_drag": "yes", "slips_gear_3": "yes", "fluid_smell_burnt": "yes"}),
    ("step-rwd", {"driveline_play": "yes", "noise_clunk_engage": "yes"}),
    ("long8", {"leak_front": "yes", "slips": "yes", "fluid_level": "low"}),
    ("step-fwd", {"noise_growl": "yes", "noise_with_road_speed": "yes"}),
    ("long6", {"fluid_milky": "yes", "coolant_lost": "yes"}),
    ("long6", {"P0741": "yes", "tcc_never_applies": "yes"}),
])  # fmt: skip
def test_is_fault_seen__not_beside_another_complaint_nor_by_what_it_only_does(unit: str, told: dict[str, str]) -> None:
    assert not is_fault_seen(compiled_of(told, unit))


def test_is_fault_seen__not_by_a_look_in_doubt_nor_after_its_work_was_in_vain() -> None:
    unit, told, cause = SEEN[0]
    doubted = {key: Answer(key, grade, doubt="think_so") for key, grade in told.items()}
    unsure = compile_case(compile_unit(shipped(), unit), Case(unit, 150_000.0, findings=doubted))
    assert not is_fault_seen(unsure)
    renewed = compiled_of(told, unit, done=(Done("wheel_bearing_renew", "not_cured"),))
    assert cause in renewed.expansion.cures["wheel_bearing_renew"] and not is_fault_seen(renewed)


def test_place_look__metal_in_the_fluid_is_looked_for_in_the_pan_and_once() -> None:
    metal = compiled_of({"noise_certain_gears": "yes", "fluid_glitter": "yes"}, "long8")
    assert is_made_for(metal, metal.expansion.checks["pan_drop"])
    chips = prepare_situation(compiled_of({"fluid_glitter": "yes", "pan_steel_chips": "yes"}, "long8"))
    assert "pan_drop" not in chips.checks
