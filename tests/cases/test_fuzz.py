"""Spoiled cases end in problems, never in another error, and never with an unknown key let through."""

import yaml
from jsonschema import Draft202012Validator
from support.mutations import spoiled
from support.trade import shipped

import shiftlore
from shiftlore.basics import CaseError, Problem
from shiftlore.cases import Known, read_case, render_case
from shiftlore.reports.file_schemas import case_schema

KNOWN = Known(
    findings={
        "fluid_smell_burnt": ("no", "yes"),
        "slips_gear_2": ("no", "yes"),
        "fluid_level": ("right", "high", "low"),
        "sluggish": ("no", "yes"),
    },
    backgrounds={"service_record": ("in_time", "never"), "usage": ("normal", "towing")},
    units=["long5"],
    checks=["pan_drop"],
    access=["standing", "pan_off"],
    codes=["P0732"],
)
CASE = """\
shiftlore: 1
unit: long5
odometer_km: 182000
background:
  service_record: never
  usage: towing
complaint: [sluggish]
findings:
  fluid_smell_burnt: no
  slips_gear_2: yes
  P0732: yes
  fluid_level: {is: high, doubt: think_so}
done: [pan_drop]
access: pan_off
budget: 600
note: "bangs, he says"
"""
FULL = """\
shiftlore: 1
unit: long8
odometer_km: {at_least: 112000}
background:
  service_record: in_time
  rebuilt: {is: just_now, doubt: think_so}
onset: {after: [recent_service], how: slowly, odometer_km: 98000}
complaint: [engage_delay_reverse, shift_flares_3_4]
findings:
  engage_delay_reverse: delayed
  engage_harsh_drive: {is: yes, when: [hot]}
  P0734: yes
  slips_gear_4: {is: yes, doubt: think_so}
  misfire_counts: null
measured:
  line_pressure_idle: {value: 2.1, unit: bar}
  ratio_gear_3: {value: 1.75}
either:
- [slips_pull_away, {engage_delay_drive: delayed}]
done:
- {job: plain_service, result: came_back, after_days: 20, found_after: {fluid_smell_burnt: yes}}
said:
- creeps up to 60 as if somebody held it by the tail
asked: [complaint, fluid_level]
access: standing
budget: 1900
note: "bangs, he says"
"""
SCHEMA = Draft202012Validator(case_schema())


def check_spoiled_case(text):
    """Read one spoiled case; what is accepted must also pass the schema and come round again."""
    try:
        case = read_case(text, KNOWN, "c.yaml")
    except CaseError as error:
        assert error.problems
        for problem in error.problems:
            assert isinstance(problem, Problem)
            assert problem.what and problem.write_instead and problem.code.startswith("C")
        return False
    loaded = yaml.load(text, yaml.CSafeLoader)
    assert [] == [error.message for error in SCHEMA.iter_errors(loaded)]
    assert set(case.findings) <= {*KNOWN.findings, *(str(key).upper() for key in loaded.get("findings") or {})}
    assert case == read_case(render_case(case), KNOWN)
    return True


def test_read_case__spoiled_300_times():
    accepted = sum(check_spoiled_case(text) for text in spoiled(CASE, 11, 300))
    assert 10 < accepted < 150


def check_spoiled_full_case(text):
    """Read a spoiled case that says all that can be said; what is accepted says something else exactly if its YAML does."""
    try:
        case = shiftlore.read_case(text + "\n", shipped(), "c.yaml")
    except CaseError as error:
        assert all(isinstance(one, Problem) and one.mark.file == "c.yaml" for one in error.problems)
        return False
    assert case == shiftlore.read_case(render_case(case), shipped(), "c.yaml"), text
    if "C026" in {one.code for one in case.warnings}:
        return True  # a question that nobody can have asked is told and left out
    loaded = {"shiftlore": 1, **yaml.load(text, yaml.CSafeLoader)}
    assert [] == [error.message for error in SCHEMA.iter_errors(loaded)], text
    assert (case == FULL_CASE) == (loaded == yaml.load(FULL, yaml.CSafeLoader)), text
    return True


FULL_CASE = shiftlore.read_case(FULL, shipped())


def test_read_case__with_all_that_can_be_said_spoiled_200_times():
    accepted = sum(check_spoiled_full_case(text) for text in spoiled(FULL, 12, 200))
    assert 10 < accepted < 100
