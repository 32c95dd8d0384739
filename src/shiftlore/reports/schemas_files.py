"""The JSON Schemas (2020-12) of the files that people write: a case, and the files of the knowledge.

For editors and other programs; ids and sums are checked by `read_case` and `shiftlore validate` alone. What stands under
the keys of a record is taken from the forms by which records are read.
"""

from typing import Any

from shiftlore.cases import FORMAT_VERSION, HIGHEST_BUDGET, HIGHEST_ODOMETER_KM
from shiftlore.knowledge import FILES, FOLDERS, FORMS, SEVERITIES, SHOP, Form, Key
from shiftlore.knowledge.language import COUNTS, SHARES, STEM_LISTS, WRITTEN_LISTS
from shiftlore.reading import REQUIRED
from shiftlore.reports.schemas import DIALECT, NULL, Schema

_ID: Schema = {"type": "string", "pattern": "^[a-z][a-z0-9]*(_[a-z0-9]+)*$"}
_IDS: Schema = {"type": ["array", "null"], "items": _ID, "uniqueItems": True}
_CODE: Schema = {"type": "string", "pattern": "^[PBCU][0-3][0-9A-F]{3}$"}
_FINDING_NAMES: Schema = {"pattern": "^([a-z][a-z0-9]*(_[a-z0-9]+)*|[PBCUpbcu][0-3][0-9A-Fa-f]{3})$"}
_TEXT: Schema = {"type": "string", "minLength": 1}
_ANY_TEXT: Schema = {"type": ["string", "null"]}
_TEXTS: Schema = {"type": ["array", "null"], "items": _TEXT, "uniqueItems": True}
_ANSWER: Schema = {"type": ["string", "boolean"]}
_AMOUNT: Schema = {"type": ["number", "null"], "minimum": 0}
_NUMBER: Schema = {"type": "number"}
_COUNT: Schema = {"type": "integer", "minimum": 0}
_SHARE: Schema = {"type": "number", "minimum": 0, "maximum": 1}


def case_schema() -> Schema:
    """Give the JSON Schema of a case."""
    answer = {"type": ["string", "boolean", "null"], "minLength": 1}
    doubted = _closed({"is": {**_ANSWER, "minLength": 1}, "doubt": _ANY_TEXT}, "is")
    properties = {
        "shiftlore": {"const": FORMAT_VERSION, "description": "format version"},
        "unit": {**_TEXT, "description": "id of a unit sheet, or step, step-rwd, step-fwd, cvt, dct"},
        "odometer_km": {**_AMOUNT, "maximum": HIGHEST_ODOMETER_KM},
        "background": {**_mapping(answer), "propertyNames": _ID},
        "complaint": {**_IDS, "description": "findings that the owner came with"},
        "findings": {
            **_mapping({"oneOf": [answer, doubted]}),
            "description": "finding or trouble code: yes, no, a grade, or an answer with doubt",
            "propertyNames": _FINDING_NAMES,
        },
        "done": {**_IDS, "description": "checks and jobs done on this visit, in order"},
        "access": {**_ID, "type": ["string", "null"], "description": "state of disassembly now"},
        "budget": {**_AMOUNT, "maximum": HIGHEST_BUDGET},
        "asked": {**_IDS, "description": "what the interview has asked, in order"},
        "note": _ANY_TEXT,
        "shop": _ANY_TEXT,
    }
    description = "One vehicle's complaint, background and findings."
    return {"$schema": DIALECT, "title": "Shiftlore case", "description": description, **_closed(properties, "unit")}


def knowledge_schema() -> Schema:
    """Give the JSON Schema of any one knowledge file; `$defs` holds one schema for each kind of file."""
    keys = {**FOLDERS, **{name.removesuffix(".yaml"): key for name, key in FILES.items()}}
    definitions = {
        **_shared(),
        **{kind: _file_of(form, keys[kind]) for kind, form in FORMS.items()},
        "shop": {"anyOf": [_record_of(SHOP), _closed({"shop": {"type": "object"}}, "shop")]},
        "words": _words(),
        "language": _language(),
        "retired": {
            "type": "object",
            "required": ["id"],
            "properties": {"id": _ID, "replaced_by": {"anyOf": [_ID, NULL]}},
        },
    }
    return {
        "$schema": DIALECT,
        "title": "Shiftlore knowledge file",
        "description": "One file of the knowledge folder; unit sheets have a form of their own.",
        "anyOf": [_ref(kind) for kind in keys if kind != "units"],
        "$defs": definitions,
    }


def _closed(properties: Schema, *required: str) -> Schema:
    """Make a mapping that takes no other keys."""
    return {"type": "object", "additionalProperties": False, "required": list(required), "properties": properties}


def _mapping(values: Schema) -> Schema:
    return {"type": ["object", "null"], "additionalProperties": values}


def _ref(name: str) -> Schema:
    return {"$ref": f"#/$defs/{name}"}


def _file_of(form: Form, list_key: str | None) -> Schema:
    """Give the schema of a file: one record, or a list of them with one source for all."""
    if list_key is None:
        return _record_of(form, "source")
    return _closed({"source": _TEXT, list_key: {"type": ["array", "null"], "items": _record_of(form)}}, list_key)


def _record_of(form: Form, *required: str) -> Schema:
    needed = [
        key.name for key in form.keys if key.name in required or (key.default is REQUIRED and key.holds != "source")
    ]
    return _closed({key.name: _value_of(key) for key in form.keys}, *needed)


def _value_of(key: Key) -> Schema:
    """Give the schema of what stands under a key."""
    optional = key.default is not REQUIRED
    if key.holds == "word":
        return {"enum": [*key.words, None] if optional else list(key.words)}
    if key.holds in ("number", "price", "whole"):
        kind = "integer" if key.holds == "whole" else "number"
        return {"type": [kind, "null"] if optional else kind, "minimum": key.low}
    if key.holds in ("text", "id_of"):
        return _ANY_TEXT if optional else _TEXT
    return _held()[key.holds]


def _held() -> Schema:
    """Give the schema for all that can stand under a key beside words, numbers and texts."""
    doubted = _closed({"is": _ANSWER, "doubt": _TEXT}, "is", "doubt")
    driven_on = {"severity": {"enum": list(SEVERITIES)}, "says": _TEXT, "within_km": _AMOUNT, "damages": _TEXTS}
    look_alike = _closed({"because": _TEXT, "tells_apart": _TEXTS}, "because")
    stand = {"answer": _ANSWER, "groups": _TEXTS, "findings": _TEXTS, "answered": _ANSWER}
    return {
        "id": _ID,
        "code": _CODE,
        "access": _ANY_TEXT,
        "parent": _ANY_TEXT,
        "source": _TEXT,
        "remark": _ANY_TEXT,
        "texts": _TEXTS,
        "ids": _TEXTS,
        "yes_no": {"type": ["boolean", "null"]},
        "wear": _TEXT,
        "grades": _TEXTS,
        "grade_labels": _mapping(_TEXT),
        "unexplained": {"anyOf": [_ref("strengths"), NULL]},
        "misreading": _ref("strength"),
        "cures": _mapping(_ref("strength")),
        "shares": _mapping(_closed({"share": _SHARE, "label": _ANY_TEXT, "recent": {"type": ["boolean", "null"]}}, "share")),
        "answers": _mapping({"anyOf": [_ANSWER, doubted]}),
        "driven_on": _closed(driven_on, "severity", "says"),
        "looks_like": _mapping({"anyOf": [_TEXT, look_alike]}),
        "stands_for": {"type": ["array", "null"], "items": _closed(stand, "answer", "answered")},
        **{name: _ref(name) for name in ("how_common", "leads_to", "needs", "raised_by")},
    }


def _shared() -> Schema:
    """Give the parts that several records use."""
    counts = {"hits": {"type": "integer", "minimum": 0}, "of": {"type": "integer", "minimum": 1}}
    counted = _closed({"counted": _closed(counts, "hits", "of")}, "counted")
    strength = {"anyOf": [_TEXT, counted]}
    grades = {"anyOf": [strength, _mapping(strength)]}
    by_torque = {"type": ["boolean", "null"]}
    long_line = _closed(
        {
            "strength": _ref("strength"),
            "grades": _ref("strengths"),
            "where": _TEXT,
            "when": _TEXT,
            "by_torque": by_torque,
        }
    )
    lines = {"anyOf": [_ref("strengths"), long_line, {"type": "array", "minItems": 1, "items": _ref("line")}]}
    return {
        "strength": strength,
        "strengths": grades,
        "line": {"anyOf": [_ref("strengths"), long_line]},
        "leads_to": _mapping(lines),
        "how_common": {"anyOf": [_TEXT, counted, _closed({"per_thousand": _NUMBER}, "per_thousand")]},
        "raised_by": _mapping({"type": "object", "additionalProperties": {"type": "number", "exclusiveMinimum": 0}}),
        "needs": {"type": ["array", "null"], "items": _closed({"price": _TEXT, "count": _NUMBER}, "price")},
    }


def _language() -> Schema:
    texts, free_texts = _mapping(_TEXT), {"type": ["object", "null"], "additionalProperties": _TEXTS}
    ending = _closed({"cut": _TEXT, "leaves": _COUNT, "write": {"type": "string"}, "not_after": _TEXTS}, "cut")
    rule = {"find": _TEXT, "write": _TEXT, "words": texts, "needs": _TEXTS, "speed": {"type": "boolean"}}
    rules = {"type": ["array", "null"], "items": _closed(rule, "find")}
    bounds = ("over_by_kmh", "slow_below_kmh", "fast_above_kmh")
    speeds = {"units": _mapping(_NUMBER), "source": _TEXT, **dict.fromkeys(("slow", "middle", "fast"), _TEXT)}
    weight = {"value": _NUMBER, "says": _TEXT, "source": _TEXT}
    stemming = {"whole_up_to": _COUNT, "endings": {"type": "array", "items": ending}, "double_stays": _TEXT,
                "silent": {"type": "string"}, "forms": texts, "numbers": texts}  # fmt: skip
    return _closed(
        {
            "id": _ID, "source": _TEXT, "essential": free_texts, "names": free_texts, "parts": texts,
            "written": _closed(dict.fromkeys(WRITTEN_LISTS, _TEXTS)),
            "stems": _closed(dict.fromkeys(STEM_LISTS, _TEXTS)), "stemming": _closed(stemming),
            "as_written": rules, "turns": rules, "numbers": _closed({"where": _TEXT, "rules": rules}, "where"),
            "speeds": _closed({**speeds, **dict.fromkeys(bounds, _NUMBER)}, "units", *bounds[1:], "source"),
            "weights": _closed(dict.fromkeys((*SHARES, *COUNTS), _closed(weight, *weight))),
        },
        "id", "source",
    )  # fmt: skip


def _words() -> Schema:
    spread = {"weight": {"type": "number", "minimum": 1}, "source": _TEXT}
    entries: dict[str, dict[str, Any]] = {
        "strengths": {"mean": _SHARE, **spread},
        "how_common": {"per_thousand": _NUMBER, **spread},
        "wear": {"slope": _NUMBER, "source": _TEXT},
        "doubts": {"p_right": _SHARE, "source": _TEXT},
    }
    totals = {"reference_km": _NUMBER, "complaint_total": _NUMBER, "nothing_found": _SHARE}
    words = {name: _mapping(_closed(entry, *entry)) for name, entry in entries.items()}
    return _closed({**words, **totals, "source": _ANY_TEXT}, *words, *totals)
