"""The turning masses of a vehicle as matrices, and one step in time with dry friction.

Speeds are the engine's and v = basis q; every element, one-way clutch, the converter clutch and the brakes are rows over
them. In each step the impulses are found that let no closed row slip unless its friction is used up (Moreau 1988; box
constraints as in Cottle, Pang and Stone, The Linear Complementarity Problem): stable with any step, and exact at rest.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from shiftlore.driving.road_vehicles import RoadVehicle
from shiftlore.gearing import Array, Motion, Train

LOCKUP, BRAKES = "(lockup)", "(brakes)"
STICKS = 0
# Compliance that keeps rows that hold the same twice apart: slip of less than 1e-4 rad/s.
SOFT = 1e-10
MOST_TURNS = 60
TOGETHER = 8
"""So often all rows that are wrong change at once; then one by one, which surely ends (Murty 1974)."""
SLIP_ZERO, ROUNDING = 1e-6, 1e-12
Torques = tuple[float, float, tuple[float, float, float, float]]


@dataclass(frozen=True, slots=True, eq=False)
class Linkage:
    """The masses and rows of one vehicle.

    Args:
        ids: what each row is: couplings of the train, then the converter clutch and the brakes.
        mass: inertia matrix, shape (n, n); `rows`: shape (k, n).
        engine, turbine, output: rows over the same speeds, shape (n,).
        lets: per row 0 for friction, else as `Coupling.lets`.
        drag: viscous losses, shape (n, n).
        final_drive: output speed over wheel speed.
    """

    ids: tuple[str, ...]
    mass: Array
    rows: Array
    engine: Array
    turbine: Array
    output: Array
    lets: tuple[int, ...]
    drag: Array
    final_drive: float


def build_linkage(train: Train, motion: Motion, vehicle: RoadVehicle, top_ratio: float) -> Linkage:
    """Hang engine, turbine and vehicle on a gear train.

    Args:
        top_ratio: the smallest forward ratio, which sets the final drive.
    """
    size = motion.basis.shape[1]

    def widen(part: Array) -> Array:
        return np.concatenate([np.zeros((*part.shape[:-1], 1)), part], axis=-1)

    basis, rows = widen(motion.basis), widen(motion.rows)
    engine, turbine = np.eye(size + 1)[0], widen(motion.b_in)
    output = widen(motion.b_out)
    final = vehicle.final_drive(top_ratio)
    road = (vehicle.mass_kg * vehicle.wheel_radius_m**2 + vehicle.wheels_kgm2) / final**2
    mass = vehicle.member_kgm2 * basis.T @ basis
    for row, inertia in ((engine, vehicle.engine_kgm2), (turbine, vehicle.turbine_kgm2), (output, road)):
        mass += inertia * np.outer(row, row)
    return Linkage(
        ids=(*(item.id for item in train.couplings), LOCKUP, BRAKES),
        mass=mass,
        rows=np.vstack([rows, (engine - turbine)[None], output[None]]),
        engine=engine,
        turbine=turbine,
        output=output,
        lets=(*(item.lets for item in train.couplings), 0, 0),
        drag=vehicle.bearing_nms * basis.T @ basis,
        final_drive=final,
    )


@dataclass(slots=True)
class Energy:
    """Energy that went somewhere since the start, J.

    Args:
        engine: what the engine gave; `converter`, `bearings`: lost there; `elements`: lost in each row of the linkage.
        road: what air and grade took.
    """

    elements: list[float]
    engine: float = 0.0
    converter: float = 0.0
    bearings: float = 0.0
    road: float = 0.0


@dataclass(frozen=True, slots=True, eq=False)
class _Answer:
    """What any impulse makes of the speeds while some rows stick, in steps of one length.

    Args:
        full: from speeds, impulses of sliding rows, engine's and road's impulse to: engine, turbine and output speed, slips,
            impulses of what sticks, speeds, and what bearings take; shape (3 + 2 k + 2 n, n + k + 2).
        by_engine, by_turbine: the same for an impulse on engine and turbine.
        near: change of engine speed by an impulse there, of turbine speed by the same, of turbine speed by one there.
    """

    full: Array
    by_engine: list[float]
    by_turbine: list[float]
    near: tuple[float, float, float]


class Mover:
    """Speeds of a vehicle, moved on step by step.

    Rows that stick keep their slip at zero; for each set of them the answer to any impulse is one matrix, kept.
    """

    def __init__(self, linkage: Linkage, engine_speed: float):
        self.linkage = linkage
        ends = np.vstack([linkage.engine, linkage.rows[-1]])
        speeds = np.linalg.lstsq(ends, np.array([engine_speed, 0.0]), rcond=None)[0]
        self.speeds: list[float] = speeds.tolist()
        self.sides = [-1] * len(linkage.ids)
        self.impulses = [0.0] * len(linkage.ids)
        """Torque of every row in the last step, Nm."""
        self.slips: list[float] = (linkage.rows @ speeds).tolist()
        self.engine = engine_speed
        self.turbine = float(linkage.turbine @ speeds)
        self.output = 0.0
        self.energy = Energy([0.0] * len(linkage.ids))
        self.sliding = False
        self._kept: dict[tuple[float, tuple[bool, ...]], _Answer] = {}

    def _answer(self, seconds: float, sticks: tuple[bool, ...]) -> _Answer:
        kept = self._kept.get((seconds, sticks))
        if kept is None:
            kept = self._kept[seconds, sticks] = _solve_sticking(self.linkage, seconds, sticks)
        return kept

    def step(
        self,
        seconds: float,
        *,
        capacities: Sequence[float],
        engine: tuple[float, float],
        converter: Callable[[float, float], Torques],
        road_nm: float,
    ) -> None:
        """Move on by one step.

        Args:
            capacities: torque that each row can hold, Nm; one-way clutches hold any, unless it is 0.
            engine: torque of the engine and its slope, as `RoadVehicle.engine_torque` gives.
            converter: as `converter_torques`, for engine and turbine speed.
            road_nm: torque of air and grade against the output.
        """
        sides, count = self.sides, len(self.sides)
        torques = converter(self.engine, self.turbine)
        bounds = self._bound(seconds, capacities)
        ends = (seconds * engine[0], -seconds * road_nm)
        for turn in range(MOST_TURNS):
            held = [
                0.0 if not side else (bound[1] if side > 0 else bound[0])
                for side, bound in zip(sides, bounds, strict=True)
            ]
            answer = self._answer(seconds, tuple([not side for side in sides]))
            free = (answer.full @ np.array([*self.speeds, *held, *ends])).tolist()
            taken, given, governed = self._settle(free, answer.near, seconds, torques=torques, slope=engine[1])
            on_engine, on_turbine = seconds * (governed - taken), seconds * given
            found = [
                own + on_engine * first + on_turbine * second
                for own, first, second in zip(free, answer.by_engine, answer.by_turbine, strict=True)
            ]
            slips, sticking = found[3 : 3 + count], found[3 + count : 3 + 2 * count]
            wrong = _find_wrong(sides, bounds, slips, sticking)
            if not wrong:
                break
            for place, side in wrong if turn < TOGETHER else wrong[:1]:
                sides[place] = side
        moved = [stuck if not side else fixed for side, stuck, fixed in zip(sides, sticking, held, strict=True)]
        mean = ((self.engine + found[0]) / 2, (self.turbine + found[1]) / 2)
        work = self.energy
        work.engine += seconds * (engine[0] + governed) * mean[0]
        work.converter += seconds * (taken * mean[0] - given * mean[1])
        work.road += seconds * road_nm * (self.output + found[2]) / 2
        self._book(found[3 + 2 * count :], moved, slips)
        self.impulses = [item / seconds for item in moved]
        self.engine, self.turbine, self.output = found[0], found[1], found[2]

    def _bound(self, seconds: float, capacities: Sequence[float]) -> list[tuple[float, float]]:
        """Give the impulses that each row can hold, and set free what can hold none."""
        bounds, sides = [], self.sides
        for place, (cap, let) in enumerate(zip(capacities, self.linkage.lets, strict=True)):
            if cap <= 0.0:
                bounds.append((0.0, 0.0))
                sides[place] = sides[place] or -1
            elif not let:
                bounds.append((-seconds * cap, seconds * cap))
            else:
                bounds.append((0.0, math.inf) if let > 0 else (-math.inf, 0.0))
                sides[place] = sides[place] and -let
        return bounds

    def _settle(
        self, free: Sequence[float], near: tuple[float, float, float], seconds: float, *, torques: Torques, slope: float
    ) -> tuple[float, float, float]:
        """Solve converter and governor with the speeds at the end of the step, linearised.

        Args:
            free: engine and turbine speed that would be without them.
            slope: of the engine's torque over its speed.
        Returns: torque that the converter takes, torque that it gives, and what the governor adds.
        """
        taken, given, (a, b, c, d) = torques
        ee, et, tt = seconds * near[0], seconds * near[1], seconds * near[2]
        # u, w: change of engine and turbine speed; on the engine -taken + (slope - a) u - b w, on the turbine given + c u + d w
        uu, uw = 1 - ee * (slope - a) - et * c, ee * b - et * d
        wu, ww = -et * (slope - a) - tt * c, 1 + et * b - tt * d
        right_u = free[0] - self.engine - ee * taken + et * given
        right_w = free[1] - self.turbine - et * taken + tt * given
        det = uu * ww - uw * wu
        u, w = (right_u * ww - uw * right_w) / det, (uu * right_w - wu * right_u) / det
        return taken + a * u + b * w, given + c * u + d * w, slope * u

    def _book(self, rest: list[float], moved: list[float], slips: list[float]) -> None:
        """Write down the heat of this step: impulse times the mean of both slips is exact."""
        size, work = len(self.speeds), self.energy
        speeds = rest[:size]
        work.bearings += (
            sum([lost * (old + new) for lost, old, new in zip(rest[size:], self.speeds, speeds, strict=True)]) / 2
        )
        last, sliding = len(moved) - 1, False
        for place, impulse in enumerate(moved):
            if impulse:
                work.elements[place] -= impulse * (self.slips[place] + slips[place]) / 2
                if self.sides[place] and place != last:
                    sliding = True
        self.sliding, self.slips, self.speeds = sliding, slips, speeds

    def kinetic_j(self) -> float:
        """Give the energy of motion, J."""
        speeds = np.array(self.speeds)
        return float(speeds @ self.linkage.mass @ speeds) / 2


def _find_wrong(
    sides: list[int], bounds: list[tuple[float, float]], slips: list[float], sticking: list[float]
) -> list[tuple[int, int]]:
    """Name the rows that stick beyond their friction, or slide against it, and what each should do instead."""
    wrong = []
    for place, side in enumerate(sides):
        low, high = bounds[place]
        if not side:
            if sticking[place] > high + ROUNDING:
                wrong.append((place, 1))
            elif sticking[place] < low - ROUNDING:
                wrong.append((place, -1))
        elif low != high and slips[place] * side > SLIP_ZERO:
            wrong.append((place, STICKS))
    return wrong


def _solve_sticking(link: Linkage, seconds: float, sticks: tuple[bool, ...]) -> _Answer:
    inverse = np.linalg.inv(link.mass)
    chosen = np.flatnonzero(sticks)
    rows = link.rows[chosen]
    hold = np.zeros((len(link.ids), len(inverse)))
    if len(chosen):
        across = rows @ inverse
        square = across @ rows.T
        square += SOFT * float(np.trace(square)) * np.eye(len(chosen))
        hold[chosen] = np.linalg.solve(square, across)
    left = inverse - inverse @ link.rows.T @ hold
    ends = np.vstack([link.engine, link.turbine, link.output])
    by_impulse = np.vstack([ends @ left, link.rows @ left, -hold, left])
    lost = seconds * link.drag
    pushes = np.hstack([link.mass - lost, link.rows.T, link.engine[:, None], link.output[:, None]])
    size = len(inverse)
    taken = np.hstack([lost, np.zeros((size, pushes.shape[1] - size))])
    on_engine, on_turbine = by_impulse @ link.engine, by_impulse @ link.turbine
    return _Answer(
        np.ascontiguousarray(np.vstack([by_impulse @ pushes, taken])),
        [*on_engine.tolist(), *[0.0] * size],
        [*on_turbine.tolist(), *[0.0] * size],
        near=(float(on_engine[0]), float(on_turbine[0]), float(on_turbine[1])),
    )
