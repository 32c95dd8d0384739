"""A job puts right what lies in the part that it renews, and nothing that stays in the vehicle.

Source of every expectation in this module: common practice. What lies in a part is told by the rules: the causes of the
instance that a job renews, and the jobs on what is within an assembly. Ids stand only for what the rules do not say.
"""

from collections.abc import Iterator, Mapping

import pytest
from support.trade import rules_alone

from shiftlore.compiling import Expansion, compile_unit

SURE = 0.7
"""What a new part puts right at the least: a fault of the part that is gone with it."""
BESIDE_IT = {"tone_wheel_damaged_cause"}
"""Of one instance by their template, yet not in the part: the wheel that a speed sensor reads sits on a shaft."""
SOLENOIDS = ("replace_shift_solenoid", "replace_pressure_solenoid", "replace_line_solenoid", "replace_tcc_solenoid")
HYDRAULICS = (
    *SOLENOIDS,
    "solenoid_block_renew",
    "solenoid_seals_renew",
    "pressure_switches_renew",
    "regulator_valve_job",
    "converter_clutch_valve_job",
    "plate_balls_gaskets_job",
    "manual_valve_connect",
)
INSIDE = (
    "element_repair",
    "band_renew",
    "one_way_clutch_renew",
    "gearset_repair",
    "chain_renew",
    "park_parts_renew",
    "pump_exchange",
    "converter_exchange_job",
    "servo_renew",
    "filter_renew",
    "pickup_repair",
    "front_seal_renew",
    "output_seal_renew",
    "selector_shaft_seal_renew",
)
WITHIN: Mapping[str, tuple[str, ...]] = {
    "solenoid_block_renew": SOLENOIDS,
    "valve_body_exchange": HYDRAULICS,
    "valve_body_exchange_with_module": (*HYDRAULICS, "conductor_plate_renew", "module_inside_renew"),
    "cvt_valve_body_exchange": HYDRAULICS,
    "dct_mechatronic_exchange": (*SOLENOIDS, "dct_solenoid_renew", "module_inside_renew", "dct_pump_renew"),
    "pump_and_converter": ("pump_exchange", "converter_exchange_job", "front_seal_renew"),
    "overhaul": INSIDE,
    "exchange_unit": (*INSIDE, *HYDRAULICS),
    "exchange_unit_with_module": (*INSIDE, *HYDRAULICS, "module_inside_renew"),
    "exchange_unit_cvt": (*INSIDE, *HYDRAULICS, "cvt_belt_and_pulleys", "cvt_clutch_repair", "cvt_pressure_repair"),
    "dct_clutches_and_seals": ("dct_clutches_renew", "dct_release_renew"),
    "exchange_unit_dct": ("dct_mechatronic_exchange", "dct_clutches_renew", "dct_release_renew"),
    "used_unit_fit": (*INSIDE, *HYDRAULICS),
}
LARGER_BY = 0.2
"""How much surer than the assembly a job on its part may be: it is aimed at it, and a used assembly has its own age."""
STAYS = "coolant_in_fluid"
"""What lets the coolant in sits in the radiator."""
PUTS_COOLER_RIGHT = {"radiator_and_flush", "radiator_and_overhaul", "radiator_and_exchange_cvt"}


@pytest.fixture(scope="module", params=sorted(rules_alone().sheets))
def expansion(request: pytest.FixtureRequest) -> Expansion:
    return compile_unit(rules_alone(), request.param).expansion


def _surely(expansion: Expansion, job: str) -> dict[str, float]:
    """Give what a job puts right surely."""
    return {cause: strength.p for cause, strength in expansion.cures[job].items() if strength.p >= SURE}


def test_cures__a_new_part_puts_right_all_that_lies_in_it(expansion: Expansion) -> None:
    """All causes of the instance that is renewed, of every area of which it puts right any."""
    missing = {
        (job, cause)
        for job, record in expansion.jobs.items()
        if record.scope.each and record.parts
        for cause in _list_same(expansion, job)
        if cause not in _surely(expansion, job)
    }
    assert not missing


def _list_same(expansion: Expansion, job: str) -> Iterator[str]:
    """List the causes of the instance that a job renews, in the areas that it puts right."""
    template, each = expansion.job_templates[job], expansion.jobs[job].scope.each
    instance = job.removeprefix(f"{template}_")
    areas = {expansion.causes[cause].area for cause in _surely(expansion, job)}
    for cause, one in expansion.causes.items():
        same = one.instance == instance and one.cause.scope.each == each
        if same and one.area in areas and one.template not in BESIDE_IT:
            yield cause


def test_cures__a_new_assembly_puts_right_what_a_new_part_of_it_would(expansion: Expansion) -> None:
    jobs: dict[str, list[str]] = {}
    for key, template in expansion.job_templates.items():
        jobs.setdefault(template, []).append(key)
    missing = {
        (whole, part, cause)
        for whole, parts in WITHIN.items()
        for made in jobs.get(whole, ())
        for part in parts
        for job in jobs.get(part, ())
        for cause, p in _surely(expansion, job).items()
        if cause not in expansion.cures[made] or expansion.cures[made][cause].p < p - LARGER_BY
    }
    assert not missing


def test_cures__a_cooler_that_lets_coolant_in_stays_unless_it_is_renewed(expansion: Expansion) -> None:
    cured_by = {expansion.job_templates[job] for job, cured in expansion.cures.items() if STAYS in cured}
    assert cured_by <= PUTS_COOLER_RIGHT and (STAYS in expansion.causes) == ("radiator_and_flush" in cured_by)


def test_cures__what_is_set_or_learned_anew_mends_nothing_that_is_broken(expansion: Expansion) -> None:
    """Neither a pawl nor a cable is put right by the module, no seal of a servo by the screw of its band."""
    causes = expansion.causes
    for job, cured in expansion.cures.items():
        if expansion.jobs[job].kind == "software":
            assert {"range_switch_or_linkage", "gearset_or_bearing", "band"}.isdisjoint(
                causes[key].area for key in cured
            )
            assert "park_pawl_damaged" not in cured
        if expansion.job_templates[job] == "band_adjust":
            assert {"band"} == {causes[key].area for key in cured}


def test_cures__all_that_renews_the_fluid_is_of_one_kind() -> None:
    """Where one was done in vain the others cure hardly anything more, and no two are ordered together."""
    trade = rules_alone()
    services = ["plain_service", "service_twice", "fluid_exchange_lines", "wrong_fluid_out"]
    for less, more in zip(services, services[1:], strict=False):
        assert less in trade.jobs_within(more)
    alike = [*services, "fluid_exchange_machine", "dry_out", "pan_renew", "radiator_and_flush"]
    assert 1 == len({trade.kind_of_cure(job) for job in alike} - {""})


def test_jobs_within__no_fluid_is_filled_twice_in_one_go(expansion: Expansion) -> None:
    """A stepless unit was sold a whole fill and a service beside it."""
    within = {job: rules_alone().jobs_within(template) for job, template in expansion.job_templates.items()}
    new = [
        job
        for job, one in expansion.jobs.items()
        if one.kind == "service" and "fluid_wrong_type" in expansion.cures[job]
    ]
    both = [{a, b} for a in new for b in new if a < b and a not in within[b] and b not in within[a]]
    assert new and all(any(pair <= whole for whole in within.values()) for pair in both)


def test_jobs_within__no_valve_body_is_bought_twice() -> None:
    assert "valve_body_exchange" in rules_alone().jobs_within("valve_body_exchange_with_module")


def test_unless__what_does_not_move_or_runs_on_milky_fluid_is_not_driven() -> None:
    # made of what does not move, too: read or tried as it stands
    standing = {"cvt_pressure_readout", "dct_clutch_readout", "cold_first_start"}
    for key, check in rules_alone().checks.items():
        if "road_test" in check.cautions and check.unless:
            assert {"range_will_not_select", "fluid_milky", "fluid_water_test"} <= {*check.unless}, key
            assert key in standing or {"no_drive_any", "does_not_go"} <= {*check.unless}, key
    assert rules_alone().checks["stall_test"].unless


def test_unless__no_stall_test_with_what_its_caution_forbids() -> None:
    assert {*rules_alone().cautions["stall_test"].forbidden_by} <= {*rules_alone().checks["stall_test"].unless}


def test_made_for__a_circuit_code_asks_for_the_plug_and_a_measurement() -> None:
    checks, codes = (
        rules_alone().checks,
        ("code_solenoid_circuit", "code_speed_sensor", "code_range_sensor", "code_temp_sensor"),
    )
    for code in codes:
        made = {key for key, check in checks.items() if code in check.made_for}
        assert "connector_look" in made and len(made) > 1, code


def test_cures__the_sensor_of_the_line_pressure_is_not_that_of_the_pulleys() -> None:
    """The pulley sensor lies behind the pan; on the lift, at half the price, the other one was renewed."""
    jobs = compile_unit(rules_alone(), "cvt").expansion.cures
    assert "cvt_pressure_sensor_fault" not in jobs["pressure_sensor_renew"]
    assert jobs["cvt_pressure_sensor_renew"]["cvt_pressure_sensor_fault"].p >= SURE


def test_cures__new_fluid_frees_no_clutch_that_drags_as_often_as_the_touch_points_do() -> None:
    """It drags through a disc, a bearing or a wrong setting; half of such units have dry clutches."""
    jobs = compile_unit(rules_alone(), "dct").expansion.cures
    fluid, setting = (jobs[job]["dct_clutch_drags"].p for job in ("dct_service", "dct_basic_setting"))
    assert fluid < setting


@pytest.mark.parametrize("unit", ["dct", "dct-dry"])
def test_cures__an_oily_dry_clutch_is_cured_with_the_seals_that_oil_it_alone(unit: str) -> None:
    """A new clutch goes oily again, a cleaned one stays so, and no exchange unit stops the seal of a crankshaft."""
    jobs = compile_unit(rules_alone(), unit).expansion.cures
    cured = {job: found["dct_clutch_oily"].p for job, found in jobs.items() if "dct_clutch_oily" in found}
    assert cured.pop("dct_clutches_and_seals") >= SURE > 0.4 > max(cured.values())
    assert {"dct_clutches_renew", "dct_clutches_and_flywheel", "dct_release_renew", "exchange_unit_dct"} <= cured.keys()
