"""One language, as people speak it of a vehicle: what its file may say, and the record that it becomes."""

from collections.abc import Mapping

from msgspec import field

from shiftlore.basics.problems import Mark
from shiftlore.basics.structs import Record, Share, Unsigned

FIRST_LANGUAGE = "en"
# Lists of words that the grammar asks for; what each is for stands in en.yaml.
LISTS = (
    "light", "negations", "barriers", "sound", "unsound", "joining", "either", "unsure", "wished",
    "into", "out_of", "downwards", "not_mileage", "not_mileage_at", "at_distance", "not_mileage_behind", "whole_life",
    "not_by_owner", "beside_signs", "works", "bare", "beside", "chatter",
    "passed_over", "shortened", "articles",
)  # fmt: skip
# Turns of speech that turn, take back or only ask what stands beside them; what each does stands in en.yaml.
TURNS = (
    "asks", "asks_what", "presumed", "checked_for", "supposed", "acting", "others", "owed", "no_turn", "compared",
    "excepted", "contrasted", "anew", "used_to", "put_right", "was", "ended", "ended_then", "no_more", "without", "limits",
    "until", "eased", "hardly", "wondered", "lasted", "began", "began_behind", "no_change", "now", "names",
    "denied_again", "denied_stronger", "denied_short", "affirmed", "found_none", "found_some", "mended", "returned",
    "answered_no", "no_moment", "restricts", "above", "below",
    "may_cause", "supposes", "could_be", "told_by", "seen", "poured", "other_lamp", "broke", "again_in",
    "opens_when", "within_when", "no_when", "behind_when", "goes_on", "likened", "nothing_for", "other_part",
    "retracts", "amends", "heard", "distrusts", "gone_since", "long_ago", "wiped",
    "looked_amiss", "dated", "habit", "done_then", "done_already", "does_so", "runs", "undergone", "set_off",
    "held", "refuted", "bounded", "not_there", "was_before", "other_work", "unit_work", "renewed",
    "orders_job", "orders_check", "orders_begin", "orders_new",
)  # fmt: skip
# What a sign may be.
SIGNS = ("code", "row", "shift", "gear", "count", "lever", "amount", "stated")
# Columns of a road-test log, by the names that `tracing` gives them.
COLUMNS = (
    "time_s", "engine_rpm", "input_rpm", "output_rpm", "road_kmh", "gear_commanded", "lever", "throttle_percent",
    "converter_clutch_percent", "fluid_temp_c", "line_pressure_bar", "none_of_these",
)  # fmt: skip
WEIGHTS = ("named", "asked", "explained", "least_found", "least_distance", "least_slip_letters", "reach")
_NOWHERE = Mark()


class Amount(Record, frozen=True):
    """Units of one kind, each in the first of them, and the bounds between what people say of it: short, some, long."""

    units: Mapping[str, Unsigned]
    bounds: tuple[Unsigned, ...] = ()


class Sign(Record, frozen=True):
    """What is read as one thing, such as a gear or a code, and the regular expression that finds it."""

    kind: str
    find: str


class Language(Record, frozen=True):
    """One language; whatever its file leaves out is empty.

    Args:
        id: such as ``en``.
        stemmer: name of the snowball stemmer, or "" to leave every word whole.
        forms: word as written -> the word or words that are read for it.
        lists: list of words -> its words; turns: turn of speech -> the phrases for it.
        moments: condition, by its name in a case -> words that say by themselves that it is so then.
        alike: group -> words of nearly one sense.
        ordinals: word for a gear -> its digits; numbers: word for a number -> its digits, before a unit;
            levers: letter of the selector -> its word; rows: word for a row of gears -> those gears.
        amounts: kind of amount -> its units; signs: in the order in which they are tried.
        fills: what a template stands for, or a part of a saying -> ways to say it, for learning from sayings.
        breaks: word or stop -> how strongly it parts two statements, 0 to 1.
        weights: weight -> its value.
        columns: column of a road-test log -> what it is called; under `none_of_these` what only sounds alike.
    """

    id: str
    stemmer: str = ""
    forms: Mapping[str, str] = field(default_factory=dict)
    lists: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    turns: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    moments: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    alike: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    ordinals: Mapping[str, str] = field(default_factory=dict)
    numbers: Mapping[str, str] = field(default_factory=dict)
    levers: Mapping[str, str] = field(default_factory=dict)
    rows: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    amounts: Mapping[str, Amount] = field(default_factory=dict)
    signs: tuple[Sign, ...] = ()
    fills: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    breaks: Mapping[str, Share] = field(default_factory=dict)
    weights: Mapping[str, Unsigned] = field(default_factory=dict)
    columns: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    mark: Mark = _NOWHERE
