"""Engine, converter and vehicle against closed forms and general solvers."""

import math

import numpy as np
from pytest import approx, mark
from scipy.optimize import approx_fprime

from shiftlore.driving.road_vehicles import RPM, RoadVehicle, converter_torques, draw_about, draw_vehicle

USUAL = RoadVehicle()


def test_full_torque__is_most_at_its_peak() -> None:
    assert USUAL.torque_nm == USUAL.full_torque(USUAL.peak_rpm)
    assert USUAL.torque_nm > USUAL.full_torque(1500) > 0.5 * USUAL.torque_nm


def test_engine_torque__idles_where_nobody_presses() -> None:
    torque, slope = USUAL.engine_torque(USUAL.idle_rpm, 0.0)
    assert 12.0 == approx(torque)
    assert slope < 0
    assert -USUAL.drag_torque(3000) == approx(USUAL.engine_torque(3000, 0.0)[0])


def test_engine_torque__grows_with_the_pedal() -> None:
    torques = [USUAL.engine_torque(3000, share)[0] for share in (0.1, 0.3, 0.6, 1.0)]
    assert sorted(torques) == torques
    assert USUAL.full_torque(3000) == approx(torques[-1])


def test_engine_torque__is_cut_above_the_most_speed() -> None:
    assert -USUAL.drag_torque(7000) == approx(USUAL.engine_torque(7000, 1.0)[0])
    assert USUAL.engine_torque(USUAL.most_rpm + 50, 1.0)[1] < 0


def test_converter_torques__at_stall_follows_the_k_factor() -> None:
    # Torque = (speed / K)^2, the definition of the K factor (SAE J643); boost is the torque ratio at stall.
    taken, given, _ = converter_torques(2000 / RPM, 0.0, USUAL.capacity_si, USUAL.boost)
    assert (2000 / USUAL.k_stall) ** 2 == approx(taken)
    assert USUAL.boost * taken == approx(given)


def test_converter_torques__gives_none_at_equal_speeds() -> None:
    for speed in (0.0, 200.0):
        assert (0.0, 0.0) == converter_torques(speed, speed, USUAL.capacity_si, USUAL.boost)[:2]


def test_converter_torques__never_gives_more_power_than_it_takes() -> None:
    engine = 300.0
    for turbine in np.linspace(0, 299, 60):
        taken, given, _ = converter_torques(engine, float(turbine), USUAL.capacity_si, USUAL.boost)
        assert taken * engine >= given * turbine
        assert given >= taken


def test_converter_torques__drives_the_engine_when_coasting() -> None:
    taken, given, _ = converter_torques(100.0, 150.0, USUAL.capacity_si, USUAL.boost)
    assert taken == given < 0


@mark.parametrize(("engine", "turbine"), [(250.0, 0.3), (250.0, 100.3), (250.0, 224.1), (250.0, 246.7), (150.0, 190.0)])
def test_converter_torques__slopes_are_those_of_the_torques(engine: float, turbine: float) -> None:
    # scipy's approx_fprime differentiates without knowing the formula.
    def torques(speeds: np.ndarray) -> np.ndarray:
        return np.array(converter_torques(float(speeds[0]), float(speeds[1]), USUAL.capacity_si, USUAL.boost)[:2])

    slopes = converter_torques(engine, turbine, USUAL.capacity_si, USUAL.boost)[2]
    assert approx_fprime(np.array([engine, turbine]), torques, 1e-4).ravel().tolist() == approx(
        slopes, rel=1e-3, abs=1e-3
    )


def test_draw_about__stays_within_its_share() -> None:
    generator = np.random.default_rng(1)
    drawn = [draw_about(generator, 10.0, 100, most=0.3) for _ in range(100)]
    assert (7.0, 13.0) == approx((min(drawn), max(drawn)))


def test_final_drive__brings_the_top_gear_to_its_road_speed() -> None:
    final = USUAL.final_drive(0.7)
    wheel_rad_s = 1000 / RPM / 0.7 / final
    assert USUAL.top_kmh_per_1000 == approx(wheel_rad_s * USUAL.wheel_radius_m * 3.6)


def test_draw_vehicle__draws_unlike_sound_ones() -> None:
    drawn = [draw_vehicle(np.random.default_rng(seed)) for seed in range(200)]
    masses = np.array([vehicle.mass_kg for vehicle in drawn])
    assert USUAL.mass_kg == approx(masses.mean(), rel=4 * 0.08 / math.sqrt(200))
    assert 0.05 < masses.std() / USUAL.mass_kg < 0.11
    assert all(vehicle.margin > 1.25 for vehicle in drawn)
