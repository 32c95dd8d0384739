"""What a vehicle has is told, guessed, or shown by what is broken; what it has not is not looked for."""

import numpy as np
import pytest
from support.trade import compiled_of, shipped

from shiftlore.cases import Answer, Case
from shiftlore.compiling import (
    CompiledCase,
    chance_of_fit,
    compile_case,
    compile_unit,
    foresee_answers,
    keep_fitting,
    list_asked_first,
    list_open_lives,
)

LOAD, CONTROL, CHARGED = "load_told_by", "shift_control", "charged_engine"


def of_kind(speeds: int | None, background: dict[str, str] | None = None, **answers: str) -> CompiledCase:
    """Compile a case of a kind with so many gears."""
    findings = {key: Answer(key, grade) for key, grade in answers.items()}
    case = Case("step-rwd", background=background or {}, findings=findings, speeds=speeds)
    return compile_case(compile_unit(shipped(), case.vehicle), case)


def chances(compiled: CompiledCase, name: str) -> dict[str, float]:
    return foresee_answers(compiled, shipped().backgrounds[name])[0]


def test_foresee_answers__each_root_state_has_one_of_them() -> None:
    compiled = of_kind(4, no_upshift="yes")
    known, table = foresee_answers(compiled, shipped().backgrounds[LOAD])
    assert (3, len(compiled.faults.members)) == table.shape
    np.testing.assert_allclose(1.0, table.sum(axis=0), atol=1e-12)
    assert pytest.approx(1.0) == sum(known.values())


def test_foresee_answers__what_is_broken_is_there() -> None:
    compiled = of_kind(None, {"engine_work": "yes"}, vacuum_or_cable_wrong="yes", worse_cold="yes")
    assert chances(compiled, LOAD)["electronic"] < 0.02
    fluid = chances(of_kind(None, fluid_in_vacuum_line="yes"), LOAD)
    assert fluid["vacuum"] > 0.95 > 0.05 > fluid["cable"]


@pytest.mark.parametrize(
    "name", ["governor_look", "throttle_cable_look", "vacuum_modulator_look", "boost_test", "load_readout"]
)
def test_chance_of_fit__of_any_vehicle_it_is_its_share(name: str) -> None:
    (pair,) = shipped().checks[name].scope.fits
    expected = shipped().backgrounds[pair[0]].shares[pair[1]]
    assert pytest.approx(expected, abs=0.03) == chance_of_fit(of_kind(None), shipped().checks[name])


def test_chance_of_fit__what_is_for_any_vehicle_always_fits() -> None:
    assert 1.0 == chance_of_fit(of_kind(3), shipped().checks["road_test_plain"])


@pytest.mark.parametrize(
    ("speeds", "background", "out", "left"),
    [
        (
            3,
            {},
            {"module_scan", "load_readout", "wiggle_test"},
            {"governor_look", "throttle_cable_look", "vacuum_modulator_look"},
        ),
        (8, {}, {"governor_look", "throttle_cable_look", "vacuum_modulator_look"}, {"module_scan", "load_readout"}),
        (4, {LOAD: "cable"}, {"vacuum_modulator_look"}, {"throttle_cable_look", "module_scan"}),
        (4, {LOAD: "electronic"}, {"vacuum_modulator_look", "throttle_cable_look"}, {"load_readout"}),
        (None, {CHARGED: "no"}, {"boost_test"}, {"compression_test"}),
        (None, {CHARGED: "yes"}, set(), {"boost_test"}),
    ],
)
def test_keep_fitting__what_the_vehicle_has_not_is_not_looked_at(
    speeds: int | None, background: dict[str, str], out: set[str], left: set[str]
) -> None:
    compiled = of_kind(speeds, background)
    kept = set(keep_fitting(compiled, compiled.expansion.checks))
    assert set() == kept & out and left <= kept


@pytest.mark.parametrize(("answer", "sign"), [("no", -1), ("yes", 1)])
def test_keep_fitting__work_on_a_turbocharger_is_for_charged_engines(answer: str, sign: int) -> None:
    unknown, told = of_kind(None, sluggish_uphill="yes"), of_kind(None, {CHARGED: answer}, sluggish_uphill="yes")
    place = told.causes.index("turbo_or_boost_fault")
    assert sign * (told.p_causes[place] - unknown.p_causes[place]) > 0.01
    assert (sign > 0) == ("boost_repair" in keep_fitting(told, told.expansion.jobs))
    assert sign > 0 or told.p_causes[place] < 0.001


def test_list_open_lives__a_sheet_that_has_one_of_both_is_not_asked() -> None:
    assert [CHARGED] == [one.id for one in list_open_lives(compiled_of({"slips": "yes"}))]
    assert [CONTROL, LOAD, CHARGED] == [one.id for one in list_open_lives(of_kind(4))]
    assert [CONTROL, LOAD] == [one.id for one in list_open_lives(of_kind(4, {CHARGED: "no"}))]


def test_list_asked_first__what_is_for_some_vehicles_alone_where_nobody_told() -> None:
    unknown = of_kind(4, shift_points_wrong="early")
    jobs, checks = unknown.expansion.jobs, unknown.expansion.checks
    asked = {one.id for one in list_asked_first(unknown, [jobs["pedal_sensor_renew"]])}
    assert {LOAD} == asked
    assert [CHARGED] == [one.id for one in list_asked_first(unknown, [jobs["turbocharger_exchange"]])]
    assert not list_asked_first(unknown, [jobs["plain_service"], checks["fluid_look"]])
    assert not list_asked_first(of_kind(4, {LOAD: "electronic"}), [jobs["pedal_sensor_renew"]])
    assert not list_asked_first(of_kind(6, no_upshift="yes"), [checks["module_scan"]])
