"""A gear train as plain records: meshes between members, couplings that elements close, and what is joined."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from enum import StrEnum

CASE = "case"
INPUT = "input"
OUTPUT = "output"
ENGINE = "engine"


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
        set_id: the set it belongs to.
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
        id: the element's id.
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
        name: as the chart names it.
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
        meshes: every mesh of every set.
        joined: groups of nodes that turn as one (`case` in a group: held for good).
        couplings: every element.
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
