"""The schemas of results; real output is held against them in tests/cli."""

import json
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from jsonschema import Draft202012Validator, ValidationError
from support.hostile import HOSTILE
from support.layouts import LAYOUTS
from support.trade import slipping, small_case, unit_of

from shiftlore.advising import next_steps
from shiftlore.basics import Mark
from shiftlore.gearing import describe_unit
from shiftlore.ranking import rank_causes
from shiftlore.reports import schemas
from shiftlore.reports.schemas import render_json, to_plain, unit_to_json
from shiftlore.reports.trials_text import report_as_json
from shiftlore.sheets import load_sheet
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


@dataclass(frozen=True)
class Made:
    """A record with fields that Python keeps for itself."""

    speaks_for: tuple[int, ...]
    speaks_against: frozenset[str]
    p: object
    nothing: None = None


@given(HOSTILE)
def test_render_json__a_hostile_label_is_read_back_as_it_is(label: str) -> None:
    """Source: the JSON reader of Python's own library, which takes no bare number that JSON has not."""
    read = json.loads(render_json(Made((1,), frozenset([label]), {label: label})), parse_constant=pytest.fail)
    assert {"shiftlore": 1, "for": [1], "against": [label], "p": {label: label}} == read


def test_to_plain__renames_and_unpacks() -> None:
    assert {"for": [1, 2], "against": ["a"], "p": 0.5, "nothing": None} == to_plain(
        Made((1, 2), frozenset({"a"}), np.float64(0.5))
    )


def test_to_plain__records_become_objects_too() -> None:
    assert {"mark": {"file": "a.yaml", "line": 3, "column": 0}} == to_plain({"mark": Mark("a.yaml", 3)})


def test_to_plain__numpy_numbers_become_plain_ones() -> None:
    assert {"1": [3, True]} == to_plain({1: (np.int64(3), np.bool_(True))})


def test_render_json__version_first_and_empty_fields_left_out() -> None:
    text = render_json({"for": (), "nothing": None, "p": 1.0})
    assert text.startswith('{\n  "shiftlore": 1')
    assert {"shiftlore": 1, "for": [], "p": 1.0} == json.loads(text)


def test_render_json__says_how_long_it_took_only_where_asked() -> None:
    assert {"shiftlore": 1, "p": 1} == json.loads(render_json({"p": 1, "seconds": 0.5}))
    assert {"shiftlore": 1, "p": 1, "seconds": 0.5} == json.loads(render_json({"p": 1, "seconds": 0.5}, timing=True))


def test_render_json__a_ranking_reads_back_with_the_fields_of_the_contract() -> None:
    found = json.loads(render_json(rank_causes(small_case({"gear_slips_2": "yes"}), spread=False)))
    assert {"areas", "causes", "nothing_found", "fit"} <= set(found)
    assert {"id", "label", "area", "probability", "low", "high", "for", "against"} <= set(found["causes"][0])
    assert "audit" not in found


def test_render_json__letters_of_all_languages_stay() -> None:
    assert "Öl" in render_json({"label": "Öl"})


UNITS = Path(__file__).parents[2] / "knowledge" / "units"
SHEETS = {path.stem: path for path in sorted(UNITS.glob("*.yaml"))}


@pytest.mark.parametrize("name", [*SHEETS, *LAYOUTS])
def test_unit_to_json__fits_the_schema(name: str) -> None:
    description = describe_unit(load_sheet(SHEETS.get(name, LAYOUTS.get(name, ""))), ratio=1.9)
    plain = json.loads(json.dumps(unit_to_json(description)))
    Draft202012Validator(schemas.unit_schema()).validate(plain)
    assert plain == unit_to_json(description)


def test_unit_to_json__carries_the_fields_of_the_contract() -> None:
    plain = unit_to_json(describe_unit(load_sheet(UNITS / "long6.yaml")))
    gear = plain["gears"]["2"]
    assert {"ratio_stated", "ratio_computed", "error_percent", "elements", "torque", "state"} <= set(gear)
    assert {"had", "ratio", "state", "feels"} <= set(plain["stuck"]["sol_b=off"]["2"])


def test_render_json__what_is_no_number_is_no_json() -> None:
    import pytest

    with pytest.raises(ValueError, match="JSON"):
        render_json({"amount": float("nan")})
