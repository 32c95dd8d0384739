"""The JSON Schemas (2020-12) of what the commands print with `--format json`.

Fields may be added in later versions, so a schema requires what the contract promises and allows more.
"""

from typing import Any

Schema = dict[str, Any]

DIALECT = "https://json-schema.org/draft/2020-12/schema"
TEXT: Schema = {"type": "string"}
NUMBER: Schema = {"type": "number"}
COUNT: Schema = {"type": "integer", "minimum": 0}
PROBABILITY: Schema = {"type": "number", "minimum": 0, "maximum": 1}
AMOUNT: Schema = {"type": "number", "minimum": 0}
NULL: Schema = {"type": "null"}
YES_NO: Schema = {"type": "boolean"}
TEXTS: Schema = {"type": "array", "items": TEXT}


def list_of(item: Schema) -> Schema:
    """Give the schema of a list."""
    return {"type": "array", "items": item}


def object_of(fields: Schema, optional: Schema | None = None) -> Schema:
    """Give the schema of an object: all `fields` required, those of `optional` allowed."""
    return {"type": "object", "required": list(fields), "properties": {**fields, **(optional or {})}}


def map_of(value: Schema) -> Schema:
    """Give the schema of an object whose keys are ids."""
    return {"type": "object", "additionalProperties": value}


def or_null(schema: Schema) -> Schema:
    """Give the schema of what may also be null."""
    return {"anyOf": [NULL, schema]}


def result_of(title: str, fields: Schema, optional: Schema | None = None) -> Schema:
    """Give the schema of a whole result: `shiftlore: 1` and its fields."""
    body = object_of({"shiftlore": {"const": 1}, **fields}, optional)
    return {"$schema": DIALECT, "title": title, **body}


def rank_schema() -> Schema:
    """Give the JSON Schema of `rank`."""
    reason = object_of({"finding": TEXT, "label": TEXT, "decibans": NUMBER})
    cause = object_of({
        "id": TEXT, "label": TEXT, "area": TEXT, "probability": PROBABILITY, "low": PROBABILITY, "high": PROBABILITY,
        "for": list_of(reason), "against": list_of(reason),
    })
    area = object_of({"area": TEXT, "label": TEXT, "probability": PROBABILITY})
    audit = object_of({"engine": TEXT, "max_abs_difference": AMOUNT, "causes": COUNT, "seconds": AMOUNT})
    fields = {
        "unit": TEXT, "areas": list_of(area), "causes": list_of(cause), "nothing_found": PROBABILITY,
        "fit": object_of({"log10_odds": NUMBER, "note": TEXT, "left_out": PROBABILITY}), "seconds": AMOUNT,
        "together": list_of(object_of({"causes": TEXTS, "labels": TEXTS, "probability": PROBABILITY})),
    }
    return result_of("Shiftlore rank", fields, {"unused": TEXTS, "audit": audit})


def next_schema() -> Schema:
    """Give the JSON Schema of `next`."""
    cost = object_of({
        "total": AMOUNT, "labour_minutes": AMOUNT, "labour": AMOUNT, "parts_low": AMOUNT, "parts_typical": AMOUNT,
        "parts_high": AMOUNT, "access": AMOUNT,
    })
    cured = object_of({"cause": TEXT, "probability": PROBABILITY})
    step = object_of({
        "id": TEXT, "kind": {"enum": ["check", "job"]}, "label": TEXT, "cost": cost, "expected_total_after": AMOUNT,
        "expected_saving": NUMBER, "reveals": TEXTS, "cures": list_of(cured), "access_needed": TEXT, "cautions": TEXTS,
        "why": TEXT,
    })
    fields = {
        "currency": TEXT, "steps": list_of(step), "expected_total_now": AMOUNT,
        "stop": object_of({"advised": YES_NO, "why": TEXT}),
    }
    return result_of("Shiftlore next", fields)


def options_schema() -> Schema:
    """Give the JSON Schema of `options`."""
    line = object_of({"what": TEXT, "low": AMOUNT, "typical": AMOUNT, "high": AMOUNT})
    span = {"low": AMOUNT, "typical": AMOUNT, "high": AMOUNT}
    cost = object_of({**span, "labour_minutes": AMOUNT, "lines": list_of(line)})
    area = object_of({"area": TEXT, "label": TEXT, "probability": PROBABILITY})
    after = object_of({
        "jobs": TEXTS, "label": TEXT, "cost": cost, "saved_together": AMOUNT, "already_paid": TEXTS,
        "left": list_of(area),
    })
    kinds = ["nothing", "check", "service", "job", "bundle", "overhaul", "exchange"]
    follow_up = object_of({"id": TEXT, "label": TEXT, "says": TEXT, "who": {"enum": ["shop", "equipped_shop"]}})
    option = object_of({
        "id": TEXT, "kind": {"enum": kinds}, "label": TEXT, "says": TEXT, "jobs": TEXTS, "job_kinds": TEXTS, "checks": TEXTS,
        "check_ways": TEXTS, "cost": cost, "first_cost": cost, "p_cured": PROBABILITY,
        "p_cured_low": PROBABILITY, "p_cured_high": PROBABILITY,
        "expected_total": AMOUNT, "on_frontier": YES_NO, "within_budget": YES_NO, "days": AMOUNT,
        "follow_ups": list_of(follow_up), "not_covered": TEXT, "if_not_cured": or_null(after),
        "if_nothing_done": TEXT, "cautions": TEXTS, "advised": YES_NO,
    })
    risk = object_of({
        "severity": {"enum": ["unsafe", "strands", "gets_worse", "nuisance"]}, "p": PROBABILITY, "cause": TEXT,
        "area": TEXT, "says": TEXT, "within_km": {"type": ["integer", "null"]},
    })
    budget = object_of({
        "amount": AMOUNT, "option": TEXT, "label": TEXT, "p_cured": PROBABILITY, "buys_little": YES_NO, "says": TEXT,
    })
    change = object_of({"id": TEXT, "label": TEXT, "ways": TEXTS, "p_changes": PROBABILITY, "cost": cost})
    why_not = {"enum": ["no_tool", "not_known", "no_weight"]}
    missing = object_of({"id": TEXT, "label": TEXT, "why": why_not, "tools": TEXTS})
    sureness = object_of({
        "p_same_area": PROBABILITY, "p_same_advice": PROBABILITY, "word": {"enum": ["firm", "fair", "open"]},
        "would_change": or_null(change), "not_checked": list_of(missing), "says": TEXT,
    })
    fields = {
        "currency": TEXT, "unit": TEXT, "options": list_of(option), "advised": TEXT, "areas": list_of(area),
        "nothing_found": PROBABILITY, "driving_on": list_of(risk), "sureness": sureness, "seconds": AMOUNT,
    }
    complaint = object_of({"id": TEXT, "label": TEXT})
    more = {"budget": budget, "odometer_km": AMOUNT, "complaint": list_of(complaint)}
    return result_of("Shiftlore options", fields, more)


def simulate_schema() -> Schema:
    """Give the JSON Schema of `simulate`."""
    policy = object_of({
        "policy": TEXT, "mean_total": AMOUNT, "low": NUMBER, "high": NUMBER, "share_cured": PROBABILITY,
        "mean_checks": AMOUNT, "mean_labour_minutes": AMOUNT,
    })
    return result_of("Shiftlore simulate", {"policies": list_of(policy)})


def validate_schema() -> Schema:
    """Give the JSON Schema of `validate`; counts and textbook results are there for a clean knowledge folder."""
    problem = object_of({
        "file": TEXT, "line": COUNT, "column": COUNT, "code": TEXT, "severity": {"enum": ["error", "warning"]},
        "what": TEXT, "write_instead": TEXT,
    })
    kinds = ("causes_written", "states_written", "findings_written", "checks", "jobs", "backgrounds", "units")
    sizes = ("causes", "states", "findings", "ratios_computed")
    result = object_of({"id": TEXT, "cause": TEXT, "place": COUNT, "probability": PROBABILITY, "first": TEXT})
    reviewed = {
        "counts": object_of(dict.fromkeys(kinds, COUNT)),
        "units": map_of(object_of(dict.fromkeys(sizes, COUNT))),
        "textbook": object_of(dict.fromkeys(("cases", "first", "top_three"), COUNT)),
        "results": list_of(result),
        "alike": list_of(TEXTS),
    }
    return result_of("Shiftlore validate", {"problems": list_of(problem)}, reviewed)


def unit_schema() -> Schema:
    """Give the JSON Schema of `unit`."""
    number, maybe = {"type": ["number", "null"]}, {"type": ["boolean", "null"]}
    state = {"enum": ["driven", "neutral", "tied_up", "unknown"]}
    numbers = map_of(NUMBER)
    gear = object_of({
        "kind": {"enum": ["forward", "reverse", "neutral", "held"]}, "ratio_stated": number, "ratio_computed": number,
        "error_percent": number, "elements": TEXTS, "coast": TEXTS, "torque": numbers, "speeds": numbers,
        "pinions": numbers, "state": state, "brakes_engine": maybe, "lockup": YES_NO,
    })
    outcome = object_of({
        "had": {"type": ["string", "null"]}, "state": state, "ratio": number, "feels": TEXT, "changed": YES_NO,
        "brakes_engine": maybe,
    })
    solved = object_of({"ratios": numbers, "solved_from": TEXTS, "proved_on": numbers})
    faults = map_of(map_of(outcome))
    fields = {
        "unit": TEXT, "label": TEXT, "gears": map_of(gear), "lost": faults, "stuck": faults, "missing": TEXTS,
        "warnings": TEXTS, "solved": or_null(solved), "measured": or_null(_measured()),
        "failsafe_gear": {"type": ["string", "null"]},
    }
    return result_of("Unit", fields)


def _measured() -> Schema:
    gear = object_of({"gear": TEXT, "ratio": NUMBER, "off_percent": NUMBER})
    fault = object_of({"fault": TEXT, "commanded": TEXT, "ratio": NUMBER, "off_percent": NUMBER})
    slip = object_of({"commanded": TEXT, "ratio": NUMBER, "slip_percent": NUMBER, "elements": TEXTS})
    between = {"type": "array", "items": {"type": ["string", "null"]}, "minItems": 2, "maxItems": 2}
    lists = {"gears": list_of(gear), "faults": list_of(fault), "slips": list_of(slip)}
    return object_of({"ratio": NUMBER, "between": between, "says": TEXT, **lists})
