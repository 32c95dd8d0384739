"""The JSON Schema of a case, for editors and other programs."""

from typing import Any

from shiftlore.cases.records import FORMAT_VERSION, HIGHEST_BUDGET, HIGHEST_ODOMETER_KM

_ID = {"type": "string", "pattern": "^[a-z][a-z0-9]*(_[a-z0-9]+)*$"}
_IDS = {"type": "array", "items": _ID, "uniqueItems": True}
_WORD = {"type": "string", "minLength": 1}
_FINDING_NAMES = {"pattern": "^([a-z][a-z0-9]*(_[a-z0-9]+)*|[PBCUpbcu][0-3][0-9A-Fa-f]{3})$"}


def case_schema() -> dict[str, Any]:
    """Give the JSON Schema (2020-12) of a case; ids are checked by `read_case` alone."""
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "Shiftlore case",
        "description": "One vehicle's complaint, background and findings.",
        "type": "object",
        "required": ["unit"],
        "additionalProperties": False,
        "properties": {
            "shiftlore": {"const": FORMAT_VERSION, "description": "format version"},
            "unit": {**_WORD, "description": "id of a unit sheet, or step, step-rwd, step-fwd, cvt, dct"},
            "odometer_km": {"type": ["number", "null"], "minimum": 0, "maximum": HIGHEST_ODOMETER_KM},
            "background": {"type": ["object", "null"], "propertyNames": _ID, "additionalProperties": _answer_schema()},
            "complaint": {**_IDS, "type": ["array", "null"], "description": "findings that the owner came with"},
            "findings": {
                "type": ["object", "null"],
                "description": "finding or trouble code: yes, no, a grade, or an answer with doubt",
                "propertyNames": _FINDING_NAMES,
                "additionalProperties": {"oneOf": [_answer_schema(), _doubted_schema()]},
            },
            "done": {**_IDS, "type": ["array", "null"], "description": "checks and jobs done on this visit, in order"},
            "access": {**_ID, "type": ["string", "null"], "description": "state of disassembly now"},
            "budget": {"type": ["number", "null"], "minimum": 0, "maximum": HIGHEST_BUDGET},
            "asked": {**_IDS, "type": ["array", "null"], "description": "what the interview has asked, in order"},
            "note": {"type": ["string", "null"]},
            "shop": {"type": ["string", "null"]},
        },
    }


def _answer_schema() -> dict[str, Any]:
    return {"type": ["string", "boolean", "null"], "minLength": 1}


def _doubted_schema() -> dict[str, Any]:
    return {
        "type": "object",
        "required": ["is"],
        "additionalProperties": False,
        "properties": {"is": {"type": ["string", "boolean"], "minLength": 1}, "doubt": {"type": ["string", "null"]}},
    }
