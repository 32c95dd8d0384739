"""What a gear train is driven in: engine, converter, masses, road load, fluid; usual numbers, and draws of sound ones."""

import math
from dataclasses import dataclass, replace
from functools import partial

import numpy as np

RPM = 30 / math.pi
"""Turns a minute in one radian a second."""
GRAVITY = 9.81
STEPS = 200
# A usual three-element converter: shape as in textbooks of vehicle dynamics (Wong, Theory of Ground Vehicles, ch. 3;
# Hrovat and Tobler 1985), points by judgement. Capacity is torque over engine speed squared, as a share of that at stall.
_SPEED_RATIO = (0.0, 0.2, 0.4, 0.6, 0.7, 0.8, 0.86, 0.9, 0.95, 0.98, 1.0)
_CAPACITY = (1.0, 0.99, 0.95, 0.85, 0.76, 0.63, 0.52, 0.40, 0.22, 0.09, 0.0)
_TORQUE_RATIO = (2.0, 1.78, 1.55, 1.31, 1.19, 1.07, 1.0, 1.0, 1.0, 1.0, 1.0)
_GRID = np.linspace(0.0, 1.0, STEPS + 1)
CAPACITY = tuple(np.interp(_GRID, _SPEED_RATIO, _CAPACITY).tolist())
TORQUE_RATIO = tuple(np.interp(_GRID, _SPEED_RATIO, _TORQUE_RATIO).tolist())


@dataclass(frozen=True, slots=True, kw_only=True)
class RoadVehicle:
    """A vehicle of the middle class; every number is usual in the trade (judgement), and may be replaced.

    Args:
        mass_kg, wheel_radius_m, wheels_kgm2: the vehicle, and the inertia of all its wheels together.
        drag_m2: drag coefficient times frontal area; `rolling`: rolling resistance as a share of the weight.
        top_kmh_per_1000: road speed at 1,000 rpm of the turbine in the top gear; it sets the final drive.
        engine_kgm2, turbine_kgm2, member_kgm2: inertia of engine with impeller, of turbine and input shaft, and of each
            member of the gear train.
        torque_nm: most torque of the engine, at `peak_rpm`; `idle_rpm` and `most_rpm` are held by its governor.
        k_stall: speed over root of torque of the stalled converter, rpm / sqrt(Nm).
        boost: torque ratio of the stalled converter.
        fill_s: time that a warm element takes to fill; `torque_s`, `sync_s`: aimed length of torque and inertia phase.
        margin: torque that an element can hold over what its gear loads it with, at any load.
        brakes_nm: of all wheels with the pedal down: more than a stalled engine brings to them in first.
        ambient_c, fluid_c: outside, and the fluid at the start; `heat_j_per_c`: fluid and housing together.
    """

    mass_kg: float = 1600.0
    wheel_radius_m: float = 0.32
    wheels_kgm2: float = 4.0
    drag_m2: float = 0.68
    rolling: float = 0.011
    air_kgm3: float = 1.2
    top_kmh_per_1000: float = 48.0
    engine_kgm2: float = 0.20
    turbine_kgm2: float = 0.03
    member_kgm2: float = 0.008
    bearing_nms: float = 0.004
    torque_nm: float = 260.0
    peak_rpm: float = 3800.0
    idle_rpm: float = 720.0
    most_rpm: float = 6300.0
    k_stall: float = 142.0
    boost: float = 2.0
    fill_s: float = 0.18
    torque_s: float = 0.16
    sync_s: float = 0.35
    margin: float = 1.45
    brakes_nm: float = 11_500.0
    ambient_c: float = 20.0
    fluid_c: float = 45.0
    heat_j_per_c: float = 45_000.0
    cooler_w_per_c: float = 120.0
    coolant_c: float = 86.0

    @property
    def capacity_si(self) -> float:
        """Impeller torque at stall over engine speed squared, Nm s2."""
        return (RPM / self.k_stall) ** 2

    def final_drive(self, top_ratio: float) -> float:
        """Give the ratio behind the transmission's output that brings the top gear to its usual road speed.

        Args:
            top_ratio: the smallest forward ratio of the unit.
        """
        wheel_kmh = 1000 / RPM * self.wheel_radius_m * 3.6
        return wheel_kmh / (self.top_kmh_per_1000 * top_ratio)

    def full_torque(self, rpm: float) -> float:
        """Give the engine's torque at full throttle, Nm."""
        off = (rpm - self.peak_rpm) / self.peak_rpm
        return self.torque_nm * max(1 - 0.4 * off * off, 0.3)

    def drag_torque(self, rpm: float) -> float:
        """Give the torque that turns the engine without fuel, Nm."""
        return 16.0 + 0.006 * max(rpm, 0.0)

    def engine_torque(self, rpm: float, throttle: float) -> tuple[float, float]:
        """Give the engine's torque (Nm) and how it changes with its speed where a governor makes it steep (Nm s).

        Args:
            rpm: engine speed.
            throttle: 0 to 1; at low speed little throttle gives most of the torque, as air then is not the limit.
        """
        drag = self.drag_torque(rpm)
        share = throttle ** (0.5 + 0.4 * min(max(rpm, 0.0) / 5000, 1.2)) if throttle > 0 else 0.0
        torque = share * (self.full_torque(rpm) + drag) - drag
        slope = 0.0
        if rpm > self.most_rpm:
            torque -= 0.8 * (rpm - self.most_rpm)
            slope = -0.8 * RPM
            if torque < -drag:
                torque, slope = -drag, 0.0
        governed = 12.0 + 0.6 * (self.idle_rpm - rpm)
        if governed > torque:
            torque, slope = (governed, -0.6 * RPM) if governed < 0.55 * self.torque_nm else (0.55 * self.torque_nm, 0.0)
        return torque, slope


def converter_torques(
    engine: float, turbine: float, capacity_si: float, boost: float
) -> tuple[float, float, tuple[float, float, float, float]]:
    """Give the torque that the converter takes from the engine and gives to the turbine, Nm, and their slopes.

    Args:
        engine, turbine: rad/s; where the turbine is the faster one, it drives the engine without boost.
        capacity_si: impeller torque at stall over engine speed squared; `boost`: torque ratio at stall.
    Returns: impeller torque, turbine torque, and d impeller / d engine, d impeller / d turbine, d turbine / d engine,
        d turbine / d turbine.
    """
    if turbine > engine:
        swapped, _, (a, b, _, _) = converter_torques(turbine, max(engine, 0.0), capacity_si, 1.0)
        return -swapped, -swapped, (-b, -a, -b, -a)
    if engine <= 0:
        return 0.0, 0.0, (0.0, 0.0, 0.0, 0.0)
    ratio = turbine / engine
    place = ratio * STEPS
    cell = min(max(int(place), 0), STEPS - 1)
    part = max(place - cell, 0.0)
    rise = (CAPACITY[cell + 1] - CAPACITY[cell]) if place > 0 else 0.0
    share = CAPACITY[cell] + part * rise
    torque = capacity_si * share * engine * engine
    by_turbine = capacity_si * rise * STEPS * engine
    by_engine = 2 * capacity_si * share * engine - by_turbine * ratio
    gain = (TORQUE_RATIO[cell + 1] - TORQUE_RATIO[cell]) if place > 0 else 0.0
    lift = 1 + (boost - 1) * (TORQUE_RATIO[cell] + part * gain - 1)
    step = (boost - 1) * gain * STEPS / engine
    return (
        torque,
        lift * torque,
        (by_engine, by_turbine, lift * by_engine - step * ratio * torque, lift * by_turbine + step * torque),
    )


def draw_about(generator: np.random.Generator, value: float, percent: float, most: float = 0.5) -> float:
    """Draw a value near another.

    Args:
        percent: its standard deviation; most: share by which it may be off at most.
    """
    return value * float(np.clip(1 + generator.normal() * percent / 100, 1 - most, 1 + most))


def draw_vehicle(generator: np.random.Generator) -> RoadVehicle:
    """Draw a sound vehicle: none is quite like another (spreads are judgement)."""
    usual, about = RoadVehicle(), partial(draw_about, generator)
    return replace(
        usual,
        mass_kg=about(usual.mass_kg, 8),
        drag_m2=about(usual.drag_m2, 5),
        rolling=about(usual.rolling, 8),
        wheel_radius_m=about(usual.wheel_radius_m, 2),
        top_kmh_per_1000=about(usual.top_kmh_per_1000, 5),
        torque_nm=about(usual.torque_nm, 6),
        idle_rpm=about(usual.idle_rpm, 2),
        k_stall=about(usual.k_stall, 2),
        fill_s=about(usual.fill_s, 8),
        torque_s=about(usual.torque_s, 8),
        sync_s=about(usual.sync_s, 10),
        margin=about(usual.margin, 3),
        ambient_c=usual.ambient_c + float(generator.uniform(-15, 12)),
        fluid_c=float(generator.uniform(25, 80)),
    )
