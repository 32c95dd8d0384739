"""The JSON form of a unit's description, and its JSON Schema."""

from dataclasses import asdict
from typing import Any

from shiftlore.gearing import Remains, UnitDescription

STATES = ["driven", "neutral", "tied_up", "unknown"]


def unit_to_json(description: UnitDescription) -> dict[str, Any]:
    """Give the fields of the `unit` command's JSON output as plain values."""
    return {
        "shiftlore": 1,
        "unit": description.id,
        "label": description.label,
        "gears": {name: _plain(asdict(line)) for name, line in description.gears.items()},
        "lost": {part: _outcomes(lines) for part, lines in description.lost.items()},
        "stuck": {part: _outcomes(lines) for part, lines in description.stuck.items()},
        "missing": list(description.missing),
        "warnings": list(description.warnings),
        "solved": None if description.solved is None else _plain(asdict(description.solved)),
        "measured": None if description.measured is None else _plain(asdict(description.measured)),
        "failsafe_gear": description.failsafe_gear,
    }


def _outcomes(lines: Any) -> dict[str, Any]:
    return {name: _plain(_outcome(outcome)) for name, outcome in lines.items()}


def _outcome(outcome: Remains) -> dict[str, Any]:
    return asdict(outcome)


def _plain(value: Any) -> Any:
    """Turn tuples into lists, so that what is printed equals what is validated."""
    if isinstance(value, dict):
        return {key: _plain(item) for key, item in value.items()}
    if isinstance(value, tuple | list):
        return [_plain(item) for item in value]
    return value


def unit_schema() -> dict[str, Any]:
    """Give the JSON Schema (2020-12) of the `unit` command's output."""
    number, text = {"type": ["number", "null"]}, {"type": "string"}
    texts = {"type": "array", "items": text}
    numbers = {"type": "object", "additionalProperties": {"type": "number"}}
    maybe = {"type": ["boolean", "null"]}
    gear = {
        "kind": {"enum": ["forward", "reverse", "neutral", "held"]},
        "ratio_stated": number,
        "ratio_computed": number,
        "error_percent": number,
        "elements": texts,
        "coast": texts,
        "torque": numbers,
        "speeds": numbers,
        "pinions": numbers,
        "state": {"enum": STATES},
        "brakes_engine": maybe,
        "lockup": {"type": "boolean"},
    }
    outcome = {
        "had": {"type": ["string", "null"]},
        "state": {"enum": STATES},
        "ratio": number,
        "feels": text,
        "changed": {"type": "boolean"},
        "brakes_engine": maybe,
    }
    faults = {"type": "object", "additionalProperties": {"type": "object", "additionalProperties": _object(outcome)}}
    solved = {"ratios": numbers, "solved_from": texts, "proved_on": numbers}
    fields = {
        "shiftlore": {"const": 1},
        "unit": text,
        "label": text,
        "gears": {"type": "object", "additionalProperties": _object(gear)},
        "lost": faults,
        "stuck": faults,
        "missing": texts,
        "warnings": texts,
        "solved": {"anyOf": [{"type": "null"}, _object(solved)]},
        "measured": {"anyOf": [{"type": "null"}, _measured_schema()]},
        "failsafe_gear": {"type": ["string", "null"]},
    }
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", "title": "Unit", **_object(fields)}


def _measured_schema() -> dict[str, Any]:
    number, text = {"type": "number"}, {"type": "string"}
    gear: dict[str, Any] = {"gear": text, "ratio": number, "off_percent": number}
    fault: dict[str, Any] = {"fault": text, "commanded": text, "ratio": number, "off_percent": number}
    elements = {"type": "array", "items": text}
    slip: dict[str, Any] = {"commanded": text, "ratio": number, "slip_percent": number, "elements": elements}
    between = {"type": "array", "items": {"type": ["string", "null"]}, "minItems": 2, "maxItems": 2}
    lists = {"gears": gear, "faults": fault, "slips": slip}
    fields = {name: {"type": "array", "items": _object(item)} for name, item in lists.items()}
    return _object({"ratio": number, "between": between, "says": text, **fields})


def _object(fields: dict[str, Any]) -> dict[str, Any]:
    return {"type": "object", "properties": fields, "required": list(fields)}
