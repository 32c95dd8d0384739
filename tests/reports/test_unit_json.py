"""JSON of the `unit` command against its schema."""

import json
from pathlib import Path

from jsonschema import Draft202012Validator
from pytest import mark
from support.layouts import LAYOUTS

from shiftlore.gearing import describe_unit
from shiftlore.reports.unit_json import unit_schema, unit_to_json
from shiftlore.sheets import load_sheet

UNITS = Path(__file__).parents[2] / "knowledge" / "units"
SHEETS = {path.stem: path for path in sorted(UNITS.glob("*.yaml"))}


@mark.parametrize("name", [*SHEETS, *LAYOUTS])
def test_unit_to_json__fits_the_schema(name: str) -> None:
    description = describe_unit(load_sheet(SHEETS.get(name, LAYOUTS.get(name, ""))), ratio=1.9)
    plain = json.loads(json.dumps(unit_to_json(description)))
    Draft202012Validator(unit_schema()).validate(plain)
    assert plain == unit_to_json(description)


def test_unit_schema__is_itself_valid() -> None:
    Draft202012Validator.check_schema(unit_schema())


def test_unit_to_json__carries_the_fields_of_the_contract() -> None:
    plain = unit_to_json(describe_unit(load_sheet(UNITS / "long6.yaml")))
    gear = plain["gears"]["2"]
    assert {"ratio_stated", "ratio_computed", "error_percent", "elements", "torque", "state"} <= set(gear)
    assert {"had", "ratio", "state", "feels"} <= set(plain["stuck"]["sol_b=off"]["2"])
