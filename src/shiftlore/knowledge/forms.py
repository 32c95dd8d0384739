"""The form of every record in YAML: its keys in the order in which they are read, and what stands under each.

One table for two readers: `readers` makes records by it, and `reports` the JSON Schema. Beside it the measures of a road-test
log that a finding may name.
"""

from collections.abc import Mapping

from shiftlore.basics.structs import Record
from shiftlore.knowledge.records import (
    HARDEST_LEVEL,
    Access,
    Area,
    Cause,
    Caution,
    Check,
    Code,
    Finding,
    FollowUp,
    Job,
    State,
    TextbookCase,
)
from shiftlore.knowledge.rulebook import Background, Price, Shop
from shiftlore.reading import REQUIRED
from shiftlore.sheets import EACH


class LogMeasure(Record, frozen=True):
    """What can be measured in a road-test log: per which kind of instance (None: once a log), and in which unit."""

    each: str | None
    unit: str


LOG_MEASURES: Mapping[str, LogMeasure] = {
    "gear_slip": LogMeasure("gear", "rpm"), "gear_refused": LogMeasure("gear", "%"), "gear_kept": LogMeasure("gear", "%"),
    "other_gear": LogMeasure(None, "%"), "one_gear": LogMeasure(None, "%"), "fallback_gear": LogMeasure(None, "%"),
    "start_gear": LogMeasure(None, "gear"), "gear_jumped": LogMeasure(None, "%"),
    "gears_hunted": LogMeasure(None, "a minute"), "upshift_flare": LogMeasure("shift", "rpm"),
    "upshift_dip": LogMeasure("shift", "% a second"), "upshift_time": LogMeasure("shift", "s"),
    "upshift_refused": LogMeasure("shift", "%"), "downshift_flare": LogMeasure("downshift", "rpm"),
    "lock_slip": LogMeasure(None, "rpm"), "lock_held": LogMeasure(None, "%"), "lock_commanded": LogMeasure(None, "%"),
    "lock_changes": LogMeasure(None, "a minute"), "unlocked_slip": LogMeasure(None, "rpm"),
    "applying_shudder": LogMeasure(None, "rpm"), "locked_shudder": LogMeasure(None, "rpm"),
    "stall_forward": LogMeasure(None, "rpm"), "stall_backward": LogMeasure(None, "rpm"),
    "engage_forward": LogMeasure(None, "s"), "engage_backward": LogMeasure(None, "s"), "hottest": LogMeasure(None, "C"),
    "temperature_jumps": LogMeasure(None, "times"), "idle_pressure": LogMeasure(None, "kPa"),
    "full_pressure": LogMeasure(None, "kPa"), "signal_drops": LogMeasure("speed_sensor", "times"),
}  # fmt: skip
"""What `tracing` measures, by name; how each is measured stands there."""
FOLLOWED_BY = ("shop", "equipped_shop")
GOT_BY = ("owner", "history", "look", "road", "scan", "measure", "open")
JOB_KINDS = (
    "service", "adjustment", "electrical", "part", "valve_body", "converter", "overhaul", "exchange", "outside", "software",
)  # fmt: skip
SEVERITIES = ("nuisance", "with_care", "gets_worse", "strands", "lost", "unsafe")
SPEAKS_OF = ("when", "one_code")
STATUSES = ("draft", "reviewed", "proven")
YES_NO = ("no", "yes")

_LONGEST_MINUTES = 6000.0
DEAREST = 1_000_000.0
_FARTHEST_KM = 3_000_000
_LAST_PLACE = 99


class Key(Record, frozen=True):
    """One key of a record.

    Args:
        name: as written in YAML.
        holds: what stands under it: the name of one of `KEY_READERS`.
        default: what a missing key means; `REQUIRED` where it must be there.
        low, high: bounds of a number, both included.
        words: the words of which one stands here.
        into: field of the record that it fills, where that is called otherwise.
    """

    name: str
    holds: str = "text"
    default: object = REQUIRED
    low: float | None = None
    high: float | None = None
    words: tuple[str, ...] = ()
    into: str = ""


class Form(Record, frozen=True):
    """One kind of record.

    Args:
        kind: what it is called in messages and in the places of an `Intake`.
        record: the class that it becomes.
        keys: in the order of reading; what one holds may depend on those before it.
        marked_by: the key whose value is the record's place, or "" for where the record begins.
    """

    kind: str
    record: type
    keys: tuple[Key, ...]
    marked_by: str = ""


SCOPE = (
    Key("each", "word", None, words=tuple(EACH)), Key("types", "ids", ()), Key("needs", "ids", ()),
    Key("not_with", "ids", ()), Key("fits", "fits", ()),
)  # fmt: skip
_ID, _LABEL, _SAYS, _ASK = Key("id", "id"), Key("label"), Key("says"), Key("ask")
_SOURCE, _REMARK = Key("source", "source"), Key("source", "remark", None)
_WORDS, _LABEL_ANY = Key("words", "texts", ()), Key("label_any", default="")
_ACT = (Key("minutes", "number", low=0, high=_LONGEST_MINUTES), Key("access", "access", None), Key("tools", "ids", ()))
_CAUTIONS, _CONSUMABLES = Key("cautions", "ids", ()), Key("consumables", "needs", ())
_RAISED_BY, _LEADS_TO = Key("raised_by", "raised_by", ()), Key("leads_to", "leads_to", ())
_UNEXPLAINED = Key("unexplained", "unexplained", ())

CAUSE = Form("cause", Cause, (
    _ID, Key("wear", "wear"), _SAYS, _LABEL, Key("area", "id_of"),
    Key("how_common", "how_common", into="per_thousand"), _LEADS_TO, _RAISED_BY, Key("looks_like", "looks_like"),
    Key("driven_on", "driven_on"), *SCOPE, Key("status", "word", words=STATUSES), _SOURCE,
    _LABEL_ANY, Key("simulated", "texts", ()),
))  # fmt: skip
STATE = Form("state", State, (
    _ID, _LABEL, Key("grades", "grades", YES_NO), _UNEXPLAINED, _RAISED_BY, _LEADS_TO, *SCOPE, _SOURCE,
))  # fmt: skip
FINDING = Form("finding", Finding, (
    _ID, Key("grades", "grades", YES_NO), _LABEL, _ASK, Key("grade_labels", "grade_labels", ()), Key("group"),
    Key("got_by", "word", words=GOT_BY), Key("together", default=None), _WORDS, _UNEXPLAINED, _RAISED_BY,
    Key("stands_for", "stands_for", ()), Key("complaint", "yes_no", False),
    Key("speaks_of", "word", None, words=SPEAKS_OF), *SCOPE, _SOURCE,
    Key("early_look", "whole", None, low=1, high=_LAST_PLACE), Key("general_of", "ids", ()),
    Key("denied_by", "ids", ()), Key("includes", "ids", ()), Key("asked_after", "ids", ()),
    Key("never_with", "ids", ()), Key("shows_with", "ids", ()), Key("not_asked_with", "ids", ()),
    _LABEL_ANY, Key("rest_of", "id_of", None), Key("none_by", default=None), Key("condition", default=None),
    Key("onset", "answers", ()), Key("measured", "gauges", ()), Key("traced", "traced", ()), Key("follows", "leads_to", ()),
    Key("reverse_is", "id_of", None), Key("asked", "yes_no", True), Key("stands_until", "ids", ()),
    Key("stands_from", default=""),
))  # fmt: skip
CODE = Form("code", Code, (
    Key("code", "code"), Key("means"), Key("finding", "id_of"), Key("instance", default=None), _REMARK,
    Key("sole_of", "ids", ()),
), marked_by="code")  # fmt: skip
BACKGROUND = Form("background", Background, (
    _ID, Key("answers", "shares", into="shares"), _LABEL, _ASK, _WORDS, _SOURCE,
    Key("opening", "whole", None, low=1, high=_LAST_PLACE), Key("replaced", "yes_no", False),
    Key("event", "yes_no", False), Key("by_jobs", "ids", ()), Key("done", "ids", ()),
    Key("units_with", "ids", ()), Key("guessed", "guessed", ()),
))  # fmt: skip
CHECK = Form("check", Check, (
    _ID, _LABEL, Key("how"), *_ACT, _CONSUMABLES, Key("reveals", "ids", ()), Key("missed", "misreading"),
    Key("false_alarm", "misreading"), Key("habit_order", "whole", 0, low=1, high=9),
    Key("visit_order", "whole", 0, low=1, high=9), _WORDS,
    Key("running", "yes_no", False), Key("days", "number", 0.0, low=0, high=60), Key("comes_back", "yes_no", False),
    Key("recorded", "yes_no", False), Key("unless", "ids", ()), Key("made_for", "ids", ()), _CAUTIONS, *SCOPE, _SOURCE,
    Key("before", "ids", ()), Key("only_so", "yes_no", False),
))  # fmt: skip
JOB = Form("job", Job, (
    _ID, _LABEL, _SAYS, Key("kind", "word", words=JOB_KINDS), *_ACT, Key("parts", "needs", ()), _CONSUMABLES,
    Key("cures", "cures", ()), Key("follow_ups", "ids", ()), _CAUTIONS, Key("not_covered", default=""),
    Key("days", "number", 0.5, low=0, high=60), Key("alone", "yes_no", False), Key("by_habit", "yes_no", False), _LABEL_ANY,
    _WORDS, *SCOPE, _SOURCE, Key("contains", "ids", ()), Key("does", "ids", ()), Key("unless", "ids", ()),
    Key("made_for", "ids", ()), Key("leaves", "answers", ()), Key("eases", "ids", ()),
))  # fmt: skip
ACCESS = Form("access", Access, (
    _ID, _LABEL, Key("parent", "parent", ""), Key("open_minutes", "number", 0.0, low=0, high=_LONGEST_MINUTES),
    Key("close_minutes", "number", 0.0, low=0, high=_LONGEST_MINUTES), _CONSUMABLES, _REMARK,
))  # fmt: skip
FOLLOW_UP = Form("follow-up", FollowUp, (
    _ID, _LABEL, _SAYS, Key("who", "word", "shop", words=FOLLOWED_BY),
    Key("minutes", "number", 0.0, low=0, high=_LONGEST_MINUTES), _CONSUMABLES, Key("lasting", "yes_no", False), _REMARK,
))  # fmt: skip
CAUTION = Form("caution", Caution, (_ID, _SAYS, _REMARK, Key("forbidden_by", "ids", ())))
AREA = Form("area", Area, (
    _ID, _LABEL, Key("practised_from", "whole", HARDEST_LEVEL, low=1, high=HARDEST_LEVEL),
))  # fmt: skip
PRICE = Form("price", Price, (
    _ID, Key("typical", "number", low=0, high=DEAREST), _LABEL, Key("low", "price", None, low=0, high=DEAREST),
    Key("high", "price", None, low=0, high=DEAREST), _REMARK,
))  # fmt: skip
TEXTBOOK_CASE = Form("textbook case", TextbookCase, (
    _ID, Key("cause", "id_of"), _SAYS, Key("unit", "id_of"),
    Key("odometer_km", "number", None, low=0, high=_FARTHEST_KM), Key("background", "answers", ()),
    Key("findings", "answers", ()), _SOURCE, Key("complaint", "ids", ()),
))  # fmt: skip
SHOP = Form("shop", Shop, (
    Key("name"), Key("address", default=""), Key("logo", default=""), Key("currency"), Key("locale", default="en"),
    Key("labour_per_hour", "number", low=0, high=100_000), Key("tools", "texts", ()),
    Key("road_test_minutes", "number", 20.0, low=0, high=_LONGEST_MINUTES),
    Key("comeback_cost", "number", 0.0, low=0, high=DEAREST), Key("quote_days", "whole", 14, low=0, high=3650),
    Key("check_minutes", "number", 0.0, low=0, high=_LONGEST_MINUTES),
    Key("day_cost", "number", 0.0, low=0, high=DEAREST), Key("owner_day_cost", "number", 0.0, low=0, high=DEAREST),
    Key("return_cost", "number", 0.0, low=0, high=DEAREST), Key("tools_borrowed", "texts", ()),
    Key("borrow_cost", "number", 0.0, low=0, high=DEAREST), _REMARK, Key("invented", "texts", ()),
))  # fmt: skip

# Kind of file, which is also the field of `Knowledge` -> form of one record.
FORMS: Mapping[str, Form] = {
    "causes": CAUSE, "states": STATE, "findings": FINDING, "codes": CODE, "backgrounds": BACKGROUND, "checks": CHECK,
    "jobs": JOB, "access": ACCESS, "follow_ups": FOLLOW_UP, "cautions": CAUTION, "areas": AREA, "prices": PRICE,
    "textbook": TEXTBOOK_CASE,
}  # fmt: skip
