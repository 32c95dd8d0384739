"""A gear train as plain records: meshes between members, couplings that elements close, and what is joined."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from enum import StrEnum

from shiftlore.sheets import SheetElement, SheetGear, SheetSet, UnitSheet, list_used_members

CASE = "case"
INPUT = "input"
OUTPUT = "output"
ENGINE = "engine"
# Bounds within which an unknown ratio is searched: what fits a transmission case (common practice).
LIMITS = {
    "simple": (1.2, 4.5),
    "double_pinion": (1.2, 4.5),
    "stepped": (1.0, 12.0),
    "small_sun": (1.5, 4.5),
    "large_sun": (1.2, 4.5),
    "second_ring": (0.4, 3.0),
    "pair": (0.15, 9.0),
    "chain": (0.3, 3.0),
}


class CouplingKind(StrEnum):
    """What makes a coupling hold: being applied, its own direction, or nothing but the unit's build."""

    FRICTION = "friction"
    ONE_WAY = "one_way"
    CONVERTER = "converter"
    """Engine and turbine, where the input is split: taken as one, always."""
    BELT = "belt"
    """A variator at one ratio: holds in the lines that state this ratio."""


@dataclass(frozen=True, slots=True)
class Mesh:
    """Two toothed members that roll on each other, seen from their carrier (Willis 1841).

    It says `w_member - w_carrier = sign * ratio * (w_base - w_carrier)`; the ratio is base teeth over
    member teeth (for stepped pinions times the pinions' own ratio).

    Args:
        member, base: node names, as `front.sun` and `front.ring`.
        carrier: node name, or `case` for shafts with fixed axes.
        sign: -1 where the two turn opposite ways as seen from the carrier, else 1.
        ratio: positive, or None where it is not known yet.
        low, high: bounds within which an unknown ratio is searched.
    """

    set_id: str
    member: str
    base: str
    carrier: str
    sign: int
    ratio: float | None
    low: float = 1.2
    high: float = 4.5


@dataclass(frozen=True, slots=True)
class Coupling:
    """What one element does when it holds: `w_first = factor * w_second`.

    Args:
        first, second: node names; a brake has `case` as second.
        kind: what makes it hold.
        lets: for one-way clutches 1 if the first may run ahead of the second in the engine's direction,
            -1 if it may lag, 0 if not known yet.
        factor: other than 1 only for the belt of a variator at a given ratio.
    """

    id: str
    first: str
    second: str = CASE
    kind: CouplingKind = CouplingKind.FRICTION
    lets: int = 0
    factor: float = 1.0


@dataclass(frozen=True, slots=True)
class GearState:
    """What the chart applies in one gear.

    Args:
        ratio: stated ratio, negative in reverse, or None.
        closed: couplings that hold under drive, one-way clutches included.
        coast: couplings applied only for engine braking.
        reverse: whether the output turns backward.
        fixed: those of `closed` that no element and no defect can open: converter and belt.
    """

    name: str
    ratio: float | None
    closed: frozenset[str]
    coast: frozenset[str] = frozenset()
    reverse: bool = False
    fixed: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True)
class Train:
    """All of a unit that turns.

    Args:
        joined: groups of nodes that turn as one (`case` in a group: held for good).
        driven_at: node at which the engine's torque comes in: `input`, or `engine` where the input splits.
        output_sign: -1 where the output turns against the engine in forward gears.
    """

    meshes: tuple[Mesh, ...]
    joined: tuple[tuple[str, ...], ...]
    couplings: tuple[Coupling, ...]
    driven_at: str = INPUT
    output_sign: int = 1

    def unknown(self) -> tuple[int, ...]:
        """Give the places of the meshes whose ratio is not known."""
        return tuple(place for place, mesh in enumerate(self.meshes) if mesh.ratio is None)

    def with_ratios(self, ratios: Mapping[int, float]) -> "Train":
        """Give the same train with these mesh ratios put in.

        Args:
            ratios: place of the mesh -> ratio.
        """
        meshes = tuple(
            replace(mesh, ratio=ratios[place]) if place in ratios else mesh for place, mesh in enumerate(self.meshes)
        )
        return replace(self, meshes=meshes)

    def with_directions(self, lets: Mapping[str, int]) -> "Train":
        """Give the same train with these directions of one-way clutches put in."""
        couplings = tuple(replace(item, lets=lets.get(item.id, item.lets)) for item in self.couplings)
        return replace(self, couplings=couplings)


def list_lines(sheet: UnitSheet) -> dict[str, SheetGear]:
    """Give every line of the chart by name: gears, then held ranges with the ratio of the gear that they hold."""
    return {**sheet.gears, **{name: line for name, line in sheet.ranges.items() if name not in sheet.gears}}


def stated_ratio(sheet: UnitSheet, line: SheetGear) -> float | None:
    """Give the ratio that the sheet states for a line; a held range has that of its gear."""
    held = sheet.gears.get(line.range_of or "")
    return held.ratio if line.ratio is None and held is not None else line.ratio


def build_train(sheet: UnitSheet) -> Train:
    """Turn sets, joins and elements into meshes and couplings; unknown ratios stay None."""
    used = list_used_members(sheet)
    meshes = [mesh for item in sheet.sets.values() for mesh in _meshes(item, used)]
    split = ENGINE in used
    couplings = [_coupling(item) for item in sheet.elements.values() if item.type != "converter_clutch"]
    if split:
        couplings.append(Coupling("(converter)", ENGINE, INPUT, CouplingKind.CONVERTER))
    belts = {find_belt(sheet, line) for line in list_lines(sheet).values()} - {None}
    for name, ratio in sorted(belt for belt in belts if belt is not None):
        ends = (f"{name}.primary", f"{name}.secondary")
        couplings.append(Coupling(f"{name}@{ratio:g}", *ends, CouplingKind.BELT, factor=ratio))
    joined = tuple(join.members for join in sheet.joined)
    return Train(tuple(meshes), joined, tuple(couplings), ENGINE if split else INPUT)


def find_belt(sheet: UnitSheet, line: SheetGear) -> tuple[str, float] | None:
    """Name the variator and the ratio that it has in this line."""
    belt = next((item for item in sheet.sets.values() if item.kind == "variator"), None)
    if belt is None:
        return None
    usual = belt.ratios.get("ratio_high" if line.name == "high" else "ratio_low", 1.0)
    return belt.id, usual if line.variator is None else line.variator


def _coupling(item: SheetElement) -> Coupling:
    kind = CouplingKind.ONE_WAY if item.type == "one_way_clutch" else CouplingKind.FRICTION
    lets = {"forward": 1, "backward": -1, "first_ahead": 1, "second_ahead": -1}.get(item.lets, 0)
    return Coupling(item.id, item.first or CASE, item.second or CASE, kind, lets)


def _meshes(item: SheetSet, used: set[str]) -> list[Mesh]:
    """Write the meshes of one set; members that nothing is tied to are left out."""
    found = []
    for member, base, sign, ratio, limits in _rolling_pairs(item):
        low, high = LIMITS[limits]
        carrier = CASE if item.kind in ("pair", "chain") else f"{item.id}.carrier"
        found.append(
            Mesh(
                item.id,
                f"{item.id}.{member}",
                f"{item.id}.{base}",
                carrier=carrier,
                sign=sign,
                ratio=ratio,
                low=low,
                high=high,
            )
        )
    needed = [mesh for mesh in found if mesh.member in used]
    if len(needed) == 1 and needed[0].base not in used:
        return []
    return needed


def _rolling_pairs(item: SheetSet) -> list[tuple[str, str, int, float | None, str]]:
    teeth, ratios, kind = item.teeth, item.ratios, item.kind

    def over(first: str, second: str, stated: str) -> float | None:
        both = first in teeth and second in teeth
        return teeth[first] / teeth[second] if both else ratios.get(stated)

    if kind == "variator":
        return []
    if kind in ("pair", "chain"):
        sign = 1 if kind == "chain" or item.idler else -1
        return [("drive", "driven", sign, over("driven", "drive", "ratio"), kind)]
    if kind == "ravigneaux":
        return [
            ("large_sun", "ring", -1, over("ring", "large_sun", "ring_to_large_sun"), "large_sun"),
            ("small_sun", "ring", 1, over("ring", "small_sun", "ring_to_small_sun"), "small_sun"),
            ("second_ring", "ring", -1, over("ring", "second_ring", ""), "second_ring"),
        ]
    if kind == "stepped":
        return _stepped_pairs(item)
    sign = -1 if kind == "simple" else 1
    return [("sun", "ring", sign, over("ring", "sun", "ring_to_sun"), kind)]


def _stepped_pairs(item: SheetSet) -> list[tuple[str, str, int, float | None, str]]:
    """Write stepped pinions: sun and second ring on the one step, ring and second sun on the other."""
    steps = {
        "sun": ("pinion_at_sun", -1, "stepped"),
        "second_sun": ("pinion_at_ring", -1, "simple"),
        "second_ring": ("pinion_at_sun", 1, "second_ring"),
    }
    teeth, ring_step = item.teeth, "pinion_at_ring"
    pairs: list[tuple[str, str, int, float | None, str]] = []
    for name, (pinion, sign, limits) in steps.items():
        ratio = item.ratios.get("ring_to_sun") if name == "sun" else None
        if {name, "ring"} <= teeth.keys() and (pinion == ring_step or {pinion, ring_step} <= teeth.keys()):
            ratio = teeth["ring"] / teeth[name]
            if pinion != ring_step:
                ratio *= teeth[pinion] / teeth[ring_step]
        pairs.append((name, "ring", sign, ratio, limits))
    return pairs


def list_states(sheet: UnitSheet, train: Train) -> dict[str, GearState]:
    """Write every line of the chart as the couplings that it closes."""
    known = frozenset(coupling.id for coupling in train.couplings if coupling.id in sheet.elements)
    found = {}
    for name, line in list_lines(sheet).items():
        belt = find_belt(sheet, line)
        fixed = frozenset(
            item.id
            for item in train.couplings
            if item.kind == CouplingKind.CONVERTER
            or (item.kind == CouplingKind.BELT and belt is not None and item.factor == belt[1])
        )
        found[name] = GearState(
            name=name,
            ratio=stated_ratio(sheet, line),
            closed=known.intersection(line.on) | fixed,
            coast=known.intersection(line.coast),
            reverse=line.kind == "reverse",
            fixed=fixed,
        )
    return found
