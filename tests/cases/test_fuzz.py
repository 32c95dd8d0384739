"""Spoiled cases end in problems, never in another error, and never with an unknown key let through."""

import yaml
from jsonschema import Draft202012Validator
from support.mutations import spoiled

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
