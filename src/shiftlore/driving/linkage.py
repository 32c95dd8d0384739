"""The turning masses of a vehicle as matrices, and one step in time with dry friction.

Speeds are v = basis q and the engine's; every element, one-way clutch, the converter clutch and the brakes are rows over
them. In each step the impulses are found that let no closed row slip unless its friction is used up (Moreau 1988; box
constraints as in Cottle, Pang and Stone, The Linear Complementarity Problem): stable with any step, and exact at rest.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from shiftlore.driving.road_vehicles import RoadVehicle
from shiftlore.gearing.motions import Array, Motion
from shiftlore.gearing.trains import ENGINE, INPUT, CouplingKind, Train

LOCKUP, BRAKES = "(lockup)", "(brakes)"
STICKS = 0
# Compliance that keeps rows that hold the same twice apart: slip of 1e-5 rad/s at most.
SOFT = 1e-7
MOST_TURNS = 60
TOGETHER = 8
"""So often all rows that are wrong change at once; then one by one, which surely ends (Murty 1974)."""
SLIP_ZERO = 1e-6
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
    has_engine = ENGINE in motion.nodes
    extra = 0 if has_engine else 1

    def widen(part: Array) -> Array:
        return np.concatenate([np.zeros((*part.shape[:-1], extra)), part], axis=-1)

    basis, rows = widen(motion.basis), widen(motion.rows)
    engine = basis[motion.nodes[ENGINE]] if has_engine else np.eye(size + 1)[0]
    turbine = basis[motion.nodes[INPUT]] if has_engine else widen(motion.b_in)
    output = widen(motion.b_out)
    final = vehicle.final_drive(top_ratio)
    road = (vehicle.mass_kg * vehicle.wheel_radius_m**2 + vehicle.wheels_kgm2) / final**2
    mass = vehicle.member_kgm2 * basis.T @ basis
    for row, inertia in ((engine, vehicle.engine_kgm2), (turbine, vehicle.turbine_kgm2), (output, road)):
        mass += inertia * np.outer(row, row)
    kept = [place for place, item in enumerate(train.couplings) if item.kind != CouplingKind.CONVERTER]
    return Linkage(
        ids=(*(train.couplings[place].id for place in kept), LOCKUP, BRAKES),
        mass=mass,
        rows=np.vstack([rows[kept], (engine - turbine)[None], output[None]]),
        engine=engine,
        turbine=turbine,
        output=output,
        lets=(*(train.couplings[place].lets for place in kept), 0, 0),
        drag=vehicle.bearing_nms * basis.T @ basis,
        final_drive=final,
    )


@dataclass(slots=True)
class Work:
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


class Mover:
    """Speeds of a vehicle, moved on step by step.

    Rows that stick keep their slip at zero; for each set of them the answer to any impulse is one matrix, kept.
    """

    def __init__(self, linkage: Linkage, engine_speed: float):
        self.linkage = linkage
        self.speeds = np.linalg.lstsq(np.vstack([linkage.engine, linkage.rows[-1]]), [engine_speed, 0.0], rcond=None)[0]
        self.sides = [-1] * len(linkage.ids)
        self.impulses = [0.0] * len(linkage.ids)
        self.slips: list[float] = (linkage.rows @ self.speeds).tolist()
        self.engine = engine_speed
        self.turbine = float(linkage.turbine @ self.speeds)
        self.output = 0.0
        self.work = Work([0.0] * len(linkage.ids))
        self.sliding = False
        self._rows_t = np.ascontiguousarray(linkage.rows.T)
        self._kept: dict[tuple[bool, ...], tuple[Array, Array, Array, tuple[float, float, float]]] = {}

    def _answer(self, sticks: tuple[bool, ...]) -> tuple[Array, Array, Array, tuple[float, float, float]]:
        """Give the matrix from impulses to speeds, slips and impulses of what sticks, and its columns for two torques."""
        kept = self._kept.get(sticks)
        if kept is None:
            link = self.linkage
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
            full = np.ascontiguousarray(np.vstack([ends @ left, link.rows @ left, -hold, left]))
            by_engine, by_turbine = full @ link.engine, full @ link.turbine
            near = (float(by_engine[0]), float(by_turbine[0]), float(by_turbine[1]))
            kept = self._kept[sticks] = (full, by_engine, by_turbine, near)
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
            capacities: torque that each row can hold, Nm; one-way clutches hold any.
            engine: torque of the engine and its slope, as `RoadVehicle.engine_torque` gives.
            converter: as `converter_torques`, for engine and turbine speed.
            road_nm: torque of air and grade against the output.
        """
        link, count = self.linkage, len(self.sides)
        lost = link.drag @ self.speeds
        push = link.mass @ self.speeds - seconds * lost + (seconds * engine[0]) * link.engine
        push -= (seconds * road_nm) * link.output
        torques = converter(self.engine, self.turbine)
        bounds = [
            (-seconds * cap, seconds * cap) if not let else ((0.0, math.inf) if let > 0 else (-math.inf, 0.0))
            for cap, let in zip(capacities, link.lets, strict=True)
        ]
        sides = self.sides
        for place, cap in enumerate(capacities):
            if cap <= 0.0 and (sides[place] == STICKS or link.lets[place]):
                sides[place] = -1
            if cap <= 0.0:
                bounds[place] = (0.0, 0.0)
            elif link.lets[place] and sides[place] and bounds[place][0 if sides[place] < 0 else 1] != 0.0:
                sides[place] = -sides[place]
        for turn in range(MOST_TURNS):
            held = [
                0.0 if not side else (bound[1] if side > 0 else bound[0])
                for side, bound in zip(sides, bounds, strict=True)
            ]
            full, by_engine, by_turbine, near = self._answer(tuple([not side for side in sides]))
            out = full @ (push + self._rows_t @ np.array(held))
            now = out[:2].tolist()
            net = self._net_torques((now[0], now[1]), near, seconds, torques, engine[1])
            out += (seconds * net[0]) * by_engine + (seconds * net[1]) * by_turbine
            found = out.tolist()
            slips, sticking = found[3 : 3 + count], found[3 + count : 3 + 2 * count]
            wrong = self._find_wrong(sides, bounds, slips, sticking)
            if not wrong:
                break
            for place, side in wrong if turn < TOGETHER else wrong[:1]:
                sides[place] = side
        moved = [stuck if not side else fixed for side, stuck, fixed in zip(sides, sticking, held, strict=True)]
        self._book(seconds, out[3 + 2 * count :], lost, net, engine=engine, road_nm=road_nm, moved=moved, slips=slips)
        self.engine, self.turbine, self.output = found[0], found[1], found[2]

    @staticmethod
    def _find_wrong(
        sides: list[int], bounds: list[tuple[float, float]], slips: list[float], sticking: list[float]
    ) -> list[tuple[int, int]]:
        """Name the rows that stick beyond their friction, or slide against it, and what each should do instead."""
        wrong = []
        for place, side in enumerate(sides):
            low, high = bounds[place]
            if not side:
                if sticking[place] > high + 1e-12:
                    wrong.append((place, 1))
                elif sticking[place] < low - 1e-12:
                    wrong.append((place, -1))
            elif low != high and slips[place] * side > SLIP_ZERO:
                wrong.append((place, STICKS))
        return wrong

    def _net_torques(
        self,
        free: tuple[float, float],
        near: tuple[float, float, float],
        seconds: float,
        torques: Torques,
        slope: float,
    ) -> tuple[float, float]:
        """Solve converter and governor with the speeds at the end of the step, linearised: torques beyond the free ones."""
        taken, given, (a, b, c, d) = torques
        ee, et, tt = (seconds * part for part in near)
        # u, w: change of engine and turbine speed; net_e = -taken + (slope - a) u - b w, net_t = given + c u + d w
        first = (1 - ee * (slope - a) - et * c, ee * b - et * d)
        second = (-et * (slope - a) - tt * c, 1 + et * b - tt * d)
        right_u = free[0] - self.engine - ee * taken + et * given
        right_w = free[1] - self.turbine - et * taken + tt * given
        det = first[0] * second[1] - first[1] * second[0]
        u = (right_u * second[1] - first[1] * right_w) / det
        w = (first[0] * right_w - second[0] * right_u) / det
        self._governed = slope * u
        return -taken + (slope - a) * u - b * w, given + c * u + d * w

    def _book(
        self,
        seconds: float,
        speeds: Array,
        lost: Array,
        net: tuple[float, float],
        *,
        engine: tuple[float, float],
        road_nm: float,
        moved: list[float],
        slips: list[float],
    ) -> None:
        """Write down where the energy of this step went; torque times the mean of both speeds is exact."""
        link, work = self.linkage, self.work
        middle = (self.speeds + speeds) / 2
        mean_e, mean_t = float(link.engine @ middle), float(link.turbine @ middle)
        work.engine += seconds * (engine[0] + self._governed) * mean_e
        work.converter -= seconds * ((net[0] - self._governed) * mean_e + net[1] * mean_t)
        work.bearings += seconds * float(lost @ middle)
        work.road += seconds * road_nm * float(link.output @ middle)
        sliding = False
        for place, impulse in enumerate(moved):
            if impulse:
                heat = -impulse * (self.slips[place] + slips[place]) / 2
                work.elements[place] += heat
                sliding = sliding or (bool(self.sides[place]) and place < len(moved) - 1)
        self.sliding = sliding
        self.impulses, self.slips, self.speeds = [item / seconds for item in moved], slips, speeds

    def kinetic_j(self) -> float:
        """Give the energy of motion, J."""
        return float(self.speeds @ self.linkage.mass @ self.speeds) / 2
