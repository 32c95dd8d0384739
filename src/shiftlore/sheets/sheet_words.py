"""The words that a unit sheet may use, and those with which rules may ask of it: one table of each.

The table of sets is that of `knowledge/units/README.md`, the table of `where` words that of `knowledge/README.md`;
`gearing` works both out on a gear train.
"""

from collections.abc import Mapping
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class SetKind:
    """What a kind of gear set has.

    Args:
        members: what turns by itself.
        teeth: what a manual prints the teeth of.
        more_teeth: further teeth that may be stated, pinions mostly.
        ratios: what may be stated in place of teeth.
    """

    members: tuple[str, ...]
    teeth: tuple[str, ...] = ()
    more_teeth: tuple[str, ...] = ()
    ratios: tuple[str, ...] = ()


_PLAIN = ("sun", "ring", "carrier")
_ON_SHAFTS = SetKind(("drive", "driven"), ("drive", "driven"), (), ("ratio",))
SET_KINDS: Mapping[str, SetKind] = {
    "simple": SetKind(_PLAIN, ("sun", "ring"), ("pinion",), ("ring_to_sun",)),
    "double_pinion": SetKind(_PLAIN, ("sun", "ring"), ("pinion_at_sun", "pinion_at_ring"), ("ring_to_sun",)),
    "ravigneaux": SetKind(
        ("small_sun", "large_sun", "ring", "second_ring", "carrier"),
        ("small_sun", "large_sun", "ring"),
        ("second_ring", "short_pinion", "long_pinion"),
        ("ring_to_small_sun", "ring_to_large_sun"),
    ),
    "stepped": SetKind(
        ("sun", "ring", "second_sun", "second_ring", "carrier"),
        ("sun", "pinion_at_sun", "pinion_at_ring", "ring"),
        ("second_sun", "second_ring"),
        ("ring_to_sun",),
    ),
    "pair": _ON_SHAFTS,
    "chain": _ON_SHAFTS,
    "variator": SetKind(("primary", "secondary"), ratios=("ratio_low", "ratio_high")),
}
MOST_TEETH, LEAST_TEETH = 400, 5
"""Limits within which a tooth count is believed."""
ELEMENT_TYPES = ("clutch", "brake", "band", "one_way_clutch", "dog", "converter_clutch")
SOLENOID_TYPES = ("on_off", "pressure_control", "tcc", "line")
SENSOR_TYPES = ("input", "output", "engine", "intermediate")
SHAFTS = ("input", "output", "engine", "case")
LETS = ("forward", "backward", "first_ahead", "second_ahead")
"""Which way a one-way clutch turns freely: against the case, or between two members."""

EACH: Mapping[str, tuple[str, ...]] = {
    "element": ELEMENT_TYPES,
    "solenoid": SOLENOID_TYPES,
    "gear": ("forward", "reverse"),
    "shift": ("up", "down"),
    "pressure_switch": ("pressure_switch",),
    "speed_sensor": SENSOR_TYPES,
}
"""What a rule may stand for once each, and the types that these have."""
_FROM_NONE_TO_GEAR = ("any", "reverse", "forward", "first", "top", "lockup", "failsafe", "not_failsafe")
_IN_GEARS = ("any", "in_first", "in_reverse", "in_top", "in_lockup")
_FROM_NONE_TO_SHIFT = ("any", "up", "down", "first_up", "top_up")

# (each of the parent, each of the target) -> words allowed, the usual one first.
_WHERE: tuple[tuple[str | None, str | None, tuple[str, ...]], ...] = (
    (None, "gear", _FROM_NONE_TO_GEAR),
    (None, "shift", _FROM_NONE_TO_SHIFT),
    ("element", "gear", ("applied", "not_applied", "any", "lost")),
    ("element", "shift", ("coming_on", "going_off", "any")),
    ("solenoid", "element", ("controlled", "any")),
    ("solenoid", "gear", ("controlled", "lost_off", "lost_on", "any")),
    ("solenoid", "shift", ("switching", "any")),
    ("gear", "shift", ("into", "out_of", "any")),
    ("shift", "gear", ("into", "out_of", "any")),
    ("pressure_switch", "element", ("monitored", "any")),
    ("element", None, _IN_GEARS),
    ("solenoid", None, _IN_GEARS),
    ("gear", None, _IN_GEARS),
)
_TYPE = "type_"


def where_words(parent_each: str | None, target_each: str | None) -> tuple[str, ...]:
    """Name the `where` words of a line, the usual one first; none where neither end is a template.

    Args:
        parent_each, target_each: None or one of `EACH`.
    Example:
        >>> where_words("element", "gear")[0]
        'applied'
    """
    for parent, target, words in _WHERE:
        if (parent, target) == (parent_each, target_each):
            return words
    if parent_each is None and target_each is None:
        return ()
    return ("same", "any") if parent_each == target_each and parent_each in EACH else ("any",)


def is_where_word(word: str, parent_each: str | None, target_each: str | None) -> bool:
    """Tell whether a line between these kinds can say `where: word`.

    A template that leads to a single target may also be limited to instances of one type: ``type_output``.
    """
    if target_each is None and parent_each is not None and word.startswith(_TYPE):
        return True
    return word in where_words(parent_each, target_each)
