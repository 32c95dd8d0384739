"""The schema accepts what the reader accepts."""

import json

import pytest
import yaml
from jsonschema import Draft202012Validator

from shiftlore.cases import Case, case_schema, render_case

VALIDATOR = Draft202012Validator(case_schema())


def test_case_schema__is_a_valid_schema():
    Draft202012Validator.check_schema(case_schema())


def test_case_schema__is_json():
    assert case_schema() == json.loads(json.dumps(case_schema()))


def test_case_schema__accepts_what_is_rendered():
    assert VALIDATOR.is_valid(yaml.safe_load(render_case(Case("long5", 5.0, {"usage": "no"}, ("burnt",), budget=3.5))))


@pytest.mark.parametrize(
    "values",
    [
        {},
        {"unit": ""},
        {"unit": "a", "odometer_km": -1},
        {"unit": "a", "x": 1},
        {"unit": "a", "findings": {"b": {}}},
        {"unit": "a", "findings": {"B-c": True}},
        {"unit": "a", "done": ["b", "b"]},
        {"unit": "a", "shiftlore": 2},
    ],
)
def test_case_schema__refuses(values):
    assert not VALIDATOR.is_valid(values)
