"""Everything that rule templates ask of a unit: its instances, and how surely they belong together."""

import itertools
import math
from collections.abc import Mapping

from shiftlore.basics import UnknownId
from shiftlore.basics.structs import Record, Signed, Unsigned
from shiftlore.sheets import (
    AccessMinutes,
    Fluid,
    SheetGear,
    SheetSensor,
    SheetSolenoid,
    UnitSheet,
    is_where_word,
    where_words,
)

WHERE_IN = ("in_first", "in_reverse", "in_top", "in_lockup")
WHERE_COAST = "in_coast"
WHERE_HALVES = ("lost_odd", "lost_even")
WHERE_GEARS = ("reverse", "forward", "first", "top", "lockup", "failsafe", "not_failsafe")
WHERE_SHIFTS = ("up", "down", "first_up", "top_up")
_SHIFT_PLACES = {"in_first": "first_up", "in_top": "top_up"}
Shares = Mapping[tuple[str, str], Unsigned]
# A downshift goes so many gears down at most: a kickdown that skips more is told as one of these (judgement).
FARTHEST_DOWN = 2


class Instance(Record, frozen=True):
    """One element, solenoid, gear, shift, pressure switch or speed sensor of a unit.

    Args:
        id: as it stands in expanded ids: `c1`, `2`, `r`, `1_2`.
        label: as it stands for `{name}` in texts: `Clutch C1`, `gear 2`, `reverse`, `1-2`.
        type: what `types` of a rule is compared with.
        names: what trouble codes may call it: its letter, its id, codes of its own.
    """

    id: str
    label: str
    type: str
    names: tuple[str, ...] = ()


class Remains(Record, frozen=True):
    """What comes of one commanded line with one defect.

    Args:
        had: the gear really had, or None.
        state: `driven`, `neutral`, `tied_up` or `unknown`.
        ratio: input over output speed, or None.
        feels: what the driver feels, in plain words.
        changed: whether the defect changes the gear had or the state.
        brakes_engine: whether the engine still brakes the vehicle, or None if that is not known.
    """

    had: str | None
    state: str
    ratio: Signed | None
    feels: str
    changed: bool
    brakes_engine: bool | None = None


class UnitFacts(Record, frozen=True):
    """What a unit's sheet and gear train say to the rules; gears and shifts by instance id.

    Args:
        tags: those of the sheet, those that follow from it (`one_way_clutch`, `band`, ...), and possible ones: what
            `needs` is compared with.
        sure_tags: without the possible ones: what `not_with` is compared with.
        by_kind: kind -> its instances in the order of the sheet; upshifts are shifts, from each gear to the next;
            downshifts go one or two gears down.
        shift_ends: shift or downshift -> the gears that it leaves and enters.
        applied: (element, gear) -> how surely it carries drive there, 0..1; missing is 0.
        coming_on, going_off: (element, shift) -> how surely.
        torque_share: (element, gear) -> its torque there over its largest torque, 0..1.
        controlled: (solenoid, element) -> how surely.
        working: (solenoid, gear) -> how surely the solenoid works in that gear.
        switching: (solenoid, shift) -> how surely.
        monitored: (pressure switch, element) -> 1.
        lost: (element, gear) -> what is had when the element holds nothing.
        stuck: (solenoid, `on` or `off`, gear) -> what is had.
        lost_share: (element, gear) -> how surely the gear cannot be had without the element.
        stuck_share: (solenoid, `on` or `off`, gear) -> how surely the gear cannot be had.
        coasting: elements that a gear, or a range held by hand, applies only so that the engine brakes.
        codes: trouble code -> (kind, instance) for codes that the sheet ties by itself.
        ratios: gear -> computed ratio, or the printed one.
    """

    id: str
    label: str
    kind_only: bool
    tags: frozenset[str]
    sure_tags: frozenset[str]
    by_kind: Mapping[str, tuple[Instance, ...]]
    shift_ends: Mapping[str, tuple[str, str]]
    applied: Shares
    coming_on: Shares
    going_off: Shares
    torque_share: Shares
    controlled: Shares
    working: Shares
    switching: Shares
    monitored: Shares
    lost: Mapping[tuple[str, str], Remains]
    stuck: Mapping[tuple[str, str, str], Remains]
    lost_share: Shares
    stuck_share: Mapping[tuple[str, str, str], Unsigned]
    coasting: frozenset[str]
    lockup_gears: tuple[str, ...]
    failsafe_gear: str | None
    ratios: Mapping[str, Signed | None]
    codes: Mapping[str, tuple[str, str]]
    fluid: Fluid
    access: Mapping[str, AccessMinutes]

    def instances(self, kind: str) -> tuple[Instance, ...]:
        """Give the instances of one kind in the order of the sheet."""
        return self.by_kind[kind]

    def share_in(self, where: str, from_kind: str | None, from_id: str | None) -> float:
        """Say how surely a line holds that leads from one instance to something the unit has only once.

        Args:
            where: `in_first`, `in_reverse`, `in_top` or `in_lockup`: the element or solenoid works in such a gear, the
                gear is of that kind, or the upshift leaves first or enters top; `in_coast`: the element makes the engine
                brake; `lost_odd` or `lost_even`: with the element lost or the solenoid off these forward gears are gone,
                and they alone. Any other word holds nowhere; the validators tell it.
        """
        if where == WHERE_COAST:
            return float(from_id in self.coasting)
        if where in WHERE_HALVES:
            return self._loses_half(from_kind, from_id or "", where == WHERE_HALVES[0])
        gears = self._places(where.removeprefix("in_")) if where in WHERE_IN else ()
        if from_kind == "gear":
            return float(from_id in gears)
        if from_kind in ("shift", "downshift"):
            return float(from_id in self._places(_SHIFT_PLACES[where]))
        table = self.applied if from_kind == "element" else self.working
        return max((table.get((from_id or "", gear), 0.0) for gear in gears), default=0.0)

    def _loses_half(self, kind: str | None, part: str, is_odd: bool) -> float:
        """Say how surely all odd, or all even, forward gears are not had without a part, and all others are."""
        forward = self._places("forward")
        off = {gear: share for (name, how, gear), share in self.stuck_share.items() if (name, how) == (part, "off")}
        lost = {gear: self.lost_share.get((part, gear), 0.0) for gear in forward} if kind == "element" else off
        gone, kept = (forward[::2], forward[1::2]) if is_odd else (forward[1::2], forward[::2])
        shares = [lost.get(gear, 0.0) for gear in gone] + [1 - lost.get(gear, 0.0) for gear in kept]
        return math.prod(shares) if gone else 0.0

    def resolve(
        self, where: str | None, from_kind: str | None, from_id: str | None, to_kind: str
    ) -> tuple[tuple[str, float], ...]:
        """Say which instances a rule's line means, and how surely each is meant.

        Args:
            where: as written in the rule, or None for the usual one.
            from_kind, from_id: the instance that the rule stands for, or None for a rule without `each`.
            to_kind: what the target stands for.
        Returns: (instance id, share 0..1) in the order of the sheet; shares of 0 are left out.
        Raises: UnknownId: no such `where` between these two kinds.
        """
        known = where_words(from_kind, to_kind)
        word = where or known[0]
        if not is_where_word(word, from_kind, to_kind):
            choices = ", ".join(known)
            raise UnknownId(f'There is no where "{word}" from {from_kind or "no each"} to {to_kind}: write {choices}.')
        items = self.by_kind[to_kind]
        if word not in known:  # instances of one type
            return tuple((item.id, 1.0) for item in items if word.endswith(f"_{item.type}"))
        shares = [(item.id, self._share(word, from_kind, from_id or "", to_kind, item.id)) for item in items]
        return tuple((item, share) for item, share in shares if share > 0)

    def _share(self, word: str, from_kind: str | None, here: str, to_kind: str, there: str) -> float:
        if word == "any":
            return 1.0
        if word == "same":
            pairs = [sorted(self.shift_ends.get(name, (name,))) for name in (here, there)]
            return float(pairs[0] == pairs[1])
        if word in WHERE_GEARS or word in WHERE_SHIFTS:
            return float(there in self._places(word))
        if word in ("into", "out_of"):
            gear, shift = (here, there) if from_kind == "gear" else (there, here)
            start, end = self.shift_ends[shift]
            return float(gear == (end if word == "into" else start))
        if word == "not_applied":
            return 1.0 - self.applied.get((here, there), 0.0)
        if word in ("lost_off", "lost_on"):
            return self.stuck_share.get((here, word.removeprefix("lost_"), there), 0.0)
        tables = {
            "applied": self.applied,
            "lost": self.lost_share,
            "coming_on": self.coming_on,
            "going_off": self.going_off,
            "switching": self.switching,
            "monitored": self.monitored,
            "controlled": self.working if to_kind == "gear" else self.controlled,
        }
        return tables[word].get((here, there), 0.0)

    def _places(self, word: str) -> tuple[str, ...]:
        gears = self.by_kind["gear"]
        forward = tuple(item.id for item in gears if item.type == "forward")
        shifts = tuple(item.id for item in self.by_kind["shift"])
        return {
            "reverse": tuple(item.id for item in gears if item.type == "reverse"),
            "forward": forward,
            "first": forward[:1],
            "top": forward[-1:],
            "lockup": self.lockup_gears,
            "failsafe": tuple(name for name in forward if name == self.failsafe_gear),
            "not_failsafe": tuple(name for name in forward if name != self.failsafe_gear),
            "up": shifts,
            "down": tuple(item.id for item in self.by_kind["downshift"]),
            "first_up": shifts[:1],
            "top_up": shifts[-1:],
        }[word]


def name_instances(sheet: UnitSheet) -> tuple[dict[str, tuple[Instance, ...]], dict[str, tuple[str, str]]]:
    """Give the parts, gears and shifts of a sheet by kind; and of each shift its gears."""
    gears = [gear for gear in sheet.gears.values() if gear.kind != "neutral"]
    reverse = [gear for gear in gears if gear.kind == "reverse"]
    forward = [gear for gear in gears if gear.kind == "forward"]
    named = {gear.id: f"gear {gear.name}" for gear in forward}
    named |= {gear.id: "reverse" if len(reverse) == 1 else f"reverse {gear.name}" for gear in reverse}
    stepped = forward if "cvt" not in sheet.tags else []
    steps = list(itertools.pairwise(stepped))
    downs = [(a, b) for i, a in enumerate(stepped) for b in reversed(stepped[max(i - FARTHEST_DOWN, 0) : i])]
    elements = [item for item in sheet.elements.values() if item.type != "converter_clutch"]

    def coded(item: SheetSolenoid | SheetSensor) -> Instance:
        names = (item.code_letter, item.id, *item.codes)
        return Instance(item.id, item.label, item.type, tuple(name for name in names if name))

    def changed(a: SheetGear, b: SheetGear, way: str) -> Instance:
        return Instance(f"{a.id}_{b.id}", f"{a.name}-{b.name}", way, (f"{a.id}_{b.id}",))

    instances = {
        "element": tuple(Instance(item.id, item.label, item.type, (item.id,)) for item in elements),
        "solenoid": tuple(coded(item) for item in sheet.solenoids.values()),
        "gear": tuple(
            Instance(gear.id, named[gear.id], gear.kind, tuple(dict.fromkeys((gear.name, gear.id)))) for gear in gears
        ),
        "shift": tuple(changed(a, b, "up") for a, b in steps),
        "downshift": tuple(changed(a, b, "down") for a, b in downs),
        "pressure_switch": tuple(coded(item) for item in sheet.pressure_switches.values()),
        "speed_sensor": tuple(coded(item) for item in sheet.speed_sensors.values()),
    }
    return instances, {f"{a.id}_{b.id}": (a.id, b.id) for a, b in (*steps, *downs)}
