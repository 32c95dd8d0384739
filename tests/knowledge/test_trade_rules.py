"""The fifteen rules that every manual of the trade agrees on must come out of the knowledge.

Source of every expectation in this module: common practice. Each test compares probabilities with one another, so it
does not depend on how large a strength word is.
"""

from collections.abc import Callable, Mapping
from functools import cache

import pytest
from support.trade import rules_alone

from shiftlore.cases import Answer, Case
from shiftlore.compiling import CompiledUnit, compile_case, compile_unit
from shiftlore.knowledge import Knowledge

ELECTRICAL = (
    "shift_solenoid",
    "pressure_control_solenoid",
    "tcc_solenoid_or_valve",
    "internal_harness_or_connector",
    "external_wiring_or_ground",
    "tcm_hardware",
    "tcm_software_or_adaptation",
    "speed_sensor",
    "pressure_switch",
    "range_switch_or_linkage",
    "temperature_sensor",
    "throttle_or_load_signal",
)
SUPPLY = (
    "pump",
    "line_pressure_control",
    "filter_or_pickup",
    "pressure_control_solenoid",
    "converter_clutch_or_converter",
    "fluid_low_or_leak",
)
ONE_CIRCUIT = (
    "clutch_pack",
    "band",
    "one_way_clutch",
    "seal_leak_internal",
    "accumulator_or_servo",
    "valve_body_wear_or_stick",
)


class Ranked:
    """What one set of answers makes of causes (as written, all instances together) and areas."""

    def __init__(self, unit: CompiledUnit, case: Case):
        compiled = compile_case(unit, case)
        self.instances = dict(zip(compiled.causes, map(float, compiled.p_causes), strict=True))
        self._records = compiled.expansion.causes

    def cause(self, name: str) -> float:
        """Add up P over the instances of a cause as written."""
        return sum(p for key, p in self.instances.items() if self._records[key].template == name)

    def area(self, *names: str) -> float:
        """Add up P over all causes of some areas."""
        return sum(p for key, p in self.instances.items() if self._records[key].area in names)

    def first_area(self) -> str:
        """Name the likeliest area."""
        return max({record.area for record in self._records.values()}, key=self.area)


Rank = Callable[..., Ranked]


@pytest.fixture(scope="module")
def trade() -> Knowledge:
    return rules_alone()


@pytest.fixture(scope="module")
def rank(trade: Knowledge) -> Rank:
    unit_of = cache(lambda name: compile_unit(trade, name))

    def rank_answers(answers: Mapping[str, str], unit: str = "long5", **background: str) -> Ranked:
        findings = {key: Answer(key, grade) for key, grade in answers.items()}
        return Ranked(unit_of(unit), Case(unit, 150_000.0, background, (), findings))

    return rank_answers


def test_rule_1__level_comes_before_anything_else(rank: Rank) -> None:
    slips = {"slips": "yes", "engage_delay_drive": "delayed"}
    low, right = rank(slips | {"fluid_level": "low"}), rank(slips | {"fluid_level": "right"})
    assert low.first_area() == "fluid_low_or_leak"
    assert right.area("fluid_low_or_leak") < 0.25 * low.area("fluid_low_or_leak")


def test_rule_2__circuit_code_outranks_hydraulic_causes(rank: Rank) -> None:
    found = rank({"code_solenoid_circuit_sol_b": "yes", "gear_missing_3": "yes", "failsafe_mode": "yes"})
    assert found.area(*ELECTRICAL) > 2 * found.area(*ONE_CIRCUIT)


def test_rule_2__ratio_code_speaks_for_slip_and_not_for_a_wire(rank: Rank) -> None:
    before, after = rank({"slips": "yes"}), rank({"slips": "yes", "ratio_code_gear_4": "yes"})
    assert after.area("clutch_pack") > before.area("clutch_pack")
    wires = ("external_wiring_or_ground", "internal_harness_or_connector", "tcm_hardware")
    assert after.area(*wires) < after.area("clutch_pack")


def test_rule_3__good_gears_clear_their_elements(rank: Rank) -> None:
    answers = {"slips_gear_1": "no", "slips_gear_2": "no", "slips_gear_3": "yes", "slips_gear_4": "yes"}
    found = rank(answers | {"fluid_level": "right"}, unit="trans4").instances
    linings = {key: p for key, p in found.items() if key.startswith("worn_element_lining_")}
    assert max(linings, key=linings.__getitem__) == "worn_element_lining_c2"
    assert linings["worn_element_lining_c2"] > 3 * linings["worn_element_lining_c1"]


@pytest.mark.parametrize(("first", "element"), [("yes", "b2"), ("no", "c3")])
def test_rule_4__reverse_with_first_names_the_shared_brake(rank: Rank, first: str, element: str) -> None:
    answers = {
        "fluid_level": "right",
        "reverse_slips": "yes",
        "slips_pull_away": first,
        "slips_gear_1": first,
        "slips_gear_2": "no",
        "slips_gear_3": "no",
    }
    found = rank(answers, unit="trans4").instances
    linings = {key: p for key, p in found.items() if key.startswith("worn_element_lining_")}
    assert max(linings, key=linings.__getitem__) == f"worn_element_lining_{element}"


def test_rule_5__all_ranges_bad_is_supply_and_one_range_is_its_circuit(rank: Rank) -> None:
    right = {"fluid_level": "right"}
    every = rank(
        right
        | {
            "slips_all_gears": "yes",
            "reverse_slips": "yes",
            "engage_delay_drive": "delayed",
            "engage_delay_reverse": "delayed",
        }
    )
    one = rank(
        right
        | {"slips_all_gears": "no", "reverse_slips": "yes", "engage_delay_drive": "prompt", "slips_pull_away": "no"}
    )
    assert every.area(*SUPPLY) > every.area(*ONE_CIRCUIT)
    assert one.area(*ONE_CIRCUIT) > one.area(*SUPPLY)


def test_rule_6__low_everywhere_is_pump_regulator_or_solenoid(rank: Rank) -> None:
    found = rank(
        {
            "line_pressure_idle": "low",
            "line_pressure_stall": "low",
            "fluid_level": "right",
            "pressure_low_one_range": "no",
            "slips_all_gears": "yes",
        }
    )
    assert found.area("pump", "line_pressure_control", "filter_or_pickup", "pressure_control_solenoid") > found.area(
        *ONE_CIRCUIT
    )


def test_rule_6__low_in_one_range_is_a_leak_of_that_circuit(rank: Rank) -> None:
    found = rank({"line_pressure_idle": "right", "pressure_low_one_range": "yes", "reverse_slips": "yes"})
    assert found.first_area() == "seal_leak_internal"


def test_rule_6__high_everywhere_is_control_or_a_stuck_regulator(rank: Rank) -> None:
    before = rank({"all_shifts_harsh": "yes"})
    after = rank({"all_shifts_harsh": "yes", "line_pressure_idle": "high", "line_pressure_stall": "high"})
    assert after.cause("regulator_valve_stuck_high") > 1.5 * before.cause("regulator_valve_stuck_high")
    assert after.cause("line_solenoid_high") > 1.5 * before.cause("line_solenoid_high")


def test_rule_7__stall_high_both_ways_is_pressure(rank: Rank) -> None:
    right = {"fluid_level": "right"}
    both = rank(right | {"stall_speed_drive": "high", "stall_speed_reverse": "high"})
    one = rank(right | {"stall_speed_drive": "right", "stall_speed_reverse": "high"})
    pressure = ("pump", "line_pressure_control", "filter_or_pickup")
    assert both.area(*pressure) > 1.5 * one.area(*pressure)
    assert one.area(*ONE_CIRCUIT) > 2 * one.area(*pressure)


def test_rule_7__stall_low_is_engine_or_stator(rank: Rank) -> None:
    low = rank({"stall_speed_drive": "low", "stall_speed_reverse": "low"})
    third = rank({"stall_speed_drive": "low", "stall_speed_reverse": "low", "stall_speed_third_low": "yes"})
    sound = rank({"stall_speed_drive": "right", "stall_speed_reverse": "right"})
    assert low.area("engine_or_fuel_or_ignition") > 2 * sound.area("engine_or_fuel_or_ignition")
    assert third.cause("stator_freewheels") > low.cause("stator_freewheels") > sound.cause("stator_freewheels")


def test_rule_8__stall_test_forbids_low_fluid_and_long_holding(trade: Knowledge) -> None:
    assert "stall_test" in trade.checks["stall_test"].cautions
    says = " ".join(trade.cautions["stall_test"].says.split())
    for words in ("low fluid", "low line pressure", "slip", "5 seconds", "a minute", "lift off at once"):
        assert words in says


def test_rule_9__delay_only_when_cold_is_hardened_seals(rank: Rank) -> None:
    found = rank(
        {
            "worse_cold": "yes",
            "worse_hot": "no",
            "engage_delay_drive": "long",
            "engage_delay_reverse": "long",
            "fluid_level": "right",
        }
    )
    assert found.first_area() == "seal_leak_internal"


def test_rule_9__pressure_that_fades_hot_is_worn_pump_or_leaks(rank: Rank) -> None:
    before = rank({"fluid_level": "right", "worse_hot": "yes"})
    after = rank({"fluid_level": "right", "worse_hot": "yes", "line_pressure_falls_hot": "yes"})
    for cause in ("pump_worn", "regulator_bore_worn"):
        assert after.cause(cause) > 2 * before.cause(cause)
    assert after.cause("pump_worn") > after.cause("regulator_valve_stuck_low")


def test_rule_9__good_for_minutes_is_debris_on_the_filter(rank: Rank) -> None:
    found = rank({"good_for_minutes_then_slips": "yes", "drive_returns_after_rest": "yes", "fluid_level": "right"})
    assert found.first_area() == "filter_or_pickup"


def test_rule_10__touch_of_the_brake_names_the_converter_clutch(rank: Rank) -> None:
    found = rank({"shudder_light_throttle": "yes", "speed_band_45_100": "yes", "shudder_brake_touch_cures": "yes"})
    assert found.first_area() == "converter_clutch_or_converter"


def test_rule_10__shudder_that_stays_is_misfire_mounts_or_driveline(rank: Rank) -> None:
    found = rank(
        {
            "shudder_light_throttle": "yes",
            "shudder_stays_released": "yes",
            "shudder_brake_touch_cures": "no",
            "shudder_goes_released": "no",
        }
    )
    outside = found.area("engine_or_fuel_or_ignition", "mount_or_driveline")
    assert outside > 2 * found.area("converter_clutch_or_converter", "tcc_solenoid_or_valve")


def test_rule_11__weak_start_but_normal_at_speed_is_a_freewheeling_stator(rank: Rank) -> None:
    found = rank(
        {
            "sluggish_pull_away": "yes",
            "sluggish_generally": "no",
            "stall_speed_drive": "low",
            "stall_speed_reverse": "low",
            "fluid_level": "right",
        }
    )
    assert max(found.instances, key=found.instances.__getitem__) == "stator_freewheels"


def test_rule_11__normal_start_but_limited_speed_is_a_locked_stator(rank: Rank) -> None:
    found = rank(
        {
            "sluggish_pull_away": "no",
            "limited_top_speed": "yes",
            "runs_hot": "yes",
            "engine_power_low_measured": "no",
            "exhaust_restricted": "no",
        }
    )
    assert max(found.instances, key=found.instances.__getitem__) == "stator_locked"


def test_rule_12__failsafe_explains_one_gear_and_no_lock_up(rank: Rank) -> None:
    found = rank(
        {"failsafe_mode": "yes", "stuck_in_one_gear": "yes", "tcc_never_applies": "yes", "fluid_smell_burnt": "no"}
    )
    assert found.area(*ELECTRICAL) > 2 * found.area("clutch_pack", "converter_clutch_or_converter")


def test_rule_13__all_match_unplugged_is_electrical_else_inside(rank: Rank) -> None:
    match = rank({"gear_missing_3": "yes", "unplugged_matches_failsafe": "yes"})
    differ = rank({"gear_missing_3": "yes", "unplugged_matches_failsafe": "no"})
    outside = ("external_wiring_or_ground", "tcm_hardware", "internal_harness_or_connector")
    assert match.area(*outside) > differ.area(*outside)
    assert differ.area(*ONE_CIRCUIT) > match.area(*ONE_CIRCUIT)


def test_rule_14__whine_in_every_range_is_the_pump(rank: Rank) -> None:
    found = rank(
        {"noise_any": "yes", "noise_whine_all_ranges": "yes", "noise_with_engine_speed": "yes", "fluid_level": "right"}
    )
    assert found.first_area() == "pump"


def test_rule_14__noise_in_gear_only_is_input_or_converter(rank: Rank) -> None:
    found = rank({"noise_any": "yes", "noise_in_gear_only": "yes", "noise_whine_all_ranges": "no"})
    assert found.area("gearset_or_bearing", "converter_clutch_or_converter") > 5 * found.area("pump")


def test_rule_14__noise_gone_in_direct_is_a_planetary_set(rank: Rank) -> None:
    found = rank({"noise_certain_gears": "yes", "noise_gone_in_direct": "yes", "noise_whine_all_ranges": "no"})
    planetary = found.cause("planetary_gear_damaged") + found.cause("planetary_pinion_worn")
    assert planetary > 3 * found.cause("bearing_or_bush_worn")


def test_rule_15__recent_work_is_suspected_first(rank: Rank) -> None:
    answers = {"slips": "yes", "engage_delay_drive": "delayed"}
    after_work, without = rank(answers, recent_service="yes"), rank(answers, recent_service="no")
    assert after_work.first_area() == "fluid_low_or_leak"
    for cause in ("fluid_low_after_service", "fluid_overfull", "filter_seal_leak", "fluid_wrong_type"):
        assert after_work.cause(cause) > 2 * without.cause(cause)


@pytest.mark.parametrize("unit", ["trans6", "long6", "long8"])
def test_rule_15__a_gear_that_a_fresh_rebuild_never_had_is_an_error_of_assembly(rank: Rank, unit: str) -> None:
    """Of 54 published repairs just after a rebuild seven were such errors, and a drum had broken in one or two."""
    signs = {
        "gear_missing_3": "yes",
        "P0733": "yes",
        "began_suddenly": "yes",
        "fluid_colour": "clear",
        "fluid_smell_burnt": "no",
    }
    fresh, never = rank(signs, unit, rebuilt="just_now"), rank(signs, unit, rebuilt="no")
    error, drum = "rebuild_assembly_error", "clutch_drum_or_hub_cracked"
    assert fresh.cause(error) > fresh.cause(drum) and never.cause(error) < never.cause(drum) / 5


def test_rule_15__an_element_put_together_wrong_is_one_story(rank: Rank) -> None:
    """The gears that are not had and the gauge at their element go together; with the pressure right it is the drum."""
    signs = {"no_reverse": "yes", "gear_missing_3": "yes", "gear_missing_5": "yes", "began_suddenly": "yes"}
    low, right = (rank({**signs, "apply_pressure_c3": it}, "trans6", rebuilt="just_now") for it in ("low", "right"))
    assert low.cause("rebuild_assembly_error") > 1.5 * right.cause("rebuild_assembly_error")
    assert low.cause("clutch_drum_or_hub_cracked") < right.cause("clutch_drum_or_hub_cracked") / 3


@pytest.mark.parametrize("life", ["recent_repair", "engine_work", "rebuilt"])
def test_rule_15__a_converter_that_was_not_home_is_the_story_and_the_pump_its_end(rank: Rank, life: str) -> None:
    """No drive and grinding in the bell housing from the first start: what was fitted wrong leads, not what it broke."""
    signs = {"no_drive_any": "yes", "noise_from_front": "yes", "noise_grinding": "yes", "began_suddenly": "yes"}
    after = rank({**signs, "fluid_level": "right"}, "step-rwd", **{life: "just_now" if life == "rebuilt" else "yes"})
    without = rank({**signs, "fluid_level": "right"}, "step-rwd", recent_repair="no", engine_work="no", rebuilt="no")
    pump, fitted = "pump_gear_broken", "converter_not_seated"
    assert after.cause(fitted) > after.cause(pump) and without.cause(fitted) < without.cause(pump)


@pytest.mark.parametrize("unit", ["cvt", "long8", "dct7"])
def test_normal__on_kickdown_is_no_cold_behaviour(rank: Rank, unit: str) -> None:
    """New, as its sister does it, and only on kickdown: nothing of it is cold."""
    signs = {"slips": "yes", "only_kickdown": "yes", "same_as_sister_vehicle": "yes"}
    kickdown = rank(signs, unit, since_new="since_new", age="under_five")
    cold = rank(
        {"no_top_gear": "yes", "worse_cold": "yes", "same_as_sister_vehicle": "yes"}, unit, since_new="since_new"
    )
    assert kickdown.cause("normal_shift_character") > 8 * kickdown.cause("normal_cold_behaviour")
    assert cold.cause("normal_cold_behaviour") > 8 * cold.cause("normal_shift_character")


@pytest.mark.parametrize(
    ("debris", "areas"),
    [
        ("pan_steel_chips", ("gearset_or_bearing", "converter_clutch_or_converter", "one_way_clutch")),
        ("pan_brass_flakes", ("gearset_or_bearing",)),
        ("pan_friction_material", ("clutch_pack", "band", "converter_clutch_or_converter")),
    ],
)
def test_rule_15__debris_names_the_part_and_fuzz_does_not(rank: Rank, debris: str, areas: tuple[str, ...]) -> None:
    found, fuzz = rank({debris: "yes"}), rank({"magnet_paste": "ordinary"})
    assert found.area(*areas) > 1.5 * fuzz.area(*areas)


def test_fluid__amber_and_unburnt_speaks_against_burnt_clutches_even_with_a_ratio_code(rank: Rank) -> None:
    code = {"ratio_code_gear_4": "yes"}
    plain, amber = rank(code), rank(code | {"fluid_colour": "amber", "fluid_smell_burnt": "no"})
    for cause in ("burnt_element", "worn_element_lining", "unit_worn_throughout"):
        assert amber.cause(cause) < 0.5 * plain.cause(cause)
    assert amber.area("shift_solenoid") > plain.area("shift_solenoid")


def test_fluid__dark_with_fine_metal_and_no_service_speaks_for_contamination(rank: Rank) -> None:
    found = rank(
        {"fluid_colour": "dark", "magnet_paste": "thick", "pan_steel_chips": "no", "shift_harsh_any": "yes"},
        service_record="never",
    )
    assert max(found.instances, key=found.instances.__getitem__) == "fluid_contaminated_fine_metal"


def test_serviced_late__two_ratio_codes_with_clean_fluid_are_hard_solenoid_seals(rank: Rank) -> None:
    found = rank(
        {
            "shift_slow_any": "yes",
            "grew_slowly": "yes",
            "ratio_code_gear_3": "yes",
            "ratio_code_gear_4": "yes",
            "fluid_colour": "amber",
            "fluid_smell_burnt": "no",
            "magnet_paste": "ordinary",
        },
        service_record="late",
    )
    assert found.first_area() == "shift_solenoid"
    assert found.cause("hardened_solenoid_seals") > 5 * found.cause("worn_element_lining")


# Finding -> causes that anyone of the trade would name first, beside causes that it hardly speaks for.
FINER = {
    "moves_wrong_way": (("lever_cable_misset", "lever_linkage_broken", "manual_valve_disconnected"), "pump_worn"),
    "range_stays": (("lever_linkage_broken", "lever_cable_misset"), "worn_element_lining"),
    "lever_loose": (("lever_linkage_broken",), "shift_lock_fault"),
    "lever_stiff": (("lever_cable_misset", "park_pawl_damaged", "shift_lock_fault"), "lever_linkage_broken"),
    "engine_stalls_moving_off": (("tcc_valve_stuck_on", "engine_idle_low", "fuel_pressure_low"), "stator_freewheels"),
    "drive_fades": (("fluid_low_leak_outside", "pump_worn", "filter_clogged_cause"), "input_shaft_or_spline_broken"),
    "drive_lost_stays": (("input_shaft_or_spline_broken", "pump_gear_broken"), "pressure_solenoid_worn"),
    "noise_growl": (("bearing_or_bush_worn", "wheel_bearing_worn"), "pump_worn"),
    "noise_from_front": (("converter_bearing_or_fins", "pump_worn", "flexplate_cracked_cause"), "wheel_bearing_worn"),
    "noise_from_rear": (("final_drive_worn", "propshaft_joint_worn", "wheel_bearing_worn"), "pump_worn"),
    "noise_coasting": (("final_drive_worn", "bearing_or_bush_worn"), "pump_worn"),
    "tcc_late": (("tcc_solenoid_leaks", "tcc_valve_worn_or_stuck"), "pump_worn"),
    "tcc_judders_applying": (("converter_clutch_glazed_shudder", "fluid_degraded"), "engine_misfire_ignition"),
    "revs_limited_in_gear": (("exhaust_blocked", "engine_torque_limited"), "one_way_clutch_slips"),
    "fluid_moisture=little": (("coolant_in_fluid", "water_through_vent"), "fluid_degraded"),
    "coolant_tank_level=high": (("coolant_in_fluid",), "other_fluid_leaks"),
    "leak_amount=sudden": (("cooler_line_leak",), "output_seal_leak"),
    "final_drive_oil=low": (("final_drive_oil_low",), "wheel_bearing_worn"),
    "sensor_output=wrong": (("pressure_sensor_drifts", "throttle_sensor_fault"), "speed_sensor_wiring"),
    "vacuum_at_modulator=lagging": (("vacuum_modulator_fault", "exhaust_blocked"), "engine_idle_low"),
}


@pytest.mark.parametrize("said", FINER)
def test_finer_findings__speak_for_what_the_trade_would_name(rank: Rank, said: str) -> None:
    finding, _, grade = said.partition("=")
    before, after = rank({}, unit="step"), rank({finding: grade or "yes"}, unit="step")
    named, beside = FINER[said]
    least = min(after.cause(name) / before.cause(name) for name in named)
    assert least > 1.5
    assert least > 1.5 * after.cause(beside) / before.cause(beside)


def _gains(rank: Rank, cause: str, **answers: str) -> dict[str, float]:
    before, after = rank({}, unit="long8"), rank(answers, unit="long8")
    named = {key for key in before.instances if key.startswith(f"{cause}_")}
    return {key.removeprefix(f"{cause}_"): after.instances[key] / before.instances[key] for key in named}


def test_engine_stalls_in_reverse__names_what_stays_on_and_has_no_part_in_reverse(rank: Rank, trade: Knowledge) -> None:
    applied = compile_unit(trade, "long8").expansion.facts.applied
    gains = _gains(rank, "element_plates_welded", engine_stalls_in_reverse="yes", engine_stalls_in_drive="no")
    likeliest = max(gains, key=gains.__getitem__)
    assert applied.get((likeliest, "1"), 0) > applied.get((likeliest, "r"), 0)


@pytest.mark.parametrize("pair", ["4_3", "6_4", "8_7"])
def test_down_flares__are_of_what_comes_on_going_down(rank: Rank, trade: Knowledge, pair: str) -> None:
    coming_on = compile_unit(trade, "long8").expansion.facts.coming_on
    gains = _gains(rank, "worn_element_lining", **{f"down_flares_{pair}": "yes"})
    comes_on = {name for name in gains if coming_on.get((name, pair), 0) > 0}
    assert min(gains[name] for name in comes_on) > max(gains[name] for name in gains.keys() - comes_on)


# What is known of the vehicle's life -> a cause that it raises, and one that it does not (common practice).
LIVES = {
    "lamps_changed=yes": ("brake_switch_fault", "worn_element_lining"),
    "software_updated=before_it": ("module_wrong_or_unprogrammed", "module_software_old"),
    "adaptation_reset=just_now": ("adaptation_lost", "adaptation_drifted"),
    "engine_oil_service=yes": ("fluid_low_after_service", "fluid_low_leak_outside"),
    "brake_repair=yes": ("wheel_speed_sensor_fault", "speed_sensor_failed"),
    "fuel=diesel": ("turbo_or_boost_fault", "engine_misfire_ignition"),
    "vehicle_type=heavy": ("burnt_element", "speed_sensor_failed"),
    "hot_climate=yes": ("fluid_burnt_by_overheating", "shift_lock_fault"),
    "since_new=since_new": ("normal_shift_character", "worn_element_lining"),
    "high_mileage=high": ("worn_element_lining", "module_software_old"),
    "rebuilt=used": ("adaptation_never_run_cause", "worn_element_lining"),
    "replaced_converter=for_a_time": ("cooler_restricted", "speed_sensor_failed"),
    "replaced_converter=before_it": ("installation_error", "converter_clutch_lining_worn"),
    "replaced_solenoids=for_a_time": ("fluid_contaminated_fine_metal", "speed_sensor_failed"),
    "replaced_fluid=for_a_time": ("converter_clutch_glazed_shudder", "speed_sensor_failed"),
    "replaced_module=for_a_time": ("overvoltage_or_ripple", "speed_sensor_failed"),
}


@pytest.mark.parametrize("life", LIVES)
def test_lives__raise_what_the_trade_would_suspect(trade: Knowledge, life: str) -> None:
    unit, (background, answer) = compile_unit(trade, "step"), life.split("=")
    before, after = Ranked(unit, Case("step")), Ranked(unit, Case("step", background={background: answer}))
    raised, beside = (after.cause(name) / before.cause(name) for name in LIVES[life])
    assert raised > 1.1
    assert raised > 1.1 * beside


def test_replaced__a_cure_for_a_time_speaks_for_the_part_and_no_cure_against_it(trade: Knowledge) -> None:
    unit, area = compile_unit(trade, "long5"), ("shift_solenoid", "pressure_control_solenoid")
    answers = {"shift_harsh_any": Answer("shift_harsh_any", "yes")}
    chance = {
        told: Ranked(unit, Case("long5", None, {"replaced_solenoids": told}, (), answers)).area(*area)
        for told in ("no", "yes", "for_a_time", "before_it")
    }
    assert chance["yes"] < chance["before_it"] < chance["no"] < chance["for_a_time"]


@pytest.mark.parametrize("beside", [{}, {"shift_shudders": "yes"}, {"slips": "yes"}])
def test_a_sudden_leak_is_a_leak_before_it_is_bad_fluid(rank: Rank, beside: Mapping[str, str]) -> None:
    found = rank(beside | {"leak_amount": "sudden"})
    assert found.area("fluid_low_or_leak", "cooler_or_lines") > 1.5 * found.area("fluid_wrong_or_degraded")


def test_road_tests__each_is_recorded_or_says_that_a_recording_can_be_read(trade: Knowledge) -> None:
    """What answers by driving most of what a log tells offers `trace`, wherever it is the next check."""
    told = {check.id: sum(bool(trade.findings[key].traced) for key in check.reveals) for check in trade.checks.values()}
    drives = [one for one in trade.checks.values() if "road_test" in one.cautions and told[one.id] > 4]
    assert len(drives) > 1 and all(one.recorded or "shiftlore trace" in one.how for one in drives)


def test_lever_lock__no_lock_kills_a_brake_lamp(rank: Rank) -> None:
    """The lock is fed through the brake switch and its fuse: with dead brake lamps either of these comes before it."""
    found, alone = (rank({"range_will_not_select": "yes", **more}) for more in ({"brake_switch_wrong_live": "yes"}, {}))
    assert found.cause("brake_switch_fault") > 3 * found.cause("shift_lock_fault")
    assert found.cause("fuse_or_relay_fault") > alone.cause("fuse_or_relay_fault")
    assert alone.cause("shift_lock_fault") > alone.cause("brake_switch_fault")


def test_air_filter__a_blocked_filter_that_was_seen_comes_before_what_was_not(rank: Rank) -> None:
    seen, unseen = (
        rank({"sluggish_uphill": "yes", **more})
        for more in ({"air_path_restricted": "yes"}, {"engine_revs_limited": "yes"})
    )
    others = ("turbo_or_boost_fault", "exhaust_blocked", "intake_leak", "fuel_pressure_low")
    assert seen.cause("air_filter_blocked") > 1.5 * max(map(seen.cause, others))
    assert unseen.cause("air_filter_blocked") < max(map(unseen.cause, others))


def test_wrong_way__the_lever_and_what_hangs_on_it_come_first(rank: Rank) -> None:
    found = rank({"moves_wrong_way": "yes"})
    lever = found.area("range_switch_or_linkage")
    assert "range_switch_or_linkage" == found.first_area() and lever > 0.5
    assert found.cause("lever_cable_misset") > 3 * found.cause("module_software_old")


def test_misfire__what_moves_with_coil_or_plug_is_ignition_and_what_stays_is_not(rank: Rank) -> None:
    moves, stays = (rank({"P0302": "yes", "misfire_moves_with_part": answer}) for answer in ("yes", "no"))
    others = ("engine_misfire_fuel_injector", "engine_compression_low")
    assert moves.cause("engine_misfire_ignition") > 0.8
    assert max(map(stays.cause, others)) > 0.7 * stays.cause("engine_misfire_ignition")
    assert all(stays.cause(other) > 3 * moves.cause(other) for other in others)


def test_wheel_speed__the_code_of_the_vehicle_speed_repeats_a_lost_wheel_signal(rank: Rank) -> None:
    """With the wheel's own code and the brake lamps on, the code of the vehicle speed is no second fault."""
    signs = {"code_wheel_speed": "yes", "other_lamps": "yes", "speedometer_erratic": "yes", "downshift_harsh": "yes"}
    found = rank({**signs, "P0500": "yes"})
    assert found.cause("wheel_speed_sensor_fault") > found.area("speed_sensor")
    alone = rank({"P0500": "yes", "speedometer_erratic": "yes"})
    assert alone.area("speed_sensor") > alone.cause("wheel_speed_sensor_fault")


def test_double_clutch__after_a_clutch_fitted_without_the_basic_setting(rank: Rank) -> None:
    """A touch point that was never learned lets the engine stall on stopping; nothing else is renewed before."""
    signs = {"engine_stalls_stopping": "yes", "engage_harsh_any": "yes"}
    found = rank(signs, "dct", recent_repair="yes")
    rivals = ("dct_clutch_drags", "dct_clutch_actuator_fault", "dct_clutch_worn")
    assert found.cause("dct_adaptation_lost") > max(map(found.cause, rivals))


@pytest.mark.parametrize(("place", "named"), [("leak_front", "front_seal_leak"), ("leak_pan", "pan_or_plug_leak")])
def test_leak__a_place_that_is_seen_is_the_leak_and_none_that_is_not_traced(rank: Rank, place: str, named: str) -> None:
    """A leak found and sealed from outside does not reach the front seal, and was sold for it."""
    found = rank({place: "yes", "leak_outside": "yes", "fluid_level": "low", "slips": "yes"})
    assert found.cause(named) > 4 * found.cause("fluid_low_leak_outside")


@pytest.mark.parametrize(
    ("place", "named"), [("of_engine", "engine_mount_broken"), ("of_gearbox", "gearbox_mount_broken")]
)
def test_mounts__who_watches_them_sees_which_one_moves(rank: Rank, trade: Knowledge, place: str, named: str) -> None:
    """A broken mount, not said which, sold that of the gearbox with one chance of three on the engine's."""
    signs = {"engage_harsh_reverse": "yes", "jerk_on_off_throttle": "yes", "mount_broken": "yes"}
    assert rank({**signs, "mount_place": place}).cause(named) > 0.8
    assert all("mount_place" in one.reveals for one in trade.checks.values() if "mount_broken" in one.reveals)


@pytest.mark.parametrize("place, named", [("propshaft_joint", "propshaft_joint_worn"), ("drive_shaft", "drive_shaft_joint_worn"),
                                          ("centre_bearing", "centre_bearing_worn")])  # fmt: skip
def test_driveline_play__the_hand_that_found_it_knows_the_joint(
    rank: Rank, trade: Knowledge, place: str, named: str
) -> None:
    """Whole shafts were sold by guess, two joints at once."""
    signs = {"vibration_with_road_speed": "yes", "jerk_on_off_throttle": "yes", "driveline_play": "yes"}
    assert rank({**signs, "driveline_play_place": place}).cause(named) > 0.6
    looks = [one for one in trade.checks.values() if "driveline_play" in one.reveals]
    assert looks and all("driveline_play_place" in one.reveals for one in looks)


@pytest.mark.parametrize(
    ("signs", "unit", "look", "refuted"),
    [
        ({"display_wrong": "yes", "lever_loose": "yes"}, "long6", "linkage_misset", "lever_cable_misset"),
        ({"display_wrong": "yes", "will_not_crank": "yes"}, "trans4", "linkage_misset", "lever_linkage_broken"),
        ({"drag_braked_feeling": "yes", "only_turning": "yes"}, "step", "tyres_unequal", "tyres_unequal_cause"),
        ({"shift_points_wrong": "late", "no_kickdown": "yes"}, "step-fwd", "vacuum_or_cable_wrong", "throttle_valve_cable_misset"),
        ({"no_upshift": "yes", "speedometer_erratic": "yes"}, "step-rwd", "governor_bad_seen", "governor_drive_stripped"),
    ],
)  # fmt: skip
def test_a_look_at_the_fault_itself__a_no_refutes_it(
    rank: Rank, signs: dict[str, str], unit: str, look: str, refuted: str
) -> None:
    """A cable that was seen to be right rose from 55 to 63 %, and its setting stayed the first job."""
    before, seen, right = (rank({**signs, **more}, unit).cause(refuted) for more in ({}, {look: "yes"}, {look: "no"}))
    assert right < 0.15 * before and seen > before


def test_park__a_lever_that_is_right_and_a_grinding_lock_are_the_pawl(rank: Rank) -> None:
    """It was ninth with 1 %: where the linkage is right, what grinds and rolls in Park is the pawl or its rod."""
    told = {"park_does_not_hold": "yes", "noise_grinding": "yes", "display_wrong": "yes", "lever_loose": "yes"}
    found = rank({**told, "linkage_misset": "no"}, "long6")
    assert found.cause("park_pawl_damaged") > 0.4 > 4 * found.cause("lever_cable_misset")
    assert rank(told, "long6").cause("park_pawl_damaged") < 0.15


@pytest.mark.parametrize(
    ("unit", "half", "letter"), [("dct7", "even", "b"), ("dct7", "odd", "a"), ("dct", "even", "b")]
)
def test_double_clutch__a_coil_measured_open_is_why_its_half_is_gone(
    rank: Rank, unit: str, half: str, letter: str
) -> None:
    """The half of the dead clutch was missing, and an actuator was sold beside the coil; without a coil it is sold first."""
    missing = {f"dct_{half}_gears_missing": "yes", "failsafe_mode": "yes", "began_suddenly": "yes"}
    circuit = {f"code_solenoid_circuit_sol_{letter}": "yes", f"solenoid_resistance_sol_{letter}": "open"}
    found, bare = rank(missing | circuit, unit), rank(circuit, unit)
    assert found.cause("pressure_solenoid_coil_fault") > bare.cause("pressure_solenoid_coil_fault") > 0.85
    assert found.cause("dct_clutch_actuator_fault") < 0.1
    actuator = rank(missing | {"code_clutch_actuator": "yes"}, unit)
    assert actuator.cause("dct_clutch_actuator_fault") > 10 * actuator.cause("pressure_solenoid_coil_fault")


def test_double_clutch__a_dead_gear_solenoid_keeps_its_gears_out(rank: Rank) -> None:
    signs = {"code_gear_actuator": "yes", "gear_missing_6": "yes", "no_reverse": "yes"}
    found = rank(signs | {"solenoid_resistance_sol_f": "open"}, "dct7")
    assert found.cause("shift_solenoid_coil_fault") > 3 * found.cause("dct_gear_actuator_or_fork")
    bare = rank(signs, "dct7")
    assert bare.cause("dct_gear_actuator_or_fork") > bare.cause("shift_solenoid_coil_fault")
    for cause in ("shift_solenoid_coil_fault", "shift_solenoid_sticks"):
        assert bare.instances[f"{cause}_sol_f"] > max(0.03, 10 * bare.instances[f"{cause}_sol_d"])


@pytest.mark.parametrize("unit", ["dct", "dct-dry"])
def test_dry_clutch__engine_oil_at_its_housing_is_the_fault_and_no_second_one(rank: Rank, unit: str) -> None:
    """The seal of the crankshaft oils a dry clutch: that it is engine oil spoke against it, and a clutch was sold alone."""
    signs = {"shudder_pull_away": "yes", "dct_creep_jerky": "yes", "leak_front": "yes"}
    seen, told, dry = (rank(signs | more, unit) for more in ({}, {"leak_is_other_fluid": "yes"}, {"leak_front": "no"}))
    assert told.cause("dct_clutch_oily") > seen.cause("dct_clutch_oily") > 5 * dry.cause("dct_clutch_oily")
    assert told.cause("dct_clutch_oily") > 5 * told.cause("dct_clutch_judder")
    assert dry.cause("dct_clutch_judder") > 5 * dry.cause("dct_clutch_oily")


def test_dry_clutch__no_wet_clutch_is_oiled_and_no_dry_one_has_old_fluid(trade: Knowledge) -> None:
    wet, dry, unknown = (compile_unit(trade, unit).expansion for unit in ("dct7", "dct-dry", "dct"))
    assert "dct_clutch_oily" in dry.causes and "dct_clutch_oily" not in wet.causes
    assert "dct_service" in wet.jobs and "dct_service" not in dry.jobs
    assert {"dct_clutch_oily", "dct_fluid_degraded"} <= unknown.causes.keys() and "dct_service" in unknown.jobs


@pytest.mark.parametrize(("unit", "sensor"), [("trans6", "input_speed"), ("step-rwd", "output_speed")])
def test_speed_sensor__that_reads_right_and_fails_in_the_wet_is_its_wire(rank: Rank, unit: str, sensor: str) -> None:
    """It comes and goes with the wet and the sensor is right at its plug: the sensor stayed the first job."""
    signs = {f"code_speed_sensor_{sensor}": "yes", "intermittent": "yes", f"speed_sensor_reading_{sensor}": "right"}
    wires = ("speed_sensor_wiring", "external_harness_chafed", "external_connector_corroded")
    wet, hot = rank(signs | {"after_wet": "yes"}, unit), rank(signs | {"worse_hot": "yes", "after_wet": "no"}, unit)
    assert sum(map(wet.cause, wires)) > 2 * wet.cause("speed_sensor_failed")
    assert hot.cause("speed_sensor_failed") > 2 * sum(map(hot.cause, wires))


@pytest.mark.parametrize("unit", ["long5", "cvt"])
def test_supply__the_test_says_whether_battery_or_generator(rank: Rank, trade: Knowledge, unit: str) -> None:
    """One answer stood for both, and a battery was sold for a generator that does not charge."""
    signs = {"battery_weak": "yes", "other_lamps": "yes", "electrics_odd": "yes", "code_module_supply": "yes"}
    battery = rank(signs | {"battery_fails": "yes", "charging_off": "no"}, unit)
    charging = rank(signs | {"battery_fails": "no", "charging_off": "yes"}, unit)
    assert battery.cause("battery_or_charging_weak") > 5 * battery.cause("charging_too_weak")
    assert charging.cause("charging_too_weak") > 5 * charging.cause("battery_or_charging_weak")
    assert {"battery_fails", "charging_off"} <= {*trade.checks["battery_test"].reveals}
    cures = compile_unit(trade, unit).expansion.cures
    assert "charging_too_weak" not in cures["battery_renew"]
    assert (
        cures["charging_repair"]["charging_too_weak"].p
        > 0.9
        > 0.3
        > cures["charging_repair"]["battery_or_charging_weak"].p
    )


def test_supply__is_put_right_and_read_again_before_anything_else_is_done(trade: Knowledge) -> None:
    supply = ("battery_or_charging_weak", "charging_too_weak", "battery_terminal_loose", "ground_strap_bad")
    cured = compile_unit(trade, "long5").expansion.cures
    jobs = [job for job, found in cured.items() if any(found[key].p > 0.85 for key in found.keys() & {*supply})]
    assert len(jobs) == 4 and all("supply_first" in trade.jobs[job].follow_ups for job in jobs)


HYDRAULIC = ("governor_valve_sticks", "governor_drive_stripped", "throttle_cable_stiff", "vacuum_modulator_fault")
BY_MODULE = ("shift_solenoid", "tcm_hardware", "speed_sensor", "brakes_or_wheels", "engine_or_fuel_or_ignition")


@pytest.fixture(scope="module")
def rank_kind(trade: Knowledge) -> Rank:
    """Rank a vehicle of a kind with so many gears."""

    def ranked(kind: str, speeds: int | None, background: Mapping[str, str], **answers: str) -> Ranked:
        findings = {key: Answer(key, grade) for key, grade in answers.items()}
        case = Case(kind, 150_000.0, background=dict(background), findings=findings, speeds=speeds)
        return Ranked(compile_unit(trade, case.vehicle), case)

    return ranked


@pytest.mark.parametrize("kind", ["step-rwd", "step-fwd"])
@pytest.mark.parametrize("life", [{"age": "over_fifteen", "long_standing": "yes"}, {}, {"shift_control": "hydraulic"}])
def test_three_speeds_that_stay_in_first__governor_valve_and_cable_before_all_that_is_electric(rank_kind, kind, life):
    ranked = rank_kind(kind, 3, life, no_upshift="yes", slips="no", fluid_level="right")
    hydraulic = sum(map(ranked.cause, HYDRAULIC)) + ranked.instances["valve_sticks_shift_1_2"]
    assert hydraulic > 0.5 > 0.12 > ranked.area(*BY_MODULE)
    assert ranked.instances["valve_sticks_shift_1_2"] > 10 * ranked.instances["valve_sticks_shift_2_3"]


def test_a_governor_seen_stuck__shuts_the_module_out_of_a_four_speed(rank_kind):
    seen = rank_kind("step-rwd", 4, {"age": "over_fifteen"}, no_upshift="yes", governor_bad_seen="yes")
    assert seen.cause("governor_valve_sticks") + seen.cause("governor_drive_stripped") > 0.95
    assert seen.area(*BY_MODULE) < 0.02


def test_six_speeds_that_stay_in_first__have_no_governor_and_no_cable(rank_kind):
    ranked = rank_kind("step-rwd", 6, {"age": "over_fifteen"}, no_upshift="yes")
    assert sum(map(ranked.cause, HYDRAULIC)) < 0.02 < ranked.area(*BY_MODULE)


@pytest.mark.parametrize(
    ("told", "stays", "falls"),
    [
        (
            "cable",
            "throttle_valve_cable_misset",
            ("vacuum_modulator_fault", "vacuum_line_blocked", "pedal_sensor_fault"),
        ),
        (
            "vacuum",
            "vacuum_modulator_fault",
            ("throttle_valve_cable_misset", "throttle_cable_stiff", "pedal_sensor_fault"),
        ),
        ("electronic", "throttle_sensor_fault", ("vacuum_modulator_fault", "throttle_valve_cable_misset")),
    ],
)
def test_load_is_told_in_one_way__the_others_fall(rank_kind, told, stays, falls):
    signs = {"shift_points_wrong": "late", "no_kickdown": "yes", "shift_harsh_any": "yes"}
    before = rank_kind("step-fwd", 4, {}, **signs)
    after = rank_kind("step-fwd", 4, {"load_told_by": told}, **signs)
    assert after.cause(stays) > before.cause(stays)
    assert sum(map(after.cause, falls)) < 0.01


@pytest.mark.parametrize("unit", ["trans4", "trans6", "long5"])
def test_wrong_load_after_engine_work_without_a_code__is_no_pedal_sensor(rank, unit):
    answers = {"shift_points_wrong": "early", "no_kickdown": "yes", "no_codes_generic_scan": "yes"}
    told = rank(answers, unit, engine_work="yes")
    others = ("throttle_body_dirty", "throttle_sensor_fault", "air_mass_or_manifold_sensor_fault")
    assert 5 * told.cause("pedal_sensor_fault") < sum(map(told.cause, others))
    code = rank({"code_throttle_load": "yes", "load_value_off": "of_pedal", "no_kickdown": "yes"}, unit)
    assert code.cause("pedal_sensor_fault") > 0.8


@pytest.mark.parametrize("unit", ["long5", "trans6", "cvt"])
def test_starving_since_a_blow_from_below__is_the_pan_and_without_one_the_filter(rank, unit):
    answers = {"loses_drive_suddenly": "yes", "noise_whine_all_ranges": "yes", "good_for_minutes_then_slips": "yes",
               "fluid_level": "right", "leak_outside": "no"}  # fmt: skip
    blow = rank(answers, unit, crash_or_hit="yes")
    assert blow.cause("pan_dented_on_filter") > blow.cause("filter_clogged_cause")
    plain = rank(answers, unit)
    assert plain.cause("filter_clogged_cause") > 5 * plain.cause("pan_dented_on_filter")
    straight = rank(answers | {"pan_dented": "no"}, unit, crash_or_hit="yes")
    assert straight.cause("pan_dented_on_filter") < 0.2 < straight.cause("filter_clogged_cause")


def test_heat__weak_uphill_and_a_capped_speed_are_signs_of_the_power_cut_and_no_second_fault(rank: Rank) -> None:
    """The module of a stepless unit cuts power by the heat; belt, boost and plugs are not looked for behind that."""
    hot = {"cvt_overheat_power_cut": "yes", "runs_hot": "yes"}
    cut = hot | {"sluggish_uphill": "yes", "limited_top_speed": "yes"}
    found = rank(cut, "cvt")
    assert (
        found.area("cooler_or_lines")
        > 0.8
        > 5 * max(map(found.area, ("belt_chain_or_pulleys", "engine_or_fuel_or_ignition")))
    )
    low = rank(cut | {"cooler_flow": "low"}, "cvt")
    assert low.area("cooler_or_lines") > found.area("cooler_or_lines")
    assert (
        rank({"cvt_revs_surge": "yes", "slips": "yes", "sluggish_uphill": "yes"}, "cvt").cause("cvt_belt_slips") > 0.4
    )


@pytest.mark.parametrize("unit", ["step-rwd", "step-fwd", "long8"])
def test_wind_up__equal_tyres_leave_the_coupling_and_unequal_ones_come_before_it(rank: Rank, unit: str) -> None:
    """Unequal tyres wind up a sound coupling just as a coupling that stays closed does: the tape tells them apart."""
    signs = {"noise_on_turn": "yes", "drag_braked_feeling": "yes", "only_turning": "yes"}
    tyres, coupling = "tyres_unequal_cause", "awd_coupling_binds"
    open_now, unequal, equal = (
        rank(signs | more, unit) for more in ({}, {"tyres_unequal": "yes"}, {"tyres_unequal": "no"})
    )
    assert open_now.cause(tyres) > 0.2 and open_now.cause(coupling) > 0.2
    assert unequal.cause(tyres) > 0.8 and equal.cause(coupling) > 5 * equal.cause(tyres)
    assert rank({"noise_on_turn": "yes", "noise_knock": "yes"}, unit).cause(tyres) < 0.1


def test_a_module_that_does_not_answer_is_not_read(trade: Knowledge) -> None:
    """What waits for an answer of it comes after its fuse, plug and bus (common practice)."""
    waits = {key for key, check in trade.checks.items() if "module_does_not_answer" in check.unless}
    asked = {key for key, check in trade.checks.items() if "module_does_not_answer" in check.made_for}
    assert {"range_readout", "dct_pressure_readout", "line_pressure_gauge", "fluid_look"} <= waits
    assert {"fuse_look", "module_supply_at_plug", "bus_measure"} <= asked
    assert asked.isdisjoint(waits)


@pytest.mark.parametrize(("unit", "gear"), [("trans4", "4"), ("trans6", "6"), ("long5", "5")])
def test_a_cold_reading_holds_the_top_gear_back(rank: Rank, unit: str, gear: str) -> None:
    """A gear that is not asked for clears solenoids, valves and elements (common practice)."""
    told = {f"gear_missing_{gear}": "yes", "gear_not_commanded": "yes", "temp_signal_wrong": "yes"}
    found = rank(told | {"no_codes_module_scan": "yes", "fluid_level": "right"}, unit=unit)
    assert found.first_area() == "temperature_sensor"


def test_a_cooler_that_lets_all_through_is_not_renewed(trade: Knowledge, rank: Rank) -> None:
    """Its fins, fan and load are what is left (common practice)."""
    hot = {"cvt_overheat_power_cut": "yes", "code_overheat": "yes", "cooler_flow": "right", "fluid_level": "right"}
    found, cures = rank(hot, unit="cvt"), {cure.cause: cure.strength for cure in trade.jobs["cooler_renew"].cures}
    assert found.cause("cvt_overheat_protection") > 5 * found.cause("cooler_restricted")
    assert cures["cvt_overheat_protection"].p < 0.2 < cures["cooler_restricted"].p


@pytest.mark.parametrize("told", [{"code_misfire": "yes"}, {"misfire_counts": "yes", "engine_runs_rough": "yes"}])
def test_a_diesel_has_no_ignition(trade: Knowledge, rank: Rank, told: dict[str, str]) -> None:
    petrol, diesel = (rank(told, fuel=each).cause("engine_misfire_ignition") for each in ("petrol", "diesel"))
    assert petrol > 0.2 > 0.01 > diesel
    made = {key: check.scope for key, check in trade.checks.items() if "misfire_counts" in check.made_for}
    assert {key: dict(scope.fits) for key, scope in made.items()} == {
        "ignition_look": {"fuel": "petrol"}, "injector_values": {"fuel": "diesel"},
    }  # fmt: skip


def test_an_actuator_without_pressure_lets_no_gear_in(trade: Knowledge, rank: Rank) -> None:
    """Neither lever nor brake lamps are looked at then (common practice)."""
    low = rank({"dct_pressure_low": "yes", "range_will_not_select": "yes"}, unit="dct-dry")
    assert low.cause("dct_pressure_accumulator_or_pump") > 0.4 > 0.1 > low.area("range_switch_or_linkage")
    assert all("dct_pressure_low" in trade.checks[key].unless for key in ("brake_lamp_look", "lever_lock_listen"))
    assert "line_pressure_gauge" not in compile_unit(trade, "dct-dry").expansion.checks


def test_a_vehicle_that_drags_is_not_stalled_and_its_wheels_are_felt(trade: Knowledge) -> None:
    looks = [key for key, check in trade.checks.items() if "drag_braked_feeling" in check.made_for]
    assert {*looks} == {"brake_drag_look", "coast_down"}
    assert "drag_braked_feeling" in trade.checks["stall_test"].unless


@pytest.mark.parametrize("unit", ["step-fwd", "long6", "trans4"])
def test_mounts_that_were_watched_and_are_sound_are_out(trade: Knowledge, rank: Rank, unit: str) -> None:
    """A thump on engaging may come of a joint too (common practice)."""
    signs = {"engage_harsh_drive": "yes", "noise_clunk_engage": "yes", "jerk_on_off_throttle": "yes"}
    before, after = rank(signs, unit), rank(signs | {"mount_broken": "no"}, unit)
    mounts = [sum(map(one.cause, ("engine_mount_broken", "gearbox_mount_broken"))) for one in (before, after)]
    assert mounts[1] < 0.2 * mounts[0]
    assert max(map(after.cause, ("drive_shaft_joint_worn", "propshaft_joint_worn"))) > mounts[1]


@pytest.mark.parametrize(("unit", "element", "gears"), [("trans6", "c3", (3, 5)), ("trans4", "c2", (3, 4))])
def test_the_air_test_tells_valve_body_from_inside(rank: Rank, unit: str, element: str, gears: tuple[int, int]) -> None:
    """Low by the gauge and tight by air: what feeds the element; leaking: its seals (common practice)."""
    signs = {f"slips_gear_{gear}": "yes" for gear in gears} | {f"apply_pressure_{element}": "low"}
    signs |= {"fluid_level": "right", "line_pressure_idle": "right", "line_pressure_stall": "right"}
    tight, leaking = (rank(signs | {f"air_test_{element}": grade}, unit) for grade in ("no", "yes"))
    feeds = ("pressure_control_solenoid", "shift_solenoid", "valve_body_wear_or_stick")
    assert tight.area(*feeds) > tight.area("seal_leak_internal")
    assert leaking.area("seal_leak_internal") > 0.8 > 0.1 > leaking.area(*feeds)


@pytest.mark.parametrize(
    ("unit", "gear"), [("trans4", "gear_missing_4"), ("step", "no_top_gear"), ("long5", "gear_missing_5")]
)
def test_a_cold_engine_is_refused_the_top_gear_and_the_lock_up(rank: Rank, unit: str, gear: str) -> None:
    """After work on the engine the thermostat hangs open (common practice)."""
    told = {gear: "yes", "tcc_never_applies": "yes", "worse_cold": "yes", "slips": "no"}
    found = rank(told | {"no_codes_module_scan": "yes"}, unit, engine_work="yes")
    assert found.cause("engine_temperature_sensor_or_thermostat") > 0.3
    warm = rank(told | {"engine_temp_wrong_live": "no"}, unit, engine_work="yes")
    assert warm.cause("engine_temperature_sensor_or_thermostat") < 0.1


def test_a_dry_clutch_has_no_fluid_to_look_at(trade: Knowledge) -> None:
    """What oils neither clutch makes none slip, and there is no dipstick (common practice)."""
    dry = compile_unit(trade, "dct-dry").expansion
    assert {"fluid_look", "fluid_look_dipstick", "level_set_and_tried"}.isdisjoint(dry.checks)
    assert "fluid_burnt_by_overheating" not in dry.causes
    assert {"dct_adaptation_lost", "dct_clutch_smell"} <= {*trade.checks["dct_clutch_readout"].made_for}
