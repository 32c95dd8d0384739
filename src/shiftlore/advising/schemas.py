"""JSON Schemas (2020-12) of the next steps and of a simulation."""

from collections.abc import Mapping
from typing import Any

DIALECT = "https://json-schema.org/draft/2020-12/schema"
NUMBER: Mapping[str, Any] = {"type": "number"}
TEXT: Mapping[str, Any] = {"type": "string"}
TEXTS: Mapping[str, Any] = {"type": "array", "items": TEXT}
CHANCE: Mapping[str, Any] = {"type": "number", "minimum": 0, "maximum": 1}
AMOUNT: Mapping[str, Any] = {"type": "number", "minimum": 0}


def next_schema() -> dict[str, Any]:
    """Schema of `next --format json`."""
    cost = _record(
        total=AMOUNT, labour_minutes=AMOUNT, labour=AMOUNT, parts_low=AMOUNT, parts_typical=AMOUNT, parts_high=AMOUNT,
        access=AMOUNT, test=AMOUNT, closing_later=AMOUNT,
    )
    cured = _record(cause=TEXT, probability=CHANCE)
    step = _record(
        id=TEXT, kind={"enum": ["check", "job"]}, label=TEXT, together=TEXTS, cost=cost, expected_total_after=NUMBER,
        expected_saving=NUMBER, p_cured=CHANCE, reveals=TEXTS, cures={"type": "array", "items": cured},
        access_needed=TEXT, cautions=TEXTS, why=TEXT,
    )
    stop = _record(advised={"type": "boolean"}, why=TEXT, reason=TEXT, jobs=TEXTS, p_cured=CHANCE)
    plan = _record(
        batches={"type": "array", "items": TEXTS}, expected_total=AMOUNT, lower_bound=AMOUNT, upper_bound=AMOUNT,
        p_cured=CHANCE, worst_spend=AMOUNT, labour_minutes=AMOUNT, method={"enum": ["exact", "counts", "cut"]},
    )
    schema = _record(
        shiftlore={"const": 1}, currency=TEXT, steps={"type": "array", "items": step}, expected_total_now=AMOUNT,
        lower_bound=AMOUNT, upper_bound=AMOUNT, stop=stop, plan=plan, seconds=AMOUNT,
    )
    schema["properties"]["tree"] = {"$ref": "#/$defs/node"}
    return {"$schema": DIALECT, "title": "Next steps", **schema, "$defs": {"node": _node_schema()}}


def _node_schema() -> dict[str, Any]:
    """Schema of a place in the tree of checks; places hold places."""
    branch = _record(labels=TEXTS, p=CHANCE, node={"anyOf": [{"type": "null"}, {"$ref": "#/$defs/node"}]})
    return _record(
        kind={"enum": ["check", "job", "stop", "deep"]}, ids=TEXTS, p_reach=CHANCE, cost=AMOUNT,
        labour_minutes=AMOUNT, expected_total=AMOUNT, p_cured=CHANCE, batches={"type": "array", "items": TEXTS},
        branches={"type": "array", "items": branch},
    )


def simulate_schema() -> dict[str, Any]:
    """Schema of `simulate --format json`."""
    count = {"type": "integer", "minimum": 1}
    policy = _record(
        policy=TEXT, vehicles=count, mean_total=AMOUNT, low=NUMBER, high=NUMBER, share_cured=CHANCE,
        mean_checks=AMOUNT, mean_labour_minutes=AMOUNT,
    )
    schema = _record(
        shiftlore={"const": 1}, unit=TEXT, vehicles=count, seed={"type": "integer"}, currency=TEXT,
        policies={"type": "array", "items": policy, "minItems": 1}, seconds=AMOUNT,
    )
    return {"$schema": DIALECT, "title": "Simulation", **schema}


def _record(**properties: Mapping[str, Any]) -> dict[str, Any]:
    """An object that has at least these fields; others may be added."""
    return {"type": "object", "properties": dict(properties), "required": list(properties)}
