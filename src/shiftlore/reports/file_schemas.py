"""The JSON Schemas (2020-12) of the files that people write, for editors and other programs.

Ids and sums are checked by `read_case` and `shiftlore validate` alone. What stands under the keys of a record is taken from
the forms by which records are read.
"""

from collections.abc import Callable
from typing import Any

import shiftlore.reports.schemas as schemas
from shiftlore.basics import UnknownId
from shiftlore.basics.quantities import QUANTITIES
from shiftlore.cases import (
    CONFIRMED_BY,
    FORMAT_VERSION,
    HIGHEST_BUDGET,
    HIGHEST_ODOMETER_KM,
    LAYOUTS,
    LONGEST_DAYS,
    LONGEST_WORK_MINUTES,
    MOST_SPEEDS,
    ONSETS,
    RESULTS,
)
from shiftlore.cases.outcomes import ID_FORM
from shiftlore.knowledge import FILES, FOLDERS, FORMS, SEVERITIES, SHOP, Form, Key
from shiftlore.knowledge.forms import LOG_MEASURES
from shiftlore.knowledge.language import COLUMNS, LISTS, SIGNS, TURNS, WEIGHTS
from shiftlore.reading import CODE_FORM, REQUIRED
from shiftlore.reports.schemas import COUNT, DIALECT, NULL, NUMBER, PROBABILITY, Schema, object_of

_ID: Schema = {"type": "string", "pattern": "^[a-z][a-z0-9]*(_[a-z0-9]+)*$"}
_IDS: Schema = {"type": ["array", "null"], "items": _ID, "uniqueItems": True}
_CODE: Schema = {"type": "string", "pattern": f"^{CODE_FORM.pattern}$"}
_FINDING_NAMES: Schema = {"pattern": "^([a-z][a-z0-9]*(_[a-z0-9]+)*|[PBCUpbcu][0-3][0-9A-Fa-f]{3})$"}
_TEXT: Schema = {"type": "string", "minLength": 1}
_ANY_TEXT: Schema = {"type": ["string", "null"]}
_MAYBE: Schema = {"type": ["boolean", "null"]}
_TEXTS: Schema = {"type": ["array", "null"], "items": _TEXT, "uniqueItems": True}
_ANSWER: Schema = {"type": ["string", "boolean"]}
_AMOUNT: Schema = {"type": ["number", "null"], "minimum": 0}

_OUTCOME: Schema = {
    "causes": _IDS,
    "confirmed": {"enum": [*CONFIRMED_BY, None]},
    "jobs": _IDS,
    "result": {"enum": [*RESULTS, None]},
    "minutes": {**_AMOUNT, "maximum": LONGEST_WORK_MINUTES},
    "spent": {**_AMOUNT, "maximum": HIGHEST_BUDGET},
    "after_km": {**_AMOUNT, "maximum": HIGHEST_ODOMETER_KM},
    "closed_on": {"type": ["string", "null"], "pattern": "^\\d{4}-\\d\\d-\\d\\d$"},
    "id": {"type": ["string", "null"], "pattern": f"^{ID_FORM.pattern}$"},
}


def find_schema(name: str) -> Schema:
    """Give the JSON Schema of a file or a result.

    Args:
        name: one of `schemas.NAMES`.
    Raises: UnknownId: nothing is called so.
    """
    if name not in schemas.NAMES:
        raise UnknownId(f'There is no schema "{name}". Write one of: {", ".join(schemas.NAMES)}.')
    made: Callable[[], Schema] = globals().get(f"{name}_schema") or getattr(schemas, f"{name}_schema")
    return made()


def case_schema() -> Schema:
    """Give the JSON Schema of a case."""
    answer = {"type": ["string", "boolean", "null"], "minLength": 1}
    said = {"is": {**_ANSWER, "minLength": 1}, "doubt": _ANY_TEXT}
    told = {"oneOf": [answer, _closed({**said, "when": _IDS}, "is")]}
    of_several = {**_mapping({"oneOf": [answer, _closed(said, "is")]}), "propertyNames": _FINDING_NAMES}
    answers = {**_mapping(told), "propertyNames": _FINDING_NAMES}
    distance = {**_AMOUNT, "maximum": HIGHEST_ODOMETER_KM}
    back = {"after_km": distance, "after_days": {**_AMOUNT, "maximum": LONGEST_DAYS}}
    done = _closed({"job": _ID, "result": {"enum": [*RESULTS, None]}, **back, "found_after": answers}, "job")
    onset = {"after": _IDS, "how": {"enum": [*ONSETS, None]}, "odometer_km": distance}
    units = [unit for quantity in QUANTITIES.values() for unit in quantity.units]
    member = {"oneOf": [{"type": "string"}, {**of_several, "type": "object", "minProperties": 1, "maxProperties": 1}]}
    groups = {"type": "array", "items": member, "minItems": 2}
    properties = {
        "shiftlore": {"const": FORMAT_VERSION, "description": "format version"},
        "unit": {
            **_TEXT,
            "description": "id of a unit sheet, step, step-rwd, step-fwd, cvt, dct or dct-dry, or path of an own sheet",
        },
        "speeds": {"type": ["integer", "null"], "minimum": 1, "maximum": MOST_SPEEDS, "description": "forward gears"},
        "layout": {"enum": [*LAYOUTS, None], "description": "driven wheels"},
        "odometer_km": {"oneOf": [distance, _closed({"at_least": {**distance, "type": "number"}}, "at_least")]},
        "background": {**_mapping({"oneOf": [answer, _closed(said, "is")]}), "propertyNames": _ID},
        "onset": {**_maybe(onset), "description": "after what, how soon and at which distance it began"},
        "complaint": {**_IDS, "description": "findings that the owner came with"},
        "findings": {**answers, "description": "finding or trouble code: yes, no, a grade, or an answer with doubt"},
        "either": {"type": ["array", "null"], "items": groups, "description": "one of each list was said, not which"},
        "measured": {
            **_mapping(_closed({"value": NUMBER, "unit": {"enum": units}}, "value")),
            "description": "a number with its unit",
        },
        "done": {
            "type": ["array", "null"],
            "items": {"oneOf": [_ID, done]},
            "uniqueItems": True,
            "description": "checks and jobs done, in order; a job with what came of it",
        },
        "outcome": {**_maybe(_OUTCOME), "description": "what it was, and what came of it"},
        "access": {**_ID, "type": ["string", "null"], "description": "state of disassembly now"},
        "budget": {**_AMOUNT, "maximum": HIGHEST_BUDGET},
        "asked": {**_IDS, "description": "what the interview has asked, in order"},
        "said": {"type": ["array", "null"], "items": {"type": "string"}, "description": "in the speaker's own words"},
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
        "sayings": _closed({"source": _TEXT, "says": _mapping(_mapping(_TEXTS))}, "source", "says"),
        "retired": object_of(("id", _ID), optional=[("replaced_by", {"anyOf": [_ID, NULL]})]),
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


def _maybe(properties: Schema) -> Schema:
    """Make a mapping that takes no other keys, or nothing."""
    return {"anyOf": [_closed(properties), NULL]}


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
    needed = [key for key in form.keys if key.name in required or (key.default is REQUIRED and key.holds != "source")]
    return _closed({key.name: _value_of(key) for key in form.keys}, *(key.name for key in needed))


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
    number, side = {"type": ["number", "null"]}, {"type": ["string", "boolean", "null"]}
    gauge = {
        "kind": {"enum": list(QUANTITIES)},
        "as": _ANY_TEXT,
        "from": number,
        "to": number,
        "below": side,
        "above": side,
    }
    gauge |= {"other_gear": side, "further": _mapping(NUMBER), "wide": _MAYBE, "relative": _MAYBE}
    traced = {"by": {"enum": list(LOG_MEASURES)}, "as": _ANY_TEXT, "from": number, "to": number, "is": _ANSWER}
    traced |= {"silent": _MAYBE, "fewest": {"type": "integer", "minimum": 1}, "source": _TEXT}
    guess = {"is": _mapping(PROBABILITY), "told": _mapping(_ANSWER), "speeds_from": COUNT, "speeds_to": COUNT}
    stand = {"answer": _ANSWER, "groups": _TEXTS, "findings": _TEXTS, "answered": _ANSWER}
    return {
        "id": _ID,
        "code": _CODE,
        **dict.fromkeys(("access", "parent", "remark"), _ANY_TEXT),
        **dict.fromkeys(("source", "wear"), _TEXT),
        **dict.fromkeys(("texts", "ids", "grades"), _TEXTS),
        "yes_no": _MAYBE,
        "grade_labels": _mapping(_TEXT),
        "unexplained": {"anyOf": [_ref("strengths"), NULL]},
        "misreading": _ref("strength"),
        "cures": _mapping(_ref("strength")),
        "shares": _mapping(
            _closed(
                {
                    "share": PROBABILITY,
                    "label": _ANY_TEXT,
                    "recent": _MAYBE,
                    "began_km": _AMOUNT,
                    "at_least_km": _AMOUNT,
                    "warranty_km": _AMOUNT,
                },
                "share",
            )
        ),
        "answers": _mapping({"anyOf": [_ANSWER, doubted]}),
        "fits": _mapping(_ANSWER),
        "guessed": {"type": ["array", "null"], "items": _closed(guess, "is")},
        "driven_on": _closed(driven_on, "severity", "says"),
        "traced": {"type": ["array", "null"], "items": _closed(traced, "by", "source")},
        "gauges": {"type": ["array", "null"], "items": _closed(gauge, "kind")},
        "looks_like": _mapping({"anyOf": [_TEXT, look_alike]}),
        "stands_for": {"type": ["array", "null"], "items": _closed(stand, "answer", "answered")},
        **{name: _ref(name) for name in ("how_common", "leads_to", "needs", "raised_by")},
    }


def _shared() -> Schema:
    """Give the parts that several records use."""
    counts = {"hits": COUNT, "of": {"type": "integer", "minimum": 1}}
    counted = _closed({"counted": _closed(counts, "hits", "of")}, "counted")
    strength = {"anyOf": [_TEXT, counted]}
    grades = {"anyOf": [strength, _mapping(strength)]}
    strengths = {"strength": _ref("strength"), "grades": _ref("strengths")}
    long_line = _closed({**strengths, "where": _TEXT, "when": _TEXT, "by_torque": _MAYBE})
    lines = {"anyOf": [_ref("strengths"), long_line, {"type": "array", "minItems": 1, "items": _ref("line")}]}
    return {
        "strength": strength,
        "strengths": grades,
        "line": {"anyOf": [_ref("strengths"), long_line]},
        "leads_to": _mapping(lines),
        "how_common": {"anyOf": [_TEXT, counted, _closed({"per_thousand": NUMBER}, "per_thousand")]},
        "raised_by": _mapping({"type": "object", "additionalProperties": {"type": "number", "exclusiveMinimum": 0}}),
        "needs": {"type": ["array", "null"], "items": _closed({"price": _TEXT, "count": NUMBER}, "price")},
    }


def _language() -> Schema:
    texts, free_texts = _mapping(_TEXT), {"type": ["object", "null"], "additionalProperties": _TEXTS}
    sign = _closed({"as": {"enum": list(SIGNS)}, "find": _TEXT}, "as", "find")
    amount = _closed({"units": _mapping(NUMBER), "bounds": {"type": "array", "items": NUMBER}}, "units")
    weight = {"value": NUMBER, "says": _TEXT, "source": _TEXT}
    return _closed(
        {
            "id": _ID, "source": _TEXT, "stemmer": _TEXT, "forms": texts, "ordinals": texts,
            "numbers": texts, "levers": texts, "parts": texts,
            "lists": _closed(dict.fromkeys(LISTS, _TEXTS)),
            "turns": _closed(dict.fromkeys(TURNS, _TEXTS)), "alike": free_texts, "fills": free_texts, "moments": free_texts,
            "rows": free_texts,
            "breaks": _mapping(PROBABILITY), "columns": _closed(dict.fromkeys(COLUMNS, _TEXTS)),
            "amounts": _mapping(amount), "signs": {"type": ["array", "null"], "items": sign},
            "weights": _closed(dict.fromkeys(WEIGHTS, _closed(weight, *weight))),
        },
        "id", "source",
    )  # fmt: skip


def _words() -> Schema:
    spread = {"weight": {"type": "number", "minimum": 1}, "source": _TEXT}
    entries: dict[str, dict[str, Any]] = {
        "strengths": {"mean": PROBABILITY, **spread},
        "how_common": {"per_thousand": NUMBER, **spread},
        "wear": {"slope": NUMBER, "source": _TEXT},
        "doubts": {"p_right": PROBABILITY, "source": _TEXT},
    }
    totals = {"reference_km": NUMBER, "complaint_total": NUMBER, "nothing_found": PROBABILITY}
    totals |= {"soon_lost_km": NUMBER, "stop_driving": PROBABILITY}
    words = {name: _mapping(_closed(entry, *entry)) for name, entry in entries.items()}
    free = {
        "says_itself": _mapping({"enum": list(SEVERITIES)}),
        "milder": _mapping(_TEXT),
        "soon_unsafe_km": NUMBER,
        "not_driven": PROBABILITY,
        "driven": _TEXTS,
        "moved": _TEXTS,
        "set_first": _mapping(_TEXT),
        "not_run": _mapping(_TEXT),
        "do_now": _mapping(_closed({"signs": _TEXTS, "says": _TEXT, "source": _TEXT}, "signs", "says")),
        "source": _ANY_TEXT,
    }
    return _closed({**words, **totals, **free}, *words, *totals)
