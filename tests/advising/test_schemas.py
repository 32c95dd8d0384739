"""Schemas of the results, against real results."""

import json

import pytest
from jsonschema import Draft202012Validator, ValidationError
from support.trade import slipping, unit_of

from shiftlore.advising import next_schema, next_steps, simulate_schema
from shiftlore.reports.as_json import render_json
from shiftlore.simulating import simulate_unit


def test_next_schema__real_output_fits():
    Draft202012Validator.check_schema(next_schema())
    Draft202012Validator(next_schema()).validate(json.loads(render_json(next_steps(slipping(), tree_depth=1))))


def test_next_schema__missing_stop_is_refused():
    plain = json.loads(render_json(next_steps(slipping())))
    del plain["stop"]
    with pytest.raises(ValidationError, match="stop"):
        Draft202012Validator(next_schema()).validate(plain)


def test_simulate_schema__real_output_fits():
    Draft202012Validator.check_schema(simulate_schema())
    Draft202012Validator(simulate_schema()).validate(json.loads(render_json(simulate_unit(unit_of(), 2, 1))))
