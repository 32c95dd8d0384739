"""Results as JSON with the fields of the contract, and the JSON Schemas (2020-12) that they fit.

Fields may be added to results in later versions, so their schemas require what the contract promises and allow more.
"""

import json
from collections.abc import Sequence
from dataclasses import fields, is_dataclass
from typing import TYPE_CHECKING, Any

from shiftlore.basics.structs import Value

if TYPE_CHECKING:
    from shiftlore.gearing import UnitDescription

NAMES = ("case", "knowledge", "unit", "rank", "next", "options", "explain", "simulate", "validate", "repairs", "casebook",
         "fleet", "trace")  # fmt: skip
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
    sign = (("finding label here", TEXT), ("there", or_null(TEXT)), ("decibans", NUMBER))
    alike = list_of_objects(
        ("id presented cause area", TEXT),
        ("source", enum_of("shop published")),
        ("causes", TEXTS),
        ("likeness", PROBABILITY),
        ("factor_decibans", NUMBER),
        ("shared", reasons),
        ("apart", list_of_objects(*sign)),
    )
    return result_of(
        "Shiftlore rank",
        ("unit", TEXT),
        ("areas", list_of_objects(("area label", TEXT), ("probability", PROBABILITY))),
        ("causes", causes),
        ("nothing_found", PROBABILITY),
        ("fit", object_of(("log10_odds", NUMBER), ("note", TEXT), ("left_out", PROBABILITY))),
        ("together", list_of_objects(("causes labels", TEXTS), ("probability", PROBABILITY))),
        ("alike", alike),
        optional=(
            ("seconds", AMOUNT),
            ("unused measured", TEXTS),
            ("danger", TEXT),
            ("audit", audit),
            ("closed", object_of(("job label", TEXT))),
        ),
    )


def fleet_schema() -> Schema:
    """Give the JSON Schema of one row that `fleet` writes; of Parquet too, where an id is a text."""
    problem = object_of(("code what write_instead", TEXT), ("severity", enum_of("error warning")))
    row = object_of(
        ("row", {"type": "integer", "minimum": 1}),
        ("unit", TEXT),
        ("areas", list_of_objects(("area", TEXT), ("probability", PROBABILITY))),
        ("causes", list_of_objects(("id area", TEXT), ("probability", PROBABILITY))),
        ("nothing_found", PROBABILITY),
        ("fit", object_of(("log10_odds", NUMBER), ("left_out", PROBABILITY))),
        ("problems", list_of(problem)),
        optional=(("id", {"type": ["string", "integer"]}), ("closed", TEXT)),
    )
    return {"$schema": DIALECT, "title": "Shiftlore fleet, one row", **row}


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
    stop = object_of(("advised", YES_NO), ("why danger", TEXT))
    steps = ("steps", list_of_objects(*step))
    totals = ("expected_total_now", AMOUNT)
    time = ("seconds", AMOUNT)
    asked = list_of_objects(("id ask", TEXT), ("answers", {"type": "object", "additionalProperties": TEXT}))
    first = (("others_work", TEXTS), ("warranty", YES_NO), ("asked_first", asked))
    return result_of(
        "Shiftlore next", ("currency", TEXT), steps, totals, ("stop", stop), *first, *PRICE_BASIS, optional=(time,)
    )


def options_schema() -> Schema:
    """Give the JSON Schema of `options`."""
    cost, named = ("cost", COST), ("label", TEXT)
    areas = list_of_objects(("area label", TEXT), ("probability", PROBABILITY))
    after = object_of(
        ("jobs already_paid", TEXTS), named, cost, ("saved_together", AMOUNT), ("left", areas), ("p_cured", PROBABILITY)
    )
    option = (
        ("id label says not_covered if_nothing_done tried", TEXT),
        ("kind", enum_of("nothing check service job bundle overhaul exchange")),
        ("jobs job_kinds checks check_ways cautions", TEXTS),
        ("cost first_cost", COST),
        ("p_cured p_cured_low p_cured_high", PROBABILITY),
        ("expected_total paid_in_the_end days waiting", AMOUNT),
        ("cured_in_the_end", PROBABILITY),
        ("on_frontier within_budget repair_within_budget advised asked", YES_NO),
        ("follow_ups", list_of_objects(("id label says", TEXT), ("who", enum_of("shop equipped_shop")))),
        ("if_not_cured", or_null(after)),
    )
    risks = list_of_objects(
        ("severity", enum_of("unsafe lost strands gets_worse with_care nuisance")),
        ("p", PROBABILITY),
        ("cause area says", TEXT),
        ("within_km", {"type": ["integer", "null"]}),
        ("is_now", YES_NO),
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
    danger = object_of(("p", PROBABILITY), ("area says", TEXT), ("stopped", YES_NO))
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
        ("for_budget weigh_worth", YES_NO),
        ("others_work", TEXTS),
        ("warranty", YES_NO),
        *PRICE_BASIS,
        optional=(
            ("budget", budget),
            ("odometer_km seconds", AMOUNT),
            ("complaint", list_of_objects(("id label", TEXT))),
            ("left_out stopgap", left_out),
            ("danger", danger),
            ("do_now", list_of_objects(("id says", TEXT))),
        ),
    )


def explain_schema() -> Schema:
    """Give the JSON Schema of `explain`."""
    told = list_of_objects(
        ("id label says word", TEXT),
        ("p usual share", or_null(PROBABILITY)),
        ("published", or_null(COUNT)),
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
        ("dearer dearer_low dearer_high", NUMBER),
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


def trace_schema() -> Schema:
    """Give the JSON Schema of `trace`."""
    maybe = or_null(NUMBER)
    finding = object_of(
        ("is label says unit measure", TEXT),
        ("doubt", or_null(TEXT)),
        ("measured low high", NUMBER),
        ("samples at_times", COUNT),
        ("rows", list_of(COUNT)),
        ("at_s", list_of(NUMBER)),
        ("warmth_c throttle_percent hertz", maybe),
    )
    gear = object_of(("ratio_nominal", NUMBER), ("ratio_median slip_percent", maybe), ("samples", COUNT))
    column = (("channel header unit", TEXT), ("by", enum_of("map name range relation")), ("place", COUNT))
    shift = (("gears", TEXT), ("at_s", NUMBER), ("came", YES_NO), ("seconds flare_rpm", maybe))
    likeness = list_of_objects(("unit", TEXT), ("found gears", COUNT), ("share", PROBABILITY))
    return result_of(
        "Shiftlore trace",
        ("unit", TEXT),
        ("unit_found", YES_NO),
        ("looks_like", likeness),
        ("findings", map_of(finding)),
        ("rows_read", COUNT),
        ("rows_refused", list_of_objects(("row last_row", COUNT), ("why channel", TEXT))),
        ("gears", map_of(gear)),
        ("columns", list_of_objects(*column)),
        ("columns_left notes", TEXTS),
        ("gear_changes", list_of_objects(*shift)),
        ("not_told", map_of(TEXTS)),
        ("seconds_driven rows_a_second", AMOUNT),
        optional=(("added", object_of(("findings", TEXTS), ("kept refused", map_of(TEXT)))),),
    )


def repairs_schema() -> Schema:
    """Give the JSON Schema of `validate --repairs`."""
    shares = {"type": "array", "items": PROBABILITY}
    names = "id area first cause first_cause finding label"
    return result_of(
        "Shiftlore validate --repairs",
        ("groups", map_of(object_of(("count", COUNT), ("within", shares)))),
        ("log_loss", AMOUNT),
        ("bands", list_of_objects(("low high mean right", PROBABILITY), ("count", COUNT))),
        ("misses", list_of_objects((names, TEXT), ("place", COUNT), ("decibans", NUMBER))),
        ("refused", list_of(TEXTS)),
    )


def casebook_schema() -> Schema:
    """Give the JSON Schema of what `casebook list`, `show` and `counts` print."""
    numbers = "minutes spent comeback_km odometer_km"
    number = {"type": ["number", "null"], "minimum": 0}
    former = object_of(("closed_on confirmed outcome", TEXT), ("causes corrections", TEXTS))
    entry = (
        ("id closed_on unit area outcome confirmed currency person told program", TEXT),
        ("case", {"type": "object"}),
        ("causes templates cause_labels corrections job_labels", TEXTS),
        (numbers, number),
        ("signs", map_of(TEXT)),
        ("areas beliefs alone", map_of(PROBABILITY)),
        ("history", list_of(former)),
    )
    tally = object_of(("here forgotten", COUNT))
    counts = object_of(("cases", tally), ("areas units causes outcomes", map_of(tally)))
    return result_of("Shiftlore casebook", optional=(("entries", list_of_objects(*entry)), ("counts", counts)))


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


FORMAT_VERSION = 1
RENAMED = {"speaks_for": "for", "speaks_against": "against", "is_grade": "is"}
"""Field names that Python keeps for itself."""
TIME = "seconds"
UNIT_FIELDS = ("label", "gears", "lost", "stuck", "missing", "warnings", "solved", "measured", "failsafe_gear")


def to_plain(value: Any) -> Any:
    """Turn frozen records into plain objects and lists; numpy numbers become Python's.

    Example:
        >>> to_plain((1, {"a": 2.5}))
        [1, {'a': 2.5}]
    """
    names = None
    if isinstance(value, Value):
        names = value.__struct_fields__
    elif is_dataclass(value) and not isinstance(value, type):
        names = tuple(item.name for item in fields(value) if item.repr)
    if names is not None:
        return {RENAMED.get(name, name): to_plain(getattr(value, name)) for name in names}
    if isinstance(value, dict) or hasattr(value, "items"):
        return {str(key): to_plain(item) for key, item in value.items()}
    if isinstance(value, (list, tuple, set, frozenset)):
        return [to_plain(item) for item in value]
    return value.item() if hasattr(value, "item") else value


def render_json(value: Any, timing: bool = False) -> str:
    """Write a result as JSON text; fields that are None at the top level are left out.

    Args:
        timing: also write how long it took; without it equal results give equal bytes.
    """
    fields_of = {key: item for key, item in to_plain(value).items() if item is not None and (timing or key != TIME)}
    top = {"shiftlore": FORMAT_VERSION, **fields_of}
    return json.dumps(top, ensure_ascii=False, indent=2, allow_nan=False)


def unit_to_json(description: "UnitDescription") -> dict[str, Any]:
    """Give the fields of the `unit` command's JSON output as plain values."""
    plain = {name: to_plain(getattr(description, name)) for name in UNIT_FIELDS}
    return {"shiftlore": FORMAT_VERSION, "unit": description.id, **plain}
