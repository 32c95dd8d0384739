"""The JSON Schemas (2020-12) of what the commands print with `--format json`, and of the files that people write.

Fields may be added to results in later versions, so their schemas require what the contract promises and allow more.
The schemas of files are for editors and other programs: ids and sums are checked by `read_case` and `shiftlore validate`
alone. What stands under the keys of a record is taken from the forms by which records are read.
"""

from collections.abc import Sequence
from typing import Any

from shiftlore.basics.quantities import QUANTITIES
from shiftlore.cases import (
    CONFIRMED_BY,
    FORMAT_VERSION,
    HIGHEST_BUDGET,
    HIGHEST_ODOMETER_KM,
    LAYOUTS,
    LONGEST_DAYS,
    MOST_SPEEDS,
    ONSETS,
    RESULTS,
)
from shiftlore.knowledge import FILES, FOLDERS, FORMS, SEVERITIES, SHOP, Form, Key
from shiftlore.knowledge.language import LISTS, SIGNS, WEIGHTS
from shiftlore.reading import CODE_FORM, REQUIRED

DIALECT = "https://json-schema.org/draft/2020-12/schema"
Schema = dict[str, Any]
Group = tuple[str, Schema]
"""Names of fields, parted by blanks, and the schema that each of them has."""

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


def object_of(*needed: Group, optional: Sequence[Group] = ()) -> Schema:
    """Give the schema of an object: all fields `needed`, those of `optional` allowed."""
    required = {name: schema for names, schema in needed for name in names.split()}
    allowed = {name: schema for names, schema in optional for name in names.split()}
    return {"type": "object", "required": list(required), "properties": {**required, **allowed}}


def list_of_objects(*needed: Group) -> Schema:
    """Give the schema of a list of objects."""
    return list_of(object_of(*needed))


def map_of(value: Schema) -> Schema:
    """Give the schema of an object whose keys are ids."""
    return {"type": "object", "additionalProperties": value}


def or_null(schema: Schema) -> Schema:
    """Give the schema of what may also be null."""
    return {"anyOf": [NULL, schema]}


def enum_of(words: str) -> Schema:
    """Give the schema of one of some words, parted by blanks."""
    return {"enum": words.split()}


def result_of(title: str, *needed: Group, optional: Sequence[Group] = ()) -> Schema:
    """Give the schema of a whole result: `shiftlore: 1` and its fields."""
    body = object_of(("shiftlore", {"const": 1}), *needed, optional=optional)
    return {"$schema": DIALECT, "title": title, **body}


def rank_schema() -> Schema:
    """Give the JSON Schema of `rank`."""
    reasons = list_of_objects(("finding label", TEXT), ("decibans", NUMBER))
    causes = list_of_objects(("id label area", TEXT), ("probability low high", PROBABILITY), ("for against", reasons))
    audit = object_of(("engine", TEXT), ("max_abs_difference", AMOUNT), ("causes", COUNT), ("seconds", AMOUNT))
    return result_of(
        "Shiftlore rank",
        ("unit", TEXT),
        ("areas", list_of_objects(("area label", TEXT), ("probability", PROBABILITY))),
        ("causes", causes),
        ("nothing_found", PROBABILITY),
        ("fit", object_of(("log10_odds", NUMBER), ("note", TEXT), ("left_out", PROBABILITY))),
        ("together", list_of_objects(("causes labels", TEXTS), ("probability", PROBABILITY))),
        ("alike", list_of_objects(("id presented cause area", TEXT), ("likeness", PROBABILITY))),
        optional=(
            ("seconds", AMOUNT),
            ("unused measured", TEXTS),
            ("audit", audit),
            ("closed", object_of(("job label", TEXT))),
        ),
    )


PRICE_BASIS: Sequence[Group] = (("invented", TEXTS), ("tax_percent", AMOUNT))
"""What of the prices is an example only, and the tax in them."""
_LINES = list_of_objects(("what", TEXT), ("low typical high", AMOUNT))
COST = object_of(("low typical high labour_minutes", AMOUNT), ("lines", _LINES))


def next_schema() -> Schema:
    """Give the JSON Schema of `next`."""
    step = (
        ("id", TEXT),
        ("kind", enum_of("check job")),
        ("label", TEXT),
        ("cost", object_of(("total labour_minutes labour parts_low parts_typical parts_high access", AMOUNT))),
        ("expected_total_after", AMOUNT),
        ("expected_saving", NUMBER),
        ("reveals", TEXTS),
        ("cures", list_of_objects(("cause", TEXT), ("probability", PROBABILITY))),
        ("access_needed", TEXT),
        ("cautions", TEXTS),
        ("why", TEXT),
    )
    stop = object_of(("advised", YES_NO), ("why", TEXT))
    steps = ("steps", list_of_objects(*step))
    totals = ("expected_total_now", AMOUNT)
    time = ("seconds", AMOUNT)
    return result_of(
        "Shiftlore next", ("currency", TEXT), steps, totals, ("stop", stop), *PRICE_BASIS, optional=(time,)
    )


def options_schema() -> Schema:
    """Give the JSON Schema of `options`."""
    cost, named = ("cost", COST), ("label", TEXT)
    areas = list_of_objects(("area label", TEXT), ("probability", PROBABILITY))
    after = object_of(("jobs already_paid", TEXTS), named, cost, ("saved_together", AMOUNT), ("left", areas))
    option = (
        ("id label says not_covered if_nothing_done", TEXT),
        ("kind", enum_of("nothing check service job bundle overhaul exchange")),
        ("jobs job_kinds checks check_ways cautions", TEXTS),
        ("cost first_cost", COST),
        ("p_cured p_cured_low p_cured_high", PROBABILITY),
        ("expected_total days", AMOUNT),
        ("on_frontier within_budget advised asked", YES_NO),
        ("follow_ups", list_of_objects(("id label says", TEXT), ("who", enum_of("shop equipped_shop")))),
        ("if_not_cured", or_null(after)),
    )
    risks = list_of_objects(
        ("severity", enum_of("unsafe strands gets_worse nuisance")),
        ("p", PROBABILITY),
        ("cause area says", TEXT),
        ("within_km", {"type": ["integer", "null"]}),
    )
    budget = object_of(
        ("amount", AMOUNT), ("option label says cheaper", TEXT), ("p_cured", PROBABILITY), ("buys_little", YES_NO)
    )
    change = object_of(("id label", TEXT), ("ways", TEXTS), ("p_changes", PROBABILITY), cost)
    missing = list_of_objects(("id label", TEXT), ("why", enum_of("no_tool not_known no_weight")), ("tools", TEXTS))
    sureness = object_of(
        ("p_same_area p_same_advice", PROBABILITY),
        ("word", enum_of("firm fair open")),
        ("would_change", or_null(change)),
        ("not_checked", missing),
        ("says", TEXT),
    )
    left_out = object_of(("jobs", TEXTS), named, cost, ("p_cured", PROBABILITY), ("beaten", YES_NO))
    return result_of(
        "Shiftlore options",
        ("currency unit advised", TEXT),
        ("options", list_of_objects(*option)),
        ("areas zones", areas),
        ("nothing_found", PROBABILITY),
        ("driving_on", risks),
        ("sureness", sureness),
        ("uncured_cost", AMOUNT),
        *PRICE_BASIS,
        optional=(
            ("budget", budget),
            ("odometer_km seconds", AMOUNT),
            ("complaint", list_of_objects(("id label", TEXT))),
            ("left_out", left_out),
        ),
    )


def explain_schema() -> Schema:
    """Give the JSON Schema of `explain`."""
    told = list_of_objects(
        ("id label says word", TEXT),
        ("p usual share", or_null(PROBABILITY)),
        ("details", TEXTS),
        ("cost", or_null(COST)),
    )
    return result_of(
        "Shiftlore explain",
        ("kind", enum_of("cause finding check job")),
        ("id code label unit says currency", TEXT),
        ("facts", map_of(TEXT)),
        ("sections", map_of(told)),
        ("rules", list_of_objects(("place says source", TEXT))),
        ("instances", TEXTS),
        ("also", {"type": "array", "items": TEXTS}),
        *PRICE_BASIS,
        optional=(("cost", COST),),
    )


def simulate_schema() -> Schema:
    """Give the JSON Schema of `simulate`."""
    policies = list_of_objects(
        ("policy", TEXT),
        ("mean_total", AMOUNT),
        ("low high", NUMBER),
        ("share_cured", PROBABILITY),
        ("mean_checks mean_labour_minutes", AMOUNT),
    )
    return result_of("Shiftlore simulate", ("policies", policies), *PRICE_BASIS)


def validate_schema() -> Schema:
    """Give the JSON Schema of `validate`; counts and textbook results are there for a clean knowledge folder."""
    severity = ("severity", enum_of("error warning"))
    problem = (("file", TEXT), ("line column", COUNT), ("code", TEXT), severity, ("what write_instead", TEXT))
    kinds = "causes_written states_written findings_written checks jobs backgrounds units"
    result = (("id cause", TEXT), ("place", COUNT), ("probability", PROBABILITY), ("first", TEXT))
    reviewed = (
        ("counts", object_of((kinds, COUNT))),
        ("units", map_of(object_of(("causes states findings ratios_computed", COUNT)))),
        ("textbook", object_of(("cases first top_three", COUNT))),
        ("results", list_of_objects(*result)),
        ("alike", list_of(TEXTS)),
    )
    return result_of("Shiftlore validate", ("problems", list_of_objects(*problem)), optional=reviewed)


def unit_schema() -> Schema:
    """Give the JSON Schema of `unit`."""
    number, maybe, text = ({"type": [kind, "null"]} for kind in ("number", "boolean", "string"))
    state = enum_of("driven neutral tied_up unknown")
    numbers = map_of(NUMBER)
    gear = object_of(
        ("kind", enum_of("forward reverse neutral held")),
        ("ratio_stated ratio_computed error_percent", number),
        ("elements coast", TEXTS),
        ("torque speeds pinions", numbers),
        ("state", state),
        ("brakes_engine", maybe),
        ("lockup", YES_NO),
    )
    outcome = (
        ("had", text),
        ("state", state),
        ("ratio", number),
        ("feels", TEXT),
        ("changed", YES_NO),
        ("brakes_engine", maybe),
    )
    measured = object_of(
        ("ratio", NUMBER),
        ("between", {"type": "array", "items": text, "minItems": 2, "maxItems": 2}),
        ("says", TEXT),
        ("gears", list_of_objects(("gear", TEXT), ("ratio off_percent", NUMBER))),
        ("faults", list_of_objects(("fault commanded", TEXT), ("ratio off_percent", NUMBER))),
        ("slips", list_of_objects(("commanded", TEXT), ("ratio slip_percent", NUMBER), ("elements", TEXTS))),
    )
    return result_of(
        "Unit",
        ("unit label", TEXT),
        ("gears", map_of(gear)),
        ("lost stuck", map_of(map_of(object_of(*outcome)))),
        ("missing warnings", TEXTS),
        ("solved", or_null(object_of(("ratios", numbers), ("solved_from", TEXTS), ("proved_on", numbers)))),
        ("measured", or_null(measured)),
        ("failsafe_gear", text),
    )


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


def case_schema() -> Schema:
    """Give the JSON Schema of a case."""
    answer = {"type": ["string", "boolean", "null"], "minLength": 1}
    said = {"is": {**_ANSWER, "minLength": 1}, "doubt": _ANY_TEXT}
    told = {"oneOf": [answer, _closed({**said, "when": _IDS}, "is")]}
    answers = {**_mapping(told), "propertyNames": _FINDING_NAMES}
    distance = {**_AMOUNT, "maximum": HIGHEST_ODOMETER_KM}
    back = {"after_km": distance, "after_days": {**_AMOUNT, "maximum": LONGEST_DAYS}}
    done = _closed({"job": _ID, "result": {"enum": [*RESULTS, None]}, **back, "found_after": answers}, "job")
    onset = {"after": _IDS, "how": {"enum": [*ONSETS, None]}, "odometer_km": distance}
    units = [unit for quantity in QUANTITIES.values() for unit in quantity.units]
    member = {"oneOf": [{"type": "string"}, {**answers, "type": "object", "minProperties": 1, "maxProperties": 1}]}
    groups = {"type": "array", "items": member, "minItems": 2}
    properties = {
        "shiftlore": {"const": FORMAT_VERSION, "description": "format version"},
        "unit": {
            **_TEXT,
            "description": "id of a unit sheet, step, step-rwd, step-fwd, cvt or dct, or path of an own sheet",
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
        "outcome": _maybe({"causes": _IDS, "confirmed": {"enum": [*CONFIRMED_BY, None]}}),
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
                },
                "share",
            )
        ),
        "answers": _mapping({"anyOf": [_ANSWER, doubted]}),
        "driven_on": _closed(driven_on, "severity", "says"),
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
            "id": _ID, "source": _TEXT, "stemmer": _TEXT, "forms": texts, "ordinals": texts, "levers": texts, "parts": texts,
            "lists": _closed(dict.fromkeys(LISTS, _TEXTS)), "alike": free_texts, "fills": free_texts,
            "breaks": _mapping(PROBABILITY),
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
    words = {name: _mapping(_closed(entry, *entry)) for name, entry in entries.items()}
    return _closed({**words, **totals, "source": _ANY_TEXT}, *words, *totals)
