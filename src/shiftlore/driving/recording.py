"""Drive a unit over a route: the columns of a recording, and beside it what was true."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from shiftlore.basics import UsageProblem
from shiftlore.driving.drive_columns import DriveEvent, list_events, sense_columns, spoil_sensors
from shiftlore.driving.driveable import Driveable, prepare_unit
from shiftlore.driving.injected import work_defects
from shiftlore.driving.linkage import BRAKES, LOCKUP, Energy, Mover, Torques, build_linkage
from shiftlore.driving.road_vehicles import GRAVITY, RPM, RoadVehicle, converter_torques, draw_vehicle
from shiftlore.driving.routes import NEUTRAL, PARK, Driver, Leg, draw_route
from shiftlore.driving.shifting import PARKED_NM, Control, Senses
from shiftlore.gearing import DRIVEN, analyse_states
from shiftlore.sheets import DriveDefect, UnitSheet

TICK_S = 0.02
SHORT_STEPS = 5
"""A tick in which something slips or is about to is walked in so many steps."""
SHUDDER_HZ, SHUDDER_SPREAD_HZ = 11.0, 1.5
PRESSED = 0.9
"""Both pedals beyond this share of their travel: a stall test."""
STALL_SIGN = -0.05
FREEWHEEL_BOOST = 1.0
MOST_HZ, LEAST_HZ = 1000.0, 1.0
SEIZED_NM = 1e5
NUMBERS = (
    "time_s", "engine_rpm", "input_rpm", "output_rpm", "road_kmh", "throttle_percent", "converter_clutch_percent",
    "fluid_temp_c", "line_pressure_bar",
)  # fmt: skip


@dataclass(frozen=True, slots=True, eq=False)
class DriveTruth:
    """What no recording shows.

    Args:
        gear_had: per row the gear that the elements make, empty while none is.
        slips: element -> slip speed per row, rpm.
        holds: element -> torque that it can hold per row, Nm.
        columns: the columns before any sensor.
        events: in the order of time.
        energy: where it went; `kinetic_j`: energy of motion at the start and at the end.
    """

    gear_had: NDArray[np.str_]
    slips: Mapping[str, NDArray[np.float64]]
    holds: Mapping[str, NDArray[np.float64]]
    columns: Mapping[str, NDArray]
    events: tuple[DriveEvent, ...]
    energy: Energy
    kinetic_j: tuple[float, float]


@dataclass(frozen=True, slots=True, eq=False)
class Drive:
    """A recording: columns of one length, and the truth beside it."""

    columns: Mapping[str, NDArray]
    truth: DriveTruth
    vehicle: RoadVehicle


def simulate_drive(
    sheet: UnitSheet,
    *,
    defects: Sequence[DriveDefect] = (),
    seed: int = 0,
    route: Sequence[Leg] | None = None,
    rate_hz: float = 50.0,
    noise: bool = True,
    vehicle: RoadVehicle | None = None,
) -> Drive:
    """Drive a unit, sound or with defects, and record it.

    Args:
        seed: draws the vehicle and the way round `USUAL_ROUTE`, where none is given, the noise, and when sensors fail.
        noise: whether sensors are as they are; else the columns are true.
    Raises: UsageProblem: the unit cannot be driven, or the sheet does not tell what a defect does.
    """
    if not LEAST_HZ <= rate_hz <= MOST_HZ:
        raise UsageProblem(
            f"{rate_hz:g} rows a second cannot be recorded. Write a number from {LEAST_HZ:g} to {MOST_HZ:g}."
        )
    unit = prepare_unit(sheet)
    generator = np.random.default_rng(seed)
    drawn, usual = draw_vehicle(generator), draw_route(generator)
    made = vehicle or drawn
    for item in defects:
        if item.kind == "stall_off":
            boost = FREEWHEEL_BOOST if item.size < STALL_SIGN else made.boost
            made = replace(made, k_stall=made.k_stall * (1 + item.size), boost=boost)
    run = _Run(unit, made, defects, route or usual, rate_hz)
    run.shudder_hz = SHUDDER_HZ + SHUDDER_SPREAD_HZ * float(generator.uniform(-1, 1))
    run.go()
    true = run.columns()
    columns = sense_columns(true, generator) if noise else dict(true)
    spoiled = spoil_sensors(columns, defects, generator)
    return Drive(columns, run.tell(true, spoiled), made)


class _Run:
    """One drive while it goes on."""

    def __init__(
        self,
        unit: Driveable,
        vehicle: RoadVehicle,
        defects: Sequence[DriveDefect],
        route: Sequence[Leg],
        rate_hz: float,
    ):
        self.unit, self.vehicle = unit, vehicle
        self.wrongs = work_defects(unit, defects)
        linkage = build_linkage(unit.train, unit.motion, vehicle, unit.top_ratio)
        seized = [name in self.wrongs.stuck for name in linkage.ids]
        lets = tuple(0 if stuck else let for let, stuck in zip(linkage.lets, seized, strict=True))
        self.linkage = replace(linkage, lets=lets)
        self.control = Control(unit, vehicle, self.wrongs, self.linkage.ids)
        self.driver = Driver(route)
        self.mover = Mover(self.linkage, vehicle.idle_rpm / RPM)
        self.every = math.ceil(1 / rate_hz / TICK_S - 1e-9)
        self.tick_s = 1 / rate_hz / self.every
        self.fluid_c = vehicle.fluid_c
        self.shudder_hz = SHUDDER_HZ
        self.rows: list[tuple[float, ...]] = []
        self.texts: list[tuple[str, str, str]] = []
        self.stalled: list[bool] = []
        self.slips: list[list[float]] = []
        self.holds: list[list[float]] = []
        self.kinetic_j = (self.mover.kinetic_j(), 0.0)
        self._lock, self._brake = len(self.linkage.ids) - 2, len(self.linkage.ids) - 1
        self._idle = self._hold_always(linkage.lets)
        self._had: dict[tuple[bool, ...], str] = {}
        self._engine_nm = 0.0

    def _hold_always(self, built: Sequence[int]) -> list[tuple[str, float]]:
        """Say what each row holds of which the control knows nothing: one-way clutches hold, seized ones both ways."""
        gone = {name for name, share in self.wrongs.lost_share.items() if share >= 1}
        return [
            (name, 0.0 if not let or name in gone else SEIZED_NM if name in self.wrongs.stuck else math.inf)
            for name, let in zip(self.linkage.ids, built, strict=True)
        ]

    def go(self) -> None:
        """Drive to the end of the route."""
        count = round(self.driver.seconds / self.tick_s)
        for number in range(count + 1):
            time_s = number * self.tick_s
            leg = self.driver.leg_at(time_s)
            kmh = self.mover.output / self.linkage.final_drive * self.vehicle.wheel_radius_m * 3.6
            self.driver.press(leg, abs(kmh), self.tick_s)
            caps = self._control(leg)
            if number % self.every == 0:
                self._note(time_s, leg, kmh)
            self._move(time_s, leg, caps)
        self.kinetic_j = (self.kinetic_j[0], self.mover.kinetic_j())

    def _converter(self, engine: float, turbine: float) -> Torques:
        return converter_torques(engine, turbine, self.vehicle.capacity_si, self.vehicle.boost)

    def _control(self, leg: Leg) -> list[float]:
        """Let the control decide; gives the torque that every row can hold."""
        mover, vehicle = self.mover, self.vehicle
        turbine_nm = self._converter(mover.engine, mover.turbine)[1] + mover.impulses[self._lock] * -1.0
        senses = Senses(
            leg.lever,
            self.driver.throttle,
            self.driver.brake,
            engine=mover.engine,
            turbine=mover.turbine,
            output=mover.output,
            turbine_nm=turbine_nm,
            engine_nm=self._engine_nm,
            fluid_c=self.fluid_c,
            motion=mover.speeds[1:],
        )
        caps = self.control.tick(self.tick_s, senses)
        final = self.linkage.final_drive
        brakes = self.driver.brake * vehicle.brakes_nm
        brakes += vehicle.rolling * vehicle.mass_kg * GRAVITY * vehicle.wheel_radius_m
        caps[BRAKES] = PARKED_NM if leg.lever == PARK and abs(mover.output) < 1.0 else brakes / final
        return [caps.get(name, idle) for name, idle in self._idle]

    def _move(self, time_s: float, leg: Leg, caps: list[float]) -> None:
        """Walk one tick, in short steps where something slips or is about to."""
        mover, vehicle = self.mover, self.vehicle
        shudders = self.wrongs.shudder > 0 and caps[self._lock] > 0
        steps = SHORT_STEPS if self.control.busy or mover.sliding or shudders else 1
        seconds = self.tick_s / steps
        final, radius = self.linkage.final_drive, vehicle.wheel_radius_m
        grade = vehicle.mass_kg * GRAVITY * leg.grade_percent / 100
        air = 0.5 * vehicle.air_kgm3 * vehicle.drag_m2
        full = caps[self._lock]
        before = mover.energy.converter + sum(mover.energy.elements[: self._lock + 1]) + mover.energy.bearings
        for step in range(steps):
            if shudders:
                angle = 2 * math.pi * self.shudder_hz * (time_s + step * seconds)
                caps[self._lock] = full * (1 - self.wrongs.shudder * (1 + math.sin(angle)))
            speed = mover.output / final * radius
            engine = vehicle.engine_torque(mover.engine * RPM, self.driver.throttle)
            self._engine_nm = engine[0]
            mover.step(
                seconds,
                capacities=caps,
                engine=engine,
                converter=self._converter,
                road_nm=(air * speed * abs(speed) + grade) * radius / final,
            )
        heat = mover.energy.converter + sum(mover.energy.elements[: self._lock + 1]) + mover.energy.bearings - before
        loss = vehicle.cooler_w_per_c * (vehicle.coolant_c - self.fluid_c) * self.tick_s
        self.fluid_c += (heat + loss) / vehicle.heat_j_per_c

    def _note(self, time_s: float, leg: Leg, kmh: float) -> None:
        mover = self.mover
        speeds = (mover.engine * RPM, mover.turbine * RPM, mover.output * RPM)
        rest = (self.driver.throttle * 100, self.control.lock_percent, self.fluid_c, self.control.line_bar)
        self.rows.append((time_s, *speeds, abs(kmh), *rest))
        self.texts.append((self.control.commanded(leg.lever), leg.lever, self._find_gear(leg.lever)))
        self.stalled.append(self.driver.brake > PRESSED and self.driver.throttle > PRESSED)
        self.slips.append(mover.slips)
        self.holds.append([piston.holds for piston in self.control.pistons.values()])

    def _find_gear(self, lever: str) -> str:
        """Name the gear that what sticks makes, or nothing."""
        sticks = tuple(not side for side in self.mover.sides[: self._lock])
        if sticks not in self._had:
            self._had[sticks] = self._name_gear(sticks)
        had = self._had[sticks]
        return had or (lever if lever in (PARK, NEUTRAL) else "")

    def _name_gear(self, sticks: tuple[bool, ...]) -> str:
        motion = self.unit.motion
        closed = motion.mask(name for name, stuck in zip(self.linkage.ids, sticks, strict=False) if stuck)
        result = analyse_states(motion, closed[None])
        if result.kind[0] != DRIVEN:
            return ""
        out = float(result.out[0])
        near = [name for name, ratio in self.unit.ratios.items() if abs(out * ratio - 1) < 0.01]
        return near[0] if near else ""

    def columns(self) -> dict[str, NDArray]:
        """Give the true columns."""
        numbers = np.array(self.rows).T
        found: dict[str, NDArray] = dict(zip(NUMBERS, numbers, strict=True))
        found["gear_commanded"] = np.array([row[0] for row in self.texts])
        found["lever"] = np.array([row[1] for row in self.texts])
        order = (*NUMBERS[:5], "gear_commanded", "lever", *NUMBERS[5:])
        return {name: found[name] for name in order}

    def tell(self, columns: Mapping[str, NDArray], spoiled: Sequence[tuple[str, str, int, int]]) -> DriveTruth:
        """Say what was true."""
        had = np.array([row[2] for row in self.texts])
        slips = np.array(self.slips).T * RPM
        ids = self.linkage.ids
        time_s = columns["time_s"]
        events = list_events(columns, had, self.unit.ratios, stalled=np.array(self.stalled))
        events += [
            DriveEvent(kind, name, float(time_s[first]), float(time_s[last]), float(time_s[last] - time_s[first]))
            for kind, name, first, last in spoiled
        ]
        return DriveTruth(
            had,
            {name: slips[place] for place, name in enumerate(ids) if name not in (LOCKUP, BRAKES)},
            holds=dict(zip(self.control.pistons, np.array(self.holds).T, strict=True)),
            columns=columns,
            events=tuple(sorted(events, key=lambda event: event.start_s)),
            energy=self.mover.energy,
            kinetic_j=self.kinetic_j,
        )
