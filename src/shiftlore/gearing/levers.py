"""Lay the sets of a unit out as levers: every set a bar, every member a point on it.

Source: Benford and Leising 1981, SAE 810102: on one lever the distance from sun to carrier is as the ring's teeth,
from carrier to ring as the sun's; speeds lie on a straight line, torques balance like forces.
"""

from dataclasses import dataclass

from shiftlore.gearing.charts import WorkedTrain
from shiftlore.gearing.trains import CASE
from shiftlore.sheets import SET_KINDS, UnitSheet


@dataclass(frozen=True, slots=True)
class Lever:
    """One set: member node -> position on its bar, 0 at one end and 1 at the other."""

    set_id: str
    kind: str
    points: tuple[tuple[str, float], ...]


@dataclass(frozen=True, slots=True)
class Tie:
    """A line between two nodes: joined for good (`element` empty), or tied by an element when it holds."""

    first: str
    second: str
    element: str = ""
    type: str = "joined"


def draw_levers(worked: WorkedTrain) -> tuple[Lever, ...]:
    """Give the levers of all sets; where a ratio is not known, members stand at even distances."""
    meshes = worked.train.meshes if worked.train is not None else ()
    levers = []
    for item in worked.sheet.sets.values():
        own = [mesh for mesh in meshes if mesh.set_id == item.id and mesh.ratio is not None]
        raw: dict[str, float] = {}
        for mesh in own:
            raw[mesh.carrier] = 0.0
            raw[mesh.base] = 1.0
            raw[mesh.member] = mesh.sign * (mesh.ratio or 1.0)
        raw.pop(CASE, None)
        if not raw:
            raw = {f"{item.id}.{part}": float(place) for place, part in enumerate(SET_KINDS[item.kind].members[:4])}
        low, span = min(raw.values()), (max(raw.values()) - min(raw.values())) or 1.0
        points = sorted(((name, (value - low) / span) for name, value in raw.items()), key=lambda point: point[1])
        levers.append(Lever(item.id, item.kind, tuple(points)))
    return tuple(levers)


def list_ties(sheet: UnitSheet) -> tuple[Tie, ...]:
    """Give every fixed join and every element as a line between two nodes; `case` is one end of a brake."""
    joins = [Tie(join.members[0], name) for join in sheet.joined for name in join.members[1:]]
    ends = [Tie(item.first, item.second, item.id, item.type) for item in sheet.elements.values() if item.first]
    return (*joins, *ends)
