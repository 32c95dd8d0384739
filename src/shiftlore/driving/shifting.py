"""The transmission's control: which gear when, and how much torque each element may hold at any moment of a shift."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from shiftlore.driving.driveable import Driveable
from shiftlore.driving.linkage import LOCKUP
from shiftlore.driving.road_vehicles import RPM, RoadVehicle
from shiftlore.driving.routes import NEUTRAL, PARK, REVERSE
from shiftlore.driving.swapping import Swap

# Line pressure, bar: the least and most that the regulator makes, and what only moves springs and seals.
SPRING_BAR, MOST_BAR = 1.5, 16.5
LEAST_SHARE = 0.2
# Speeds at which shifts are made, rpm of the turbine: at no throttle, and how much later at full throttle.
SHIFT_RPM, LATER_RPM, LATER_POWER = 1450.0, 4000.0, 1.3
BACK_SHARE = 0.66
"""A downshift comes at this share of the speed of the upshift: the hysteresis."""
DOWN_MOST_RPM = 5200.0
DWELL_S = 1.2
COAST_THROTTLE = 0.02
FARTHEST_DOWN = 3
# Converter clutch: allowed between these, closed in this time, so long after a shift.
LOCK_RPM, OPEN_RPM, LOCK_MOST_THROTTLE, LOCK_MOST_BRAKE = 1150.0, 1000.0, 0.75, 0.04
LOCK_AFTER_S, LOCK_RAMP_S, LOCK_SLACK_S = 1.0, 0.7, 0.15
LOCK_MARGIN, LOCK_LEAST_NM = 1.4, 50.0
"""It is pressed as hard as the engine's torque asks for, and a margin more."""
OIL_LAG_S = 0.03
SYNC_RAD_S = 4.0
AHEAD_S = 0.03
"""Elements are told so long before the speeds meet that they will."""
MOST_SYNC_S = 1.6
HOLD_MARGIN = 1.1
BEHIND_GAIN = 3.0
"""How much more torque is asked for where the turbine lags behind the aim by the whole step."""
LEAST_NM = 12.0
PARKED_NM = 1e6
IDLE, FILL, SWAP, SYNC = "", "fill", "swap", "sync"


@dataclass(frozen=True, slots=True)
class Senses:
    """What the control knows at one moment; speeds in rad/s, pedals 0 to 1, `motion` as in `Motion`."""

    lever: str
    throttle: float
    brake: float
    engine: float
    turbine: float
    output: float
    turbine_nm: float
    engine_nm: float
    fluid_c: float
    motion: Sequence[float] = ()


@dataclass(slots=True)
class _Piston:
    """One element's oil: how full, how much torque it is told to hold and does hold, and since when it should let go."""

    filled: float = 0.0
    wanted: float = 0.0
    holds: float = 0.0
    on: bool = False
    fill_left: float = 0.0
    keeps: float = 0.0


@dataclass(slots=True, kw_only=True)
class Wrongs:
    """What defects do to the control and its elements, by coupling of the train where one is meant.

    Args:
        lost_share: coupling -> share of its capacity that is gone.
        slow_fill, slow_release: element -> seconds.
        stuck: couplings that never let go.
        adds, takes: commanded gear -> couplings that close, or stay open, against the chart.
        lock_share: share of the converter clutch's capacity that is left; `lock_stuck`: share of it that never opens.
        lock_never: the converter clutch is never closed.
        shudder: swing of its friction as a share; `engage_late_s`: seconds that an engagement comes late.
        pressure_share: most of the line pressure that is had; `pressure_full`: always full.
        back_share: `BACK_SHARE`, or more where gears are hunted; `failsafe_s`: when the module gives up.
    """

    lost_share: dict[str, float] = field(default_factory=dict)
    slow_fill: dict[str, float] = field(default_factory=dict)
    slow_release: dict[str, float] = field(default_factory=dict)
    stuck: set[str] = field(default_factory=set)
    adds: dict[str, frozenset[str]] = field(default_factory=dict)
    takes: dict[str, frozenset[str]] = field(default_factory=dict)
    lock_share: float = 1.0
    lock_stuck: float = 0.0
    lock_never: bool = False
    shudder: float = 0.0
    engage_late_s: float = 0.0
    pressure_share: float = 1.0
    pressure_full: bool = False
    back_share: float = BACK_SHARE
    failsafe_s: float = math.inf


class Control:
    """Chooses gears and lets elements come and go; one tick at a time."""

    def __init__(self, unit: Driveable, vehicle: RoadVehicle, wrongs: Wrongs, ids: tuple[str, ...]):
        self.unit, self.vehicle, self.wrongs, self.ids = unit, vehicle, wrongs, ids
        friction = set().union(*unit.parts.values(), *unit.brakes_engine.values())
        self.pistons = {item: _Piston() for item in ids if item in friction}
        self.most = _size_elements(unit, vehicle)
        self._hardest = {
            gear: max((load / self.most[name] for name, load in loads.items() if name in self.pistons), default=0.0)
            for gear, loads in unit.shares.items()
        }
        self._is_forced = bool(wrongs.stuck or wrongs.adds)
        self.gear = ""
        """The gear that is commanded; empty for neutral."""
        self.old = ""
        self.phase = IDLE
        self.lock_percent = 0.0
        self.line_share = LEAST_SHARE
        self.busy = False
        self._clock = 0.0
        self._since = 0.0
        self._time = 0.0
        self._lock_clock = 0.0
        self._swap: Swap | None = None
        for item in unit.parts[""]:
            if item in self.pistons:
                self.pistons[item] = _Piston(1.0, math.inf, 0.0, True)

    @property
    def line_bar(self) -> float:
        """The line pressure that the control asks for and the pump makes, bar."""
        return SPRING_BAR + self.line_share * (MOST_BAR - SPRING_BAR)

    def commanded(self, lever: str) -> str:
        """Name the gear as it stands in a recording."""
        return lever if lever in (PARK, NEUTRAL, REVERSE) else (self.gear or NEUTRAL)

    def tick(self, seconds: float, senses: Senses) -> dict[str, float]:
        """Go on by one tick.

        Returns: coupling or `LOCKUP` -> torque that it can hold, Nm.
        """
        self._time += seconds
        self._clock += seconds
        self._since += seconds
        self._choose(senses)
        self._set_line(senses)
        self._steer(senses)
        moving = False
        for name, piston in self.pistons.items():
            if piston.on or piston.holds or self._is_forced:
                self._move_oil(name, piston, seconds, senses)
                moving = moving or (piston.on and piston.holds != piston.wanted < math.inf)
        caps = {name: piston.holds for name, piston in self.pistons.items()}
        caps[LOCKUP] = self._lock(seconds, senses)
        self.busy = self.phase != IDLE or moving or 0 < self.lock_percent < 100
        return caps

    def _choose(self, senses: Senses) -> None:
        if senses.lever in (PARK, NEUTRAL):
            wanted = ""
        elif senses.lever == REVERSE:
            wanted = self.unit.reverse or ""
        elif self._time >= self.wrongs.failsafe_s:
            wanted = self.unit.sheet.failsafe_gear or self.unit.forward[0]
        elif self.gear not in self.unit.forward:
            wanted = self.unit.forward[0]
        else:
            wanted = self._schedule(senses) if self.phase == IDLE else self.gear
        if wanted != self.gear and (self.phase == IDLE or not wanted or senses.lever == REVERSE or not self.gear):
            self._begin(wanted, senses)

    def _schedule(self, senses: Senses) -> str:
        """Choose the forward gear by throttle and speed."""
        unit, place = self.unit, self.unit.forward.index(self.gear)
        rpm = SHIFT_RPM + LATER_RPM * senses.throttle**LATER_POWER
        out = max(senses.output, 0.0) * RPM
        up = place + 1 < len(unit.forward) and out * unit.ratios[self.gear] > rpm
        if up and self._since > DWELL_S:
            return unit.forward[place + 1]
        down = place
        while down and place - down < FARTHEST_DOWN:
            lower = out * unit.ratios[unit.forward[down - 1]]
            if lower > self.wrongs.back_share * rpm or lower > DOWN_MOST_RPM:
                break
            down -= 1
        return unit.forward[down] if self._since > DWELL_S / 3 or senses.throttle > 0.6 else self.gear

    def _begin(self, gear: str, senses: Senses) -> None:
        self.old, self.gear = self.gear, gear
        self.phase, self._clock, self._since = FILL, 0.0, 0.0
        late = {
            name: self.wrongs.slow_fill.get(name, 0.0)
            for name in self.unit.elements[gear] - self.unit.elements[self.old]
        }
        held = {
            name: self.wrongs.slow_release.get(name, 0.0)
            for name in self.unit.elements[self.old] - self.unit.elements[gear]
        }
        slower = self.wrongs.engage_late_s if not self.old else 0.0
        for name, piston in self.pistons.items():
            if name in self._coming and not piston.on:
                own = late.get(name, 0.0) if not self.unit.is_lumped else max(late.values(), default=0.0)
                piston.on, piston.filled, piston.wanted = True, 0.0, 0.0
                piston.fill_left = self._fill_s(senses) + own + slower
            if name in self._going:
                piston.keeps = held.get(name, 0.0) if not self.unit.is_lumped else max(held.values(), default=0.0)
        if not gear:
            self.phase = IDLE

    @property
    def _coming(self) -> frozenset[str]:
        return self.unit.parts[self.gear] - self.unit.parts[self.old]

    @property
    def _going(self) -> frozenset[str]:
        return self.unit.parts[self.old] - self.unit.parts[self.gear]

    def _fill_s(self, senses: Senses) -> float:
        """Cold oil fills slowly (judgement: half as long again at 10 degrees)."""
        return self.vehicle.fill_s * (1 + max(60 - senses.fluid_c, 0.0) / 100)

    def _steer(self, senses: Senses) -> None:
        """Say what every element should hold now."""
        unit, vehicle = self.unit, self.vehicle
        if self.phase == IDLE:
            for name, piston in self.pistons.items():
                coasts = senses.throttle < COAST_THROTTLE and name in unit.brakes_engine.get(self.gear, ())
                on = name in unit.parts[self.gear] or coasts
                if on and not piston.on:
                    piston.filled, piston.fill_left = 0.0, self._fill_s(senses)
                piston.wanted = math.inf if on else 0.0
                piston.on = on
            return
        gap = unit.ratios[self.gear] * senses.output - senses.turbine
        if self.phase == FILL and self._clock >= self._fill_s(senses) * 1.05:
            now = np.array(senses.motion)
            self._swap = Swap(unit, vehicle, old=self.old, new=self.gear, now=now, output=senses.output)
            self.phase, self._clock = SWAP, 0.0
        if self.phase == FILL or self._swap is None:
            return
        part = min(self._clock / (vehicle.torque_s * (1.0 if self.old else 1.6)), 1.0)
        if self.phase == SWAP and part >= 1.0:
            self.phase, self._clock = SYNC, 0.0
        near = max(SYNC_RAD_S, AHEAD_S * abs(self._swap.gap) / vehicle.sync_s)
        is_near = abs(gap) < near or gap * self._swap.gap < 0
        if self.phase == SYNC and (is_near or self._clock > MOST_SYNC_S):
            self.phase, self._since = IDLE, 0.0
            return self._steer(senses)
        aimed = self._swap.torques(senses.turbine_nm)
        need = max(abs(senses.turbine_nm), LEAST_NM)
        for name in self._coming:
            static = need * unit.shares[self.gear].get(name, 0.0)
            behind = self._clock / vehicle.sync_s - (1 - gap / self._swap.gap if self._swap.gap else 0.0)
            growth = 1 + BEHIND_GAIN * max(behind, 0.0)
            aim = aimed[name] * growth if self.phase == SYNC else part * min(aimed[name], static)
            if self._clock > MOST_SYNC_S / 2:
                aim = max(aim, static)
            self.pistons[name].wanted = aim
        for name in self._going:
            static = need * unit.shares.get(self.old, {}).get(name, 0.0) * HOLD_MARGIN
            self.pistons[name].wanted = aimed[name] if self.phase == SYNC else part * aimed[name] + (1 - part) * static
        return None

    def _set_line(self, senses: Senses) -> None:
        """Raise the line pressure so that every element of the gear holds its torque with the margin."""
        torque = max(abs(senses.turbine_nm), 0.35 * self.vehicle.torque_nm * self.vehicle.boost * senses.throttle)
        if self.phase in (SWAP, SYNC) and self._swap is not None:
            torque += self._swap.pull_nm
        hardest = self._hardest.get(self.gear, 0.0)
        if self.phase != IDLE:
            hardest = max(hardest, self._hardest.get(self.old, 0.0))
        share = max(LEAST_SHARE, self.vehicle.margin * hardest * torque)
        if self.wrongs.pressure_full or self._time >= self.wrongs.failsafe_s:
            share = 1.0
        self.line_share = min(share, 1.0, self.wrongs.pressure_share)

    def _move_oil(self, name: str, piston: _Piston, seconds: float, senses: Senses) -> None:
        wrongs = self.wrongs
        line = self.line_share * self.most[name] * (1 - wrongs.lost_share.get(name, 0.0))
        if name in wrongs.stuck or name in wrongs.adds.get(self.gear, ()):
            piston.holds += min(seconds / OIL_LAG_S, 1.0) * (line - piston.holds)
            return
        if name in wrongs.takes.get(self.gear, ()):
            piston.holds = 0.0
            return
        if piston.on and piston.filled < 1.0:
            piston.fill_left -= seconds
            if piston.fill_left > 0:
                piston.holds = 0.0
                return
            piston.filled = 1.0
        if not piston.on:
            piston.filled = 0.0
        goal = min(piston.wanted, line)
        if goal < piston.holds and piston.keeps > 0 and name not in self.unit.parts[self.gear]:
            piston.keeps -= seconds
            return
        piston.holds += min(seconds / OIL_LAG_S, 1.0) * (goal - piston.holds)
        if abs(goal - piston.holds) < 0.01:
            piston.holds = goal

    def _lock(self, seconds: float, senses: Senses) -> float:
        """Open and close the converter clutch; gives the torque that it holds."""
        rpm = senses.turbine * RPM
        may = (
            self.gear in self.unit.lockup
            and self.phase == IDLE
            and self._since > LOCK_AFTER_S
            and senses.throttle < LOCK_MOST_THROTTLE
            and senses.brake < LOCK_MOST_BRAKE
            and rpm > (LOCK_RPM if self.lock_percent == 0 else OPEN_RPM)
            and self._time < self.wrongs.failsafe_s
        )
        self._lock_clock = self._lock_clock + seconds if may else 0.0
        step = seconds / LOCK_RAMP_S
        if may and self._lock_clock > LOCK_SLACK_S:
            self.lock_percent = min(self.lock_percent + 100 * step, 100.0)
        elif not may:
            self.lock_percent = max(self.lock_percent - 500 * step, 0.0)
        wrongs = self.wrongs
        full = LOCK_MARGIN * self.vehicle.torque_nm * wrongs.lock_share
        asked = min(LOCK_MARGIN * max(abs(senses.engine_nm), LOCK_LEAST_NM) * wrongs.lock_share, full)
        held = 0.0 if wrongs.lock_never else asked * self.lock_percent / 100
        return max(held, wrongs.lock_stuck * full)


def _size_elements(unit: Driveable, vehicle: RoadVehicle) -> Mapping[str, float]:
    """Give each coupling the capacity that the hardest gear needs at full line pressure, Nm."""
    first = max(unit.ratios.values())
    most: dict[str, float] = {}
    for name, loads in unit.shares.items():
        boost = vehicle.boost if abs(unit.ratios[name]) > 0.5 * first else 1.3
        for item, load in loads.items():
            most[item] = max(most.get(item, 0.0), vehicle.margin * load * vehicle.torque_nm * boost)
    floor = 0.3 * max(most.values())
    applied = set().union(*unit.parts.values(), *unit.brakes_engine.values())
    return {item: max(most.get(item, 0.0), floor) for item in {*most, *applied}}
