"""How much each element must hold during a shift so that the gear train goes from one gear to the other in its time.

The torques follow from the gear train itself (inverse dynamics): members shall speed up or slow down evenly, dry friction
only opposes slip, one-way clutches push one way. What comes on, what lets go, and how long it must still hold, all
follow; shifts in which several elements change at once too.
"""

from collections.abc import Mapping

import numpy as np
from scipy.optimize import nnls

from shiftlore.driving.driveable import Driveable
from shiftlore.driving.road_vehicles import RoadVehicle
from shiftlore.gearing import Array

# Cost of a torque against a miss of the aim: of equal ways the one with the smallest torques is taken.
RIDGE = 1e-4
# What slips less than this hardly slips, and what comes on from neutral soon stops: either may be pushed both ways. A
# one-way clutch that hardly slips carries load.
HOLDS_RAD_S = 1.0


class Swap:
    """One shift, as planned when it begins.

    Args:
        old, new: gears, or "" for neutral.
        now: speeds of the independent motions, shape (d,).
        output: output speed, rad/s.
    """

    def __init__(self, unit: Driveable, vehicle: RoadVehicle, *, old: str, new: str, now: Array, output: float):
        motion = unit.motion
        goal = unit.moves[new] * unit.ratios[new] * output
        self.gap = float(motion.b_in @ (goal - now))
        self._into = motion.b_in
        inertia = vehicle.member_kgm2 * motion.basis.T @ motion.basis
        turning = vehicle.engine_kgm2 + vehicle.turbine_kgm2
        self.pull_nm = turning * abs(self.gap) / vehicle.sync_s
        inertia += turning * np.outer(motion.b_in, motion.b_in)
        self._push = inertia @ (goal - now) / vehicle.sync_s
        going, coming = unit.parts[old] - unit.parts[new], unit.parts[new] - unit.parts[old]
        self._names: list[str] = []
        columns = []
        for name in sorted(going | coming):
            row = motion.rows[motion.places[name]]
            slip = float(row @ (now if name in coming else goal))
            ways = (-np.sign(slip),) if old and abs(slip) > HOLDS_RAD_S else (1.0, -1.0)
            columns += [way * row for way in ways]
            self._names += [name] * len(ways)
        for place, let in zip(motion.one_way, motion.lets, strict=True):
            row = motion.rows[place]
            if max(let * float(row @ now), let * float(row @ goal)) < HOLDS_RAD_S:
                columns.append(let * row)
        for row in [motion.b_out, *(motion.rows[motion.places[name]] for name in unit.parts[old] & unit.parts[new])]:
            columns += [row, -row]
        ridge = np.diag([RIDGE] * len(self._names) + [0.0] * (len(columns) - len(self._names)))
        self._matrix = np.vstack([np.array(columns).T, ridge])

    def torques(self, turbine_nm: float) -> Mapping[str, float]:
        """Give the torque that each coming and each going coupling must hold now, Nm.

        Args:
            turbine_nm: torque of the converter and its clutch on the turbine.
        """
        aim = np.zeros(len(self._matrix))
        aim[: len(self._push)] = self._push - turbine_nm * self._into
        found = nnls(self._matrix, aim)[0]
        aimed = dict.fromkeys(self._names, 0.0)
        for name, torque in zip(self._names, found.tolist(), strict=False):
            aimed[name] = max(aimed[name], torque)
        return aimed
