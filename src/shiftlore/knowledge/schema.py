"""The JSON Schema of the knowledge files, for editors; ids and sums are checked by `shiftlore validate` alone."""

from typing import Any

from shiftlore.knowledge.folders import FILES, FOLDERS
from shiftlore.knowledge.forms import FOLLOWED_BY, GOT_BY, JOB_KINDS, SEVERITIES, STATUSES
from shiftlore.sheets import EACH

_Schema = dict[str, Any]
_TEXT: _Schema = {"type": "string", "minLength": 1}
_ANY_TEXT: _Schema = {"type": ["string", "null"]}
_ID: _Schema = {"type": "string", "pattern": "^[a-z][a-z0-9]*(_[a-z0-9]+)*$"}
_TEXTS: _Schema = {"type": ["array", "null"], "items": _TEXT, "uniqueItems": True}
_AMOUNT: _Schema = {"type": ["number", "null"], "minimum": 0}
_ANSWER: _Schema = {"type": ["string", "boolean"]}
_YES_NO: _Schema = {"type": ["boolean", "null"]}


def knowledge_schema() -> _Schema:
    """Give the JSON Schema (2020-12) of any one knowledge file; `$defs` holds one schema for each kind of file."""
    definitions = {
        **_shared(),
        **{kind: _file_of(key, _RECORDS[kind]()) for kind, key in _list_files().items()},
        "causes": _cause(),
        "textbook": _textbook(),
        "shop": _shop(),
        "words": _words(),
        "retired": {
            "type": "object",
            "required": ["id"],
            "properties": {"id": _ID, "replaced_by": {"anyOf": [_ID, _NULL]}},
        },
    }
    files = [kind for kind in (*FOLDERS, *(name.removesuffix(".yaml") for name in FILES)) if kind != "units"]
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "Shiftlore knowledge file",
        "description": "One file of the knowledge folder; unit sheets have a form of their own.",
        "anyOf": [{"$ref": f"#/$defs/{kind}"} for kind in files],
        "$defs": definitions,
    }


_NULL: _Schema = {"type": "null"}


def _list_files() -> dict[str, str]:
    keys = {kind: key for kind, key in FOLDERS.items() if key is not None}
    return keys | {name.removesuffix(".yaml"): key for name, key in FILES.items() if key is not None}


def _file_of(key: str, record: _Schema) -> _Schema:
    return _closed({"source": _TEXT, key: {"type": ["array", "null"], "items": record}}, key)


def _closed(properties: _Schema, *required: str) -> _Schema:
    """Make a mapping that takes no other keys."""
    return {"type": "object", "additionalProperties": False, "required": list(required), "properties": properties}


def _mapping(values: _Schema) -> _Schema:
    return {"type": ["object", "null"], "additionalProperties": values}


def _ref(name: str) -> _Schema:
    return {"$ref": f"#/$defs/{name}"}


def _shared() -> _Schema:
    """Give the parts that several records use."""
    counts = {"hits": {"type": "integer", "minimum": 0}, "of": {"type": "integer", "minimum": 1}}
    counted = _closed({"counted": _closed(counts, "hits", "of")}, "counted")
    strength = {"anyOf": [_TEXT, counted]}
    grades = {"anyOf": [strength, _mapping(strength)]}
    long_line = _closed(
        {"strength": _ref("strength"), "grades": _ref("strengths"), "where": _TEXT, "when": _TEXT, "by_torque": _YES_NO}
    )
    lines = {"anyOf": [_ref("strengths"), long_line, {"type": "array", "minItems": 1, "items": _ref("line")}]}
    return {
        "strength": strength,
        "strengths": grades,
        "line": {"anyOf": [_ref("strengths"), long_line]},
        "leads_to": _mapping(lines),
        "how_common": {"anyOf": [_TEXT, counted, _closed({"per_thousand": {"type": "number"}}, "per_thousand")]},
        "raised_by": _mapping({"type": "object", "additionalProperties": {"type": "number", "exclusiveMinimum": 0}}),
        "needs": {"type": ["array", "null"], "items": _closed({"price": _TEXT, "count": {"type": "number"}}, "price")},
    }


def _scope() -> _Schema:
    return {"each": {"enum": [*EACH, None]}, "types": _TEXTS, "needs": _TEXTS, "not_with": _TEXTS}


def _cause() -> _Schema:
    look_alike = _closed({"because": _TEXT, "tells_apart": _TEXTS}, "because")
    driven_on = {"severity": {"enum": list(SEVERITIES)}, "says": _TEXT, "within_km": _AMOUNT, "damages": _TEXTS}
    return _closed(
        {
            "id": _ID, "label": _TEXT, "says": _TEXT, "area": _TEXT, "status": {"enum": list(STATUSES)},
            "how_common": _ref("how_common"), "wear": _TEXT, "raised_by": _ref("raised_by"),
            "leads_to": _ref("leads_to"), "looks_like": _mapping({"anyOf": [_TEXT, look_alike]}),
            "driven_on": _closed(driven_on, "severity", "says"), "source": _TEXT, **_scope(),
        },
        "id", "label", "says", "area", "status", "how_common", "wear", "looks_like", "driven_on", "source",
    )  # fmt: skip


def _state() -> _Schema:
    return _closed(
        {
            "id": _ID, "label": _TEXT, "grades": _TEXTS, "unexplained": {"anyOf": [_ref("strengths"), _NULL]},
            "raised_by": _ref("raised_by"), "leads_to": _ref("leads_to"), "source": _TEXT, **_scope(),
        },
        "id", "label",
    )  # fmt: skip


def _finding() -> _Schema:
    stand = _closed(
        {"answer": _ANSWER, "groups": _TEXTS, "findings": _TEXTS, "answered": _ANSWER}, "answer", "answered"
    )
    return _closed(
        {
            "id": _ID, "label": _TEXT, "ask": _TEXT, "grades": _TEXTS, "grade_labels": _mapping(_TEXT), "group": _TEXT,
            "got_by": {"enum": list(GOT_BY)}, "together": _ANY_TEXT, "complaint": _YES_NO, "words": _TEXTS,
            "unexplained": {"anyOf": [_ref("strengths"), _NULL]}, "raised_by": _ref("raised_by"),
            "stands_for": {"type": ["array", "null"], "items": stand}, "source": _TEXT, **_scope(),
        },
        "id", "label", "ask", "group", "got_by",
    )  # fmt: skip


def _code() -> _Schema:
    code = {"type": "string", "pattern": "^[PBCU][0-3][0-9A-F]{3}$"}
    properties = {"code": code, "means": _TEXT, "finding": _TEXT, "instance": _ANY_TEXT, "source": _ANY_TEXT}
    return _closed(properties, "code", "means", "finding")


def _background() -> _Schema:
    answer = _closed({"share": {"type": "number", "minimum": 0, "maximum": 1}, "label": _ANY_TEXT}, "share")
    return _closed(
        {"id": _ID, "label": _TEXT, "ask": _TEXT, "answers": _mapping(answer), "words": _TEXTS, "source": _TEXT},
        "id", "label", "ask", "answers",
    )  # fmt: skip


def _act() -> _Schema:
    return {
        "id": _ID, "label": _TEXT, "minutes": {"type": "number", "minimum": 0}, "access": _ANY_TEXT, "tools": _TEXTS,
        "consumables": _ref("needs"), "cautions": _TEXTS, "source": _TEXT, **_scope(),
    }  # fmt: skip


def _check() -> _Schema:
    more = {"how": _TEXT, "reveals": _TEXTS, "missed": _ref("strength"), "false_alarm": _ref("strength")}
    return _closed({**_act(), **more}, "id", "label", "how", "minutes", "missed", "false_alarm")


def _job() -> _Schema:
    more = {
        "says": _TEXT, "kind": {"enum": list(JOB_KINDS)}, "parts": _ref("needs"), "cures": _mapping(_ref("strength")),
        "follow_ups": _TEXTS, "not_covered": _ANY_TEXT, "days": _AMOUNT,
    }  # fmt: skip
    return _closed({**_act(), **more}, "id", "label", "says", "kind", "minutes")


def _access() -> _Schema:
    times = {"open_minutes": _AMOUNT, "close_minutes": _AMOUNT}
    properties = {
        "id": _ID,
        "label": _TEXT,
        "parent": _ANY_TEXT,
        **times,
        "consumables": _ref("needs"),
        "source": _ANY_TEXT,
    }
    return _closed(properties, "id", "label")


def _follow_up() -> _Schema:
    who = {"enum": [*FOLLOWED_BY, None]}
    properties = {
        "id": _ID,
        "label": _TEXT,
        "says": _TEXT,
        "who": who,
        "minutes": _AMOUNT,
        "consumables": _ref("needs"),
    }
    return _closed({**properties, "source": _ANY_TEXT}, "id", "label", "says")


def _caution() -> _Schema:
    return _closed({"id": _ID, "says": _TEXT, "source": _ANY_TEXT}, "id", "says")


def _area() -> _Schema:
    return _closed({"id": _ID, "label": _TEXT}, "id", "label")


def _price() -> _Schema:
    typical = {"type": "number", "minimum": 0}
    properties = {"id": _ID, "label": _TEXT, "low": _AMOUNT, "typical": typical, "high": _AMOUNT, "source": _ANY_TEXT}
    return _closed(properties, "id", "label", "typical")


_RECORDS = {
    "states": _state,
    "findings": _finding,
    "codes": _code,
    "backgrounds": _background,
    "checks": _check,
    "jobs": _job,
    "access": _access,
    "follow_ups": _follow_up,
    "cautions": _caution,
    "areas": _area,
    "prices": _price,
}


def _shop() -> _Schema:
    properties = {
        "name": _TEXT, "address": _ANY_TEXT, "logo": _ANY_TEXT, "currency": _TEXT, "locale": _ANY_TEXT,
        "labour_per_hour": {"type": "number", "minimum": 0}, "tools": _TEXTS, "road_test_minutes": _AMOUNT,
        "comeback_cost": _AMOUNT, "quote_days": {"type": ["integer", "null"], "minimum": 0}, "source": _ANY_TEXT,
    }  # fmt: skip
    return {
        "anyOf": [
            _closed(properties, "name", "currency", "labour_per_hour"),
            _closed({"shop": {"type": "object"}}, "shop"),
        ]
    }


def _words() -> _Schema:
    share, number = {"type": "number", "minimum": 0, "maximum": 1}, {"type": "number"}
    spread = {"weight": {"type": "number", "minimum": 1}, "source": _TEXT}
    return _closed(
        {
            "strengths": _mapping(_closed({"mean": share, **spread}, "mean", "weight", "source")),
            "how_common": _mapping(_closed({"per_thousand": number, **spread}, "per_thousand", "weight", "source")),
            "wear": _mapping(_closed({"slope": number, "source": _TEXT}, "slope", "source")),
            "doubts": _mapping(_closed({"p_right": share, "source": _TEXT}, "p_right", "source")),
            "reference_km": number, "complaint_total": number, "nothing_found": share, "source": _ANY_TEXT,
        },
        "strengths", "how_common", "wear", "doubts", "reference_km", "complaint_total", "nothing_found",
    )  # fmt: skip


def _textbook() -> _Schema:
    doubted = _closed({"is": _ANSWER, "doubt": _TEXT}, "is", "doubt")
    answers = _mapping({"anyOf": [_ANSWER, doubted]})
    return _closed(
        {
            "id": _ID, "cause": _TEXT, "says": _TEXT, "unit": _TEXT, "odometer_km": _AMOUNT, "background": answers,
            "findings": answers, "complaint": _TEXTS, "source": _TEXT,
        },
        "id", "cause", "says", "unit", "source",
    )  # fmt: skip
