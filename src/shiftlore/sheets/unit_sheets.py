"""What a unit sheet says, as frozen records that keep their place in the file, and the words that it may use.

The table of sets is that of `knowledge/units/README.md`, the table of `where` words that of `knowledge/README.md`;
`gearing` works both out on a gear train.
"""

import re
from collections.abc import Mapping

from msgspec import field

from shiftlore.basics.problems import Mark
from shiftlore.basics.structs import Record, Share, Signed, Unsigned

# Names of chart lines that are neutral without saying so.
NEUTRAL = re.compile(r"[NnPp](eutral|ark)?")
_NOWHERE = Mark()


class SetKind(Record, frozen=True):
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
    "shift": ("up",),
    "downshift": ("down",),
    "pressure_switch": ("pressure_switch",),
    "speed_sensor": SENSOR_TYPES,
}
"""What a rule may stand for once each, and the types that these have."""
_FROM_NONE_TO_GEAR = ("any", "reverse", "forward", "first", "top", "lockup", "failsafe", "not_failsafe")
_IN_GEARS = ("any", "in_first", "in_reverse", "in_top", "in_lockup")
_HALVES = ("lost_odd", "lost_even")
_FROM_NONE_TO_SHIFT = ("any", "up", "down", "first_up", "top_up")

# (each of the parent, each of the target) -> words allowed, the usual one first.
_WHERE: Mapping[tuple[str | None, str | None], tuple[str, ...]] = {
    (None, "gear"): _FROM_NONE_TO_GEAR,
    (None, "shift"): _FROM_NONE_TO_SHIFT,
    ("element", "gear"): ("applied", "not_applied", "any", "lost"),
    ("element", "shift"): ("coming_on", "going_off", "any"),
    ("solenoid", "element"): ("controlled", "any"),
    ("solenoid", "gear"): ("controlled", "lost_off", "lost_on", "any"),
    ("solenoid", "shift"): ("switching", "any"),
    ("gear", "shift"): ("into", "out_of", "any"),
    ("shift", "gear"): ("into", "out_of", "any"),
    ("pressure_switch", "element"): ("monitored", "any"),
    ("element", None): (*_IN_GEARS, "in_coast", *_HALVES),
    ("solenoid", None): (*_IN_GEARS, *_HALVES),
    ("gear", None): _IN_GEARS,
    ("shift", None): ("any", "in_first", "in_top"),
}
_TYPE = "type_"
_LIKE = {"downshift": "shift"}


def where_words(parent_each: str | None, target_each: str | None) -> tuple[str, ...]:
    """Name the `where` words of a line, the usual one first; none where neither end is a template.

    Args:
        parent_each, target_each: None or one of `EACH`; a downshift takes the words of a shift.
    Example:
        >>> where_words("element", "gear")[0]
        'applied'
    """
    parent_each, target_each = (_LIKE.get(each or "", each) for each in (parent_each, target_each))
    if (parent_each, target_each) in _WHERE:
        return _WHERE[parent_each, target_each]
    if parent_each is None and target_each is None:
        return ()
    return ("same", "any") if parent_each == target_each and parent_each in EACH else ("any",)


def is_where_word(word: str, parent_each: str | None, target_each: str | None) -> bool:
    """Tell whether a line between these kinds can say `where: word`.

    Between a template and a single record it may also be limited to instances of one type: ``type_output``.
    """
    is_of_type = (target_each is None) != (parent_each is None) and word.startswith(_TYPE)
    return is_of_type or word in where_words(parent_each, target_each)


class SheetSet(Record, frozen=True):
    """One set of gears: planetary, stepped, a pair of gears on two shafts, a chain or a belt.

    Args:
        kind: one of `SET_KINDS`.
        teeth: tooth counts as stated, by member or pinion; empty where the manual prints none.
        ratios: ratios stated instead, such as `ring_to_sun`; may be empty too.
        idler: for a pair, whether a third gear between the two keeps the direction.
    """

    id: str
    kind: str
    teeth: Mapping[str, Unsigned] = field(default_factory=dict)
    ratios: Mapping[str, Unsigned] = field(default_factory=dict)
    idler: bool = False
    mark: Mark = _NOWHERE


class SheetElement(Record, frozen=True):
    """A clutch, brake, band, one-way clutch or dog, and what it ties together.

    Args:
        first, second: members or shafts; a brake has `case` as second; both empty where the sheet does not say.
        lets: for a one-way clutch `forward`, `backward`, `first_ahead`, `second_ahead`, or empty.
        fed_in: lines, or `forward` or `reverse` for all of them, in which the selector lets oil reach it; None for all.
    """

    id: str
    label: str
    type: str
    first: str = ""
    second: str = ""
    lets: str = ""
    fed_in: tuple[str, ...] | None = None
    mark: Mark = _NOWHERE


class SheetGear(Record, frozen=True):
    """One line of the application chart.

    Args:
        name: as printed: `1`, `R`, `R2`, `N`, or a held range such as `2 held`.
        ratio: as printed, negative in reverse, or None.
        on: element -> how surely it is applied under drive, 1 unless the sheet stands for units not known.
        coast: elements applied only so that the engine brakes.
        kind: `forward`, `reverse`, `neutral`.
        range_of: for a held range the gear that it holds, else None.
        variator: ratio of the belt in this line, or None.
    """

    name: str
    ratio: Signed | None
    on: Mapping[str, Share]
    coast: tuple[str, ...] = ()
    kind: str = "forward"
    range_of: str | None = None
    variator: Unsigned | None = None
    mark: Mark = _NOWHERE

    @property
    def id(self) -> str:
        """The gear's name as it stands in expanded ids: `R` becomes `r`."""
        return "_".join(self.name.lower().replace("-", " ").split())


class SheetSolenoid(Record, frozen=True):
    """A solenoid, what it works on, and what happens when it loses power.

    Args:
        type: one of `SOLENOID_TYPES`.
        controls: element -> how surely, for a solenoid that works on elements of its own.
        on_in: gears and ranges in which it is powered; None where the sheet does not say.
        unpowered: `applies` or `releases` its elements without power, or empty.
        acts: `directly` or `by_pattern` (only all solenoids together choose the gear).
        code_letter: its letter in trouble codes, or empty.
        codes: further trouble codes that name it.
    """

    id: str
    label: str
    type: str
    controls: Mapping[str, Share]
    on_in: tuple[str, ...] | None
    unpowered: str
    acts: str
    code_letter: str
    codes: tuple[str, ...]
    mark: Mark = _NOWHERE


class SheetSensor(Record, frozen=True):
    """A speed sensor or a pressure switch.

    Args:
        type: for a sensor one of `SENSOR_TYPES`, for a switch `pressure_switch`.
        monitors: for a switch the elements whose pressure it sees.
    """

    id: str
    label: str
    type: str
    monitors: tuple[str, ...] = ()
    code_letter: str = ""
    codes: tuple[str, ...] = ()
    mark: Mark = _NOWHERE


class Pattern(Record, frozen=True):
    """A combination of powered solenoids that no gear uses: it gives a line of the chart, or applies elements."""

    on: frozenset[str]
    gives: str = ""
    applies: tuple[str, ...] = ()
    mark: Mark = _NOWHERE

    def __repr__(self) -> str:
        """Write it alike in every process, which a set does not: what was compiled is kept under the text of its sheet."""
        return f"Pattern({sorted(self.on)}, {self.gives!r}, {self.applies}, {self.mark})"


class Fluid(Record, frozen=True):
    """Fluid of the unit: litres, and the temperature window in which its level is read (deg C)."""

    fill_litres: Unsigned | None = None
    pan_drain_litres: Unsigned | None = None
    check_temp_c: tuple[Signed, Signed] | None = None
    has_dipstick: bool | None = None


class AccessMinutes(Record, frozen=True):
    """How long this unit takes to open and close to a state of disassembly, where it differs from the usual."""

    open_minutes: Unsigned | None
    close_minutes: Unsigned | None
    mark: Mark = _NOWHERE


class Limit(Record, frozen=True):
    """What the maker states of a measured number: within these it is sound, in the base unit of its kind."""

    kind: str
    low: Signed | None
    high: Signed | None
    mark: Mark = _NOWHERE


class Join(Record, frozen=True):
    """Members and shafts that turn as one; `case` among them means held for good."""

    members: tuple[str, ...]
    mark: Mark = _NOWHERE


class UnitSheet(Record, frozen=True):
    """One transmission family: gear train, elements, charts, fluid, access.

    Args:
        kind_only: whether it stands for units not known; nothing is computed then.
        tags: what rules may ask for with `needs` and `not_with`.
        possible_tags: tags that some units of the kind carry; they fulfil `needs` but do not rule a record out.
        gears: forward and reverse gears and neutral, in the order of the sheet.
        ranges: held ranges.
        limits: measured number -> what the maker states of it.
        places: key -> where its value stands, for keys that hold names of other parts.
    """

    id: str
    label: str
    kind_only: bool
    tags: tuple[str, ...]
    fluid: Fluid
    sets: Mapping[str, SheetSet]
    shafts: tuple[str, ...]
    joined: tuple[Join, ...]
    elements: Mapping[str, SheetElement]
    gears: Mapping[str, SheetGear]
    ranges: Mapping[str, SheetGear]
    solenoids: Mapping[str, SheetSolenoid]
    other_patterns: tuple[Pattern, ...]
    speed_sensors: Mapping[str, SheetSensor]
    pressure_switches: Mapping[str, SheetSensor]
    lockup_gears: tuple[str, ...]
    failsafe_gear: str | None
    access: Mapping[str, AccessMinutes]
    source: str
    possible_tags: tuple[str, ...] = ()
    limits: Mapping[str, Limit] = field(default_factory=dict)
    places: Mapping[str, Mark] = field(default_factory=dict)
    mark: Mark = _NOWHERE


def says_ties(sheet: UnitSheet) -> bool:
    """Tell whether the sheet says how its sets hang together; a chart with ratios alone is a sheet too."""
    return bool(sheet.sets) and (bool(sheet.joined) or any(item.first for item in sheet.elements.values()))


def list_used_members(sheet: UnitSheet) -> set[str]:
    """Name every member and shaft that a join or an element speaks of."""
    used = {name for join in sheet.joined for name in join.members}
    return used | {name for item in sheet.elements.values() for name in (item.first, item.second)}


def is_fed(element: SheetElement, line: SheetGear) -> bool:
    """Tell whether the selector lets oil reach an element in a line of the chart."""
    return element.fed_in is None or bool({line.name, line.range_of, line.kind} & set(element.fed_in))


LAYOUT_TAGS: Mapping[str, str] = {"fwd": "fwd", "rwd": "rwd", "awd": "transfer_case"}
"""Driven wheels -> the tag that rules ask for; all-wheel drive stands beside either of the others."""
_AXLES = ("fwd", "rwd")


def vary_sheet(sheet: UnitSheet, speeds: int | None, layout: str) -> tuple[UnitSheet, dict[str, tuple[str, str]]]:
    """Give the sheet for so many forward gears and these driven wheels.

    A kind loses the gears above, or gets more that work like the last but one before them; a sheet of its own has its gears.

    Args:
        speeds: forward gears, or None if not known.
        layout: one of `LAYOUT_TAGS`, or "".
    Returns: the sheet; and per key (`speeds`, `layout`) that the sheet contradicts what is wrong and what to write.
    """
    wrong: dict[str, tuple[str, str]] = {}
    forward = [gear for gear in sheet.gears.values() if gear.kind == "forward"]
    if layout:
        against = next((tag for tag in _AXLES if tag != layout and tag in sheet.tags), "")
        if layout in _AXLES and against:
            advice = f"Write layout: {against}, or another unit."
            wrong["layout"] = (f"{sheet.id} drives by {against}, not {layout}", advice)
        else:
            sheet = _drive(sheet, layout)
    if speeds is None or speeds == len(forward):
        return sheet, wrong
    if any(gear.variator is not None for gear in forward):
        wrong["speeds"] = (f"{sheet.id} has no gears to count", "Leave speeds out.")
    elif not sheet.kind_only:
        advice = f"Write speeds: {len(forward)}, or another unit."
        wrong["speeds"] = (f"{sheet.id} has {len(forward)} forward gears, not {speeds}", advice)
    else:
        sheet = _count(sheet, forward, speeds)
    return sheet, wrong


def _drive(sheet: UnitSheet, layout: str) -> UnitSheet:
    tag = LAYOUT_TAGS[layout]
    settled = {tag} if tag not in _AXLES else {*_AXLES, LAYOUT_TAGS["awd"]}
    tags = sheet.tags if tag in sheet.tags else (*sheet.tags, tag)
    return sheet.vary(tags=tags, possible_tags=tuple(item for item in sheet.possible_tags if item not in settled))


def _count(sheet: UnitSheet, forward: list[SheetGear], speeds: int) -> UnitSheet:
    chosen = forward[:speeds]
    while len(chosen) < speeds:
        chosen.append(chosen[-2].vary(name=str(len(chosen) + 1)))
    others = [gear for gear in sheet.gears.values() if gear.kind != "forward"]
    names = [gear.name for gear in chosen]
    added = names[len(forward) :] if forward[-1].name in sheet.lockup_gears else []
    lockup = tuple(name for name in (*sheet.lockup_gears, *added) if name in names)
    failsafe = sheet.failsafe_gear if sheet.failsafe_gear in (*names, None) else names[-1]
    gears = {gear.name: gear for gear in (*chosen, *others)}
    return sheet.vary(gears=gears, lockup_gears=lockup or tuple(names[-1:]), failsafe_gear=failsafe)
