"""Why a vehicle should not be driven, and what is done at once."""

import numpy as np
import pytest
from support.offers import compiled, only
from support.trade import compiled_of, shipped, unit_of

from shiftlore.advising.options_risks import list_risks
from shiftlore.advising.situations import choose_for_case, prepare_situation
from shiftlore.cases import Answer, Case
from shiftlore.compiling import compile_case, find_makers
from shiftlore.ranking import dangers
from shiftlore.ranking.dangers import (
    LIKELY,
    find_danger,
    is_not_run,
    list_barred,
    list_do_now,
    mark_harmless,
    tell_danger,
    tell_first,
    tell_set_first,
)


def test_find_danger__what_endangers_and_what_is_soon_lost_count_alike() -> None:
    soon = compiled().knowledge.words.soon_lost_km
    lost = np.zeros(len(compiled().faults.members))
    causes = [compiled().expansion.causes[cause].cause.driven_on for cause in compiled().causes]
    position = next(i for i, it in enumerate(causes) if it.severity == "strands" and 0 < (it.within_km or 0) <= soon)
    lost[1 + position] = 1.0
    for p_states in (only("unsafe"), lost, 0.5 * lost + 0.5 * only("unsafe")):
        danger = find_danger(compiled(), p_states)
        assert danger is not None and pytest.approx(1.0) == danger.p
    mixed = find_danger(compiled(), 0.5 * lost + 0.5 * only("unsafe"))
    assert mixed is not None and causes[position].says in mixed.says and mixed.says.startswith("Do not drive it: in ")


def test_find_danger__from_the_probability_on_that_the_words_state() -> None:
    limit, harmless = compiled().knowledge.words.stop_driving, only("nuisance")
    for p, is_told in ((limit - 0.01, False), (limit + 0.01, True)):
        assert is_told == (find_danger(compiled(), p * only("unsafe") + (1 - p) * harmless) is not None)


AT_ONCE = [
    ("trans6", {"smoke_or_flames": "yes", "leak_outside": "yes"}, "extinguisher"),
    ("cvt", {"slips": "yes", "leak_on_exhaust": "yes"}, "nor towed"),
    ("long8", {"loses_drive_suddenly": "yes", "high_speed_only": "yes"}, "carried in, not driven on"),
    ("dct7", {"jumps_in_and_out_of_gear": "yes", "high_speed_only": "yes"}, "away from the traffic"),
    ("step-rwd", {"locks_up_driving": "yes"}, "lock again"),
    ("step-fwd", {"park_does_not_hold": "yes"}, "wheels chocked"),
]


@pytest.mark.parametrize(("unit", "told", "words"), AT_ONCE)
def test_list_do_now__a_danger_says_what_to_do_at_once(unit: str, told: dict[str, str], words: str) -> None:
    """Smoke from below, drive gone on the motorway and a Park that lets go had a banner at most, and no word of what to do."""
    case = compiled_of(told, unit)
    danger = tell_danger(case, helps=True)
    assert danger is not None and danger.p == 1.0 and "road_test" in list_barred(case)
    assert words in danger.says and danger.says == tell_first(case, danger)
    assert any(words in one.says for one in list_do_now(case))
    signs = {one.split(" and ")[0] for one in shipped().words.says_itself if one.split(" and ")[0] in told}
    makers = {maker for sign in signs for maker in find_makers(case.expansion, sign)}
    assert danger.area in {case.expansion.causes[maker].area for maker in makers & {*case.expansion.causes}}
    assert () == list_do_now(
        compiled_of({"slips": "yes", "leak_outside": "yes", "jumps_in_and_out_of_gear": "yes"}, unit)
    )


@pytest.mark.parametrize("unit", ["trans6", "cvt", "step"])
def test_is_not_run__what_smokes_or_leaks_onto_the_exhaust_at_times_too(unit: str) -> None:
    told = {"smoke_or_flames": Answer("smoke_or_flames", "yes", when=("hot",))}
    smokes = compile_case(unit_of(unit), Case(unit, findings=told))
    assert is_not_run(smokes) and is_not_run(compiled_of({"leak_on_exhaust": "yes"}, unit))
    assert not is_not_run(compiled_of({"leak_outside": "yes", "exhaust_smokes": "yes"}, unit))
    checks = prepare_situation(smokes).checks
    assert "leak_look" in checks and not any(check.running for check in checks.values())


def test_find_danger__far_too_little_fluid_is_not_run_and_a_little_too_little_is() -> None:
    """A cooler line poured out, and it was said to get worse within 500 km."""
    found = {grade: compiled_of({"fluid_level": grade, "slips": "yes"}) for grade in ("right", "low", "very_low")}
    dangers = {grade: find_danger(case, case.faults_now) for grade, case in found.items()}
    assert dangers["very_low"] is not None and "nor run the engine" in dangers["very_low"].says
    assert all(dangers[grade] is None for grade in ("right", "low"))


@pytest.mark.parametrize("unit", ["long6", "cvt", "step-fwd"])
def test_find_danger__a_code_of_heat_alone_is_driven_and_boiling_fluid_is_not(unit: str) -> None:
    hot, read = compiled_of({"P0218": "yes", "runs_hot": "yes"}, unit), compiled_of({"P0218": "yes"}, unit)
    assert {"road_test", "standing_under_power"} <= list_barred(hot) and not list_barred(read)


def test_find_danger__a_broken_pump_is_not_run_though_it_stands_already() -> None:
    told = {"no_drive_any": "yes", "noise_grinding": "yes", "fluid_level": "right", "line_pressure_idle": "low"}
    found = [compiled_of({**told, "pump_worn_seen": seen}) for seen in ("yes", "no")]
    dangers = [tell_danger(case, helps=True) for case in found]
    assert dangers[0] is not None and dangers[0].stopped and (dangers[1] is None or not dangers[1].stopped)


@pytest.mark.parametrize("signs", [{"P0500": "yes", "wheel_speeds_differ": "yes", "code_wheel_speed": "yes"},
                                   {"code_throttle_load": "yes", "no_kickdown": "yes"}])  # fmt: skip
def test_find_danger__what_may_be_driven_with_care_is_not_forbidden(signs: dict[str, str]) -> None:
    """Beside a cooler line that pours out a banner for an anti-lock lamp loses its meaning."""
    found = compiled_of(signs, "step-rwd")
    risks = {risk.severity: risk for risk in list_risks(found, found.faults_now)}
    assert tell_danger(found, helps=True) is None and risks["with_care"].p > 0.2


RANGE = ("display_wrong", "cranks_in_gear", "drives_in_neutral", "range_other_than_shown", "range_stays")


@pytest.mark.parametrize("sign", RANGE)
def test_list_barred__while_another_range_may_be_in_nothing_moves_it_until_the_linkage_was_seen(sign: str) -> None:
    """It will not crank and the display is one out: it was to be timed against its brakes, and parked on a slope."""
    moving = {"road_test", "standing_under_power", "stall_test"}
    told = {sign: "yes", "will_not_crank": "yes"}
    unseen, wrong, right = (compiled_of(told | more, "step-fwd") for more in (
        {}, {"linkage_misset": "yes"}, {"linkage_misset": "no"}))  # fmt: skip
    assert moving <= list_barred(unseen) and moving <= list_barred(wrong)
    assert ("stall_test" in list_barred(right)) == (sign in ("range_other_than_shown", "range_stays"))
    made = {key for key, check in prepare_situation(unseen).checks.items() if moving & {*check.cautions}}
    assert not made and "linkage_look" in prepare_situation(unseen).checks


@pytest.mark.parametrize(("level", "is_said"), [("right", False), ("low", True), ("high", True)])
def test_tell_set_first__the_level_goes_before_a_drive_and_a_verdict_on_a_shudder(level: str, is_said: bool) -> None:
    found = tell_set_first(
        compiled_of({"shudder_light_throttle": "yes", "leak_pan": "yes", "fluid_level": level}, "long6")
    )
    assert is_said == ("set right before it is driven or judged" in found) == found.startswith("Fluid level: ")


def test_find_danger__what_is_lost_by_its_level_is_lost_through_what_lets_the_fluid_out() -> None:
    """A glazed converter clutch was likelier than the leak, and no reason why it must not run."""
    told = {
        "shudder_light_throttle": "yes",
        "shudder_brake_touch_cures": "yes",
        "fluid_level": "very_low",
        "leak_pan": "yes",
    }
    found = compiled_of(told, "long6")
    danger, risk = find_danger(found, found.faults_now), list_risks(found, found.faults_now)[0]
    assert danger is not None and danger.area == risk.area == "fluid_low_or_leak" and risk.severity == "lost"


GRINDS = {"no_drive_any": "yes", "noise_grinding": "yes", "noise_from_front": "yes"}


def test_is_not_run__only_with_all_of_the_signs() -> None:
    """No drive and grinding in the bell housing: who listens to it range by range sends the pump through the cooler."""
    grinds, elsewhere = compiled_of(GRINDS), compiled_of({**GRINDS, "noise_from_front": "no"})
    assert is_not_run(grinds) and not is_not_run(elsewhere)
    danger = tell_danger(grinds, helps=True)
    assert danger is not None and danger.says.startswith("Do not run the engine") and danger.p == 1.0
    told = tell_danger(elsewhere, helps=True)
    assert told is None or "run the engine" not in told.says


def test_find_danger__of_several_signs_the_first_of_the_rules_is_named() -> None:
    told = {"cranks_in_gear": "yes", "park_does_not_hold": "yes"}
    danger = find_danger(compiled_of(told), compiled_of(told).faults_now)
    assert danger is not None and danger.says.startswith("Do not drive it: Park does not hold: so it is now")


def test_find_danger__below_even_odds_a_cause_is_named_with_what_it_does() -> None:
    """Of a vehicle that drives it was said that it does not move, for a shaft at 20 %."""
    told = compiled_of({"park_does_not_hold": "yes", "noise_grinding": "yes"}, "long6")
    for p in (0.3, 0.7):
        shaft, rest = (1 + told.causes.index(name) for name in ("drive_shaft_broken_or_out", "bearing_or_bush_worn"))
        p_states = np.zeros(len(told.faults.members))
        p_states[[shaft, rest]] = p, 1 - p
        danger = find_danger(told, p_states)
        assert danger is not None and ('If it is "Drive shaft' in danger.says) == (p < LIKELY)
        assert "chock them" in danger.says


@pytest.mark.parametrize("unit", ["long8", "trans6", "step-fwd"])
def test_find_danger__a_slight_pull_with_cold_fluid_is_minded_and_a_drive_in_neutral_is_not_driven(unit: str) -> None:
    """Plates that drag in cold fluid were called as dangerous as a gearbox that drives off in Neutral."""
    when = {"always": (), "cold": ("cold",), "hot": ("hot",)}
    told = {name: {"drives_in_neutral": Answer("drives_in_neutral", "yes", when=one)} for name, one in when.items()}
    cases = {name: compile_case(unit_of(unit), Case(unit, findings=one)) for name, one in told.items()}
    cases["slight"] = compiled_of({"pulls_in_neutral": "yes", "worse_cold": "yes"}, unit)
    dangers = {name: tell_danger(case, helps=True) for name, case in cases.items()}
    for name in ("always", "hot"):
        assert dangers[name] is not None and dangers[name].p == 1.0 and "drive off by itself" in dangers[name].says
    for name in ("cold", "slight"):
        assert dangers[name] is None and "plates drag" in tell_first(cases[name], None)
        assert "pulls_in_neutral" in cases[name].telling and "road_test" not in list_barred(cases[name])
        assert "linkage_look" in prepare_situation(cases[name]).checks


def test_choose_for_case__the_danger_is_worked_out_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """It was so for what may be driven, and again with each choice."""
    found, asked = compiled_of({"park_does_not_hold": "yes"}), list[float]()
    work = dangers.find_danger
    monkeypatch.setattr(dangers, "find_danger", lambda *told: asked.append(1.0) or work(*told))
    assert choose_for_case(found).danger is not None and len(asked) == 1


DENTED = {"pan_dented": "yes", "fluid_level": "low"}


@pytest.mark.parametrize("unit", ["cvt", "long6", "step-fwd"])
@pytest.mark.parametrize("signs", [
    {**DENTED, "noise_whine_all_ranges": "yes"},
    {**DENTED, "no_drive_any": "yes"},
    {"fluid_level": "low", "noise_whine_all_ranges": "yes", "no_drive_any": "yes"},
])  # fmt: skip
def test_is_not_run__a_pump_that_draws_air_is_not_run_for_a_check(unit: str, signs: dict[str, str]) -> None:
    """Behind a dented pan, whining and without drive: its shafts were to be watched and its pressure measured."""
    dry, drives = compiled_of(signs, unit), compiled_of({**DENTED, "noise_whine_all_ranges": "no"}, unit)
    danger = tell_danger(dry, helps=True)
    assert danger is not None and danger.stopped and danger.says.startswith("Do not run the engine")
    assert not any(check.running for check in prepare_situation(dry).checks.values())
    assert not is_not_run(drives) and any(check.running for check in prepare_situation(drives).checks.values())


@pytest.mark.parametrize(("unit", "seen", "harmless"), [
    ("long8", {"no_drive_any": "yes", "output_turns_wheels_stand": "yes"}, {"no_drive_any": "yes", "line_pressure_idle": "low"}),
    ("step-fwd", {"no_drive_any": "yes", "driveline_play": "yes"}, {"driveline_play": "yes", "driveline_play_place": "slip_joint"}),
    ("step-rwd", {"park_parts_damaged": "yes"}, {"park_parts_damaged": "no", "noise_grinding": "yes"}),
    ("step-fwd", {"brakes_drag": "yes"}, {"drag_braked_feeling": "yes", "brakes_drag": "no"}),
    ("long6", {"driveline_play": "yes", "driveline_play_place": "propshaft_joint"},
     {"driveline_play": "yes", "driveline_play_place": "centre_bearing"}),
    ("trans6", {"final_drive_oil": "low", "noise_growl": "yes"}, {"final_drive_oil": "low"}),
    ("trans6", {"linkage_misset": "yes"}, {"linkage_misset": "no", "lever_stiff": "yes"}),
    ("step-rwd", {"coolant_tank_oily": "yes"}, {"fluid_moisture": "little"}),
    ("long5", {"fluid_milky": "yes"}, {"fluid_milky": "yes", "fluid_water_test": "no"}),
    ("step-rwd", {"flexplate_cracked": "yes"}, {"noise_rattle_idle": "yes", "flexplate_cracked": "no"}),
    ("trans6", {"engine_overheats": "yes"}, {"engine_runs_rough": "yes"}),
    ("dct", {"stop_message": "yes", "dct_clutch_temp_warning": "yes"}, {"stop_message": "yes"}),
    ("dct-dry", {"dct_clutch_smell": "yes", "dct_clutch_temp_warning": "yes"}, {"dct_clutch_temp_warning": "yes"}),
    ("trans4", {"noise_whine_all_ranges": "yes", "fluid_foam": "yes", "fluid_level": "right"},
     {"noise_whine_all_ranges": "yes", "fluid_foam": "no"}),
    ("step-fwd", {"key_lock_wrong": "comes_out"}, {"key_lock_wrong": "locked_in"}),
    ("step-fwd", {"lever_leaves_park_unlocked": "yes"}, {"range_will_not_select": "yes"}),
])  # fmt: skip
def test_tell_danger__what_was_seen_warns_of_its_cause_however_unlikely_and_its_look_alike_does_not(
    unit: str, seen: dict[str, str], harmless: dict[str, str]
) -> None:
    """A broken shaft at 87 % went without a word, since the vehicle stood already; a key held in Park had the full alarm."""
    case, alike = compiled_of(seen, unit), compiled_of(harmless, unit)
    danger = tell_danger(case, helps=True)
    assert danger is not None and danger.p == 1.0 and "road_test" in list_barred(case)
    assert tell_danger(alike, helps=True) is None


def test_says_itself__every_look_that_shows_a_danger_by_itself_is_among_them() -> None:
    """A wheel brake was seen to drag, and at 24 % nothing was said of a fire."""
    knowledge, words = shipped(), shipped().words
    signs = {part.partition("=")[0] for one in words.says_itself for part in one.split(" and ")}
    for cause in knowledge.causes.values():
        on = cause.driven_on
        if on.severity == "unsafe" and (on.within_km or 0) <= words.soon_unsafe_km:
            shown = {one.target for one in cause.leads_to if max(it.p for it in one.strengths.values()) > 0.75}
            looks = {name for name in shown & {*knowledge.findings} if knowledge.findings[name].got_by == "look"}
            assert looks <= signs, cause.id


def test_tell_danger__a_likely_cause_that_lets_it_roll_is_told_though_it_stands() -> None:
    told = {"no_drive_any": "yes", "noise_grinding": "yes", "began_suddenly": "yes", "line_pressure_idle": "right"}
    broken = compiled_of(
        {**told, "fluid_level": "right", "noise_knock": "yes", "noise_from_rear": "yes", "leak_output": "yes"}, "long8"
    )
    assert broken.causes_now[broken.causes.index("drive_shaft_broken_or_out")] > LIKELY
    danger = tell_danger(broken, helps=True)
    assert danger is not None and "wheels chocked" in danger.says and "chock them" in danger.says
    made = prepare_situation(broken).checks
    assert "driveline_play_look" in made and not {"listen_standing", "shafts_turn_look", "stall_test"} & {*made}
    elsewhere = compiled_of({"no_drive_any": "yes", "noise_rattle_idle": "yes", "line_pressure_idle": "low"}, "long8")
    assert tell_danger(elsewhere, helps=True) is None and "linkage_look" in prepare_situation(elsewhere).checks


@pytest.mark.parametrize(("unit", "signs"), [
    ("cvt", {"no_drive_any": "yes", "leak_amount": "much"}),
    ("long6", {"leak_amount": "sudden"}),
    ("step-rwd", {"no_drive_any": "yes", "noise_whine": "yes", "leak_outside": "yes"}),
    ("trans6", {"does_not_go": "yes", "leak_amount": "much"}),
])  # fmt: skip
def test_is_not_run__what_lost_its_fluid_is_filled_before_it_runs(unit: str, signs: dict[str, str]) -> None:
    """It whined, had lost much and did not move, and was to be run in gear on a lift."""
    empty, full = compiled_of(signs, unit), compiled_of({**signs, "fluid_level": "right"}, unit)
    assert is_not_run(empty) and not is_not_run(full)
    assert not any(check.running for check in prepare_situation(empty).checks.values())
    assert "leak_look" in prepare_situation(empty).checks
    assert not is_not_run(compiled_of({"leak_amount": "drips", "noise_whine": "yes"}, unit))


@pytest.mark.parametrize("when", ["cvt_overheat_power_cut", "hot_weather", "worse_load"])
def test_find_danger__a_stored_code_and_a_heat_of_hot_days_are_not_now(when: str) -> None:
    hot = {"P0218": "yes", "runs_hot": "yes"}
    cases = [compiled_of(hot, "cvt"), compiled_of({**hot, when: "yes"}, "cvt")]
    assert tell_danger(cases[0], helps=True) is not None and tell_danger(cases[1], helps=True) is None


def test_find_danger__a_bearing_that_drones_is_looked_at_this_week() -> None:
    signs = {"noise_growl": "yes", "noise_with_road_speed": "yes", "noise_on_turn": "yes", "fluid_glitter": "no"}
    drones, seen = compiled_of(signs, "step-fwd"), compiled_of({**signs, "wheel_bearing_noise": "yes"}, "step-fwd")
    assert drones.causes_now[drones.causes.index("wheel_bearing_worn")] > LIKELY
    assert tell_danger(drones, helps=True) is None and tell_danger(seen, helps=True) is None
    assert (
        "with play" in tell_first(seen, None) and "not driven at all" in list_risks(drones, drones.faults_now)[0].says
    )


def test_mark_harmless__a_key_that_is_held_endangers_nobody_and_loses_no_other_danger() -> None:
    held = compiled_of({"key_lock_wrong": "locked_in"}, "step-fwd")
    marked = {held.causes[i] for i in mark_harmless(held).nonzero()[0]}
    assert "key_interlock_fault" in marked and "lever_linkage_broken" not in marked
    unsafe = [risk for risk in list_risks(held, held.faults_now) if risk.severity == "unsafe"]
    assert not any(risk.cause in marked for risk in unsafe) and sum(risk.p for risk in unsafe) < 0.1
    for more in ({"park_does_not_hold": "yes"}, {"lever_loose": "yes"}):
        assert tell_danger(compiled_of({"key_lock_wrong": "locked_in", **more}, "step-fwd"), helps=True) is not None
