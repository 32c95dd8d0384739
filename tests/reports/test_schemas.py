"""The schemas of results; real output is held against them in tests/cli."""

import json

import pytest
from jsonschema import Draft202012Validator, ValidationError
from support.trade import slipping, small_case, unit_of

from shiftlore.advising import next_steps
from shiftlore.ranking import rank_causes
from shiftlore.reports import schemas
from shiftlore.reports.as_json import render_json
from shiftlore.reports.trials_text import report_as_json
from shiftlore.simulating import simulate_unit


@pytest.mark.parametrize("name", [name for name in vars(schemas) if name.endswith("_schema")])
def test_schema__is_itself_valid(name: str) -> None:
    Draft202012Validator.check_schema(getattr(schemas, name)())


def ranked() -> dict:
    """Rank a small case and read it back."""
    return json.loads(render_json(rank_causes(small_case({"fluid_colour": "dark"}), spread=False)))


def test_rank_schema__accepts_a_ranking() -> None:
    Draft202012Validator(schemas.rank_schema()).validate(ranked())


@pytest.mark.parametrize("field", ["shiftlore", "areas", "causes", "nothing_found", "fit"])
def test_rank_schema__needs_every_field_of_the_contract(field: str) -> None:
    short = {key: value for key, value in ranked().items() if key != field}
    with pytest.raises(ValidationError, match=field):
        Draft202012Validator(schemas.rank_schema()).validate(short)


def test_rank_schema__refuses_what_is_no_probability() -> None:
    wrong = ranked()
    wrong["causes"][0]["probability"] = 1.5
    with pytest.raises(ValidationError):
        Draft202012Validator(schemas.rank_schema()).validate(wrong)


def test_rank_schema__allows_fields_of_later_versions() -> None:
    Draft202012Validator(schemas.rank_schema()).validate({**ranked(), "later": 1})


def test_validate_schema__accepts_a_report_without_a_review() -> None:
    Draft202012Validator(schemas.validate_schema()).validate(json.loads(report_as_json(None, [])))


def test_next_schema__real_output_fits():
    Draft202012Validator.check_schema(schemas.next_schema())
    Draft202012Validator(schemas.next_schema()).validate(json.loads(render_json(next_steps(slipping(), tree_depth=1))))


def test_next_schema__missing_stop_is_refused():
    plain = json.loads(render_json(next_steps(slipping())))
    del plain["stop"]
    with pytest.raises(ValidationError, match="stop"):
        Draft202012Validator(schemas.next_schema()).validate(plain)


def test_simulate_schema__real_output_fits():
    Draft202012Validator.check_schema(schemas.simulate_schema())
    Draft202012Validator(schemas.simulate_schema()).validate(json.loads(render_json(simulate_unit(unit_of(), 2, 1))))
