"""The step with dry friction: laws of the gear train, of friction and of energy; general solvers and closed forms."""

import math
from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np
from pytest import approx, fixture, mark
from scipy.integrate import solve_ivp
from scipy.optimize import lsq_linear

from shiftlore.driving.driveable import prepare_unit
from shiftlore.driving.linkage import BRAKES, LOCKUP, Linkage, Mover, Torques, build_linkage
from shiftlore.driving.road_vehicles import GRAVITY, RoadVehicle
from shiftlore.sheets import UnitSheet

VEHICLE = RoadVehicle()
NO_CONVERTER: Torques = (0.0, 0.0, (0.0, 0.0, 0.0, 0.0))


def _link(sheet: UnitSheet, vehicle: RoadVehicle = VEHICLE) -> Linkage:
    unit = prepare_unit(sheet)
    return build_linkage(unit.train, unit.motion, vehicle, unit.top_ratio)


def _step(
    mover: Mover, seconds: float, capacities: Sequence[float], engine_nm: float = 0.0, road_nm: float = 0.0
) -> None:
    mover.step(
        seconds,
        capacities=capacities,
        engine=(engine_nm, 0.0),
        converter=lambda engine, turbine: NO_CONVERTER,
        road_nm=road_nm,
    )


def _draw(link: Linkage, generator: np.random.Generator) -> list[float]:
    caps = generator.choice([0.0, 20.0, 200.0, 900.0], len(link.ids))
    return [math.inf if let else float(cap) for cap, let in zip(caps, link.lets, strict=True)]


@fixture(scope="module")
def walked(sheet_of: Callable[[str], UnitSheet]) -> list[tuple[Mover, list[float], np.ndarray, float]]:
    """Walk long5, which has two one-way clutches, through 300 steps of friction at random."""
    link, generator = _link(sheet_of("long5")), np.random.default_rng(3)
    mover, found = Mover(link, 150.0), []
    for _ in range(300):
        caps, before, torque = _draw(link, generator), np.array(mover.speeds), float(generator.uniform(-50, 250))
        _step(mover, 0.01, caps, torque)
        kept = Mover.__new__(Mover)
        kept.slips, kept.impulses, kept.speeds = list(mover.slips), list(mover.impulses), list(mover.speeds)
        found.append((kept, caps, before, torque))
    return found


def test_step__no_row_holds_more_than_its_friction(walked: list) -> None:
    for mover, caps, _, _ in walked:
        assert all(abs(torque) <= cap * (1 + 1e-9) for torque, cap in zip(mover.impulses, caps, strict=True))


def test_step__what_slips_holds_all_it_can_against_the_slip(walked: list, sheet_of: Callable) -> None:
    lets = _link(sheet_of("long5")).lets
    for mover, caps, _, _ in walked:
        for slip, torque, cap, let in zip(mover.slips, mover.impulses, caps, lets, strict=True):
            if abs(slip) > 1e-2 and not let:
                assert -math.copysign(cap, slip) == approx(torque)


def test_step__one_way_clutches_push_one_way_and_turn_the_other(walked: list, sheet_of: Callable) -> None:
    lets = _link(sheet_of("long5")).lets
    held = 0
    for mover, _, _, _ in walked:
        for slip, torque, let in zip(mover.slips, mover.impulses, lets, strict=True):
            if let:
                assert slip * let > -1e-2
                assert torque * let >= -1e-9
                assert abs(slip) < 1e-2 or 0 == torque
                held += torque != 0
    assert held > 50


def test_step__equals_a_general_solver_of_bounded_least_squares(walked: list, sheet_of: Callable) -> None:
    # Friction in boxes is the optimum of a quadratic form; scipy's lsq_linear finds it without sticking or sliding.
    link = _link(sheet_of("long5"))
    root = np.linalg.cholesky(np.linalg.inv(link.mass))
    for mover, caps, before, torque in walked[::10]:
        free = link.mass @ before - 0.01 * link.drag @ before + 0.01 * torque * link.engine
        low = [
            0.0 if let > 0 else -math.inf if let else -0.01 * cap - 1e-12
            for cap, let in zip(caps, link.lets, strict=True)
        ]
        high = [
            0.0 if let < 0 else math.inf if let else 0.01 * cap + 1e-12
            for cap, let in zip(caps, link.lets, strict=True)
        ]
        best = lsq_linear(root.T @ link.rows.T, -root.T @ free, bounds=(low, high), method="bvls", tol=1e-14)
        ours = 0.5 * np.sum((root.T @ (free + link.rows.T @ (0.01 * np.array(mover.impulses)))) ** 2)
        assert best.cost == approx(ours, rel=2e-3, abs=1e-3)
        assert ours <= best.cost + 1e-6


@mark.parametrize("name", ["long6", "long8"])
def test_step__members_obey_willis(name: str, sheet_of: Callable[[str], UnitSheet]) -> None:
    # Willis 1841, from the tooth counts of the sheet: sun + (ring / sun) ring = (1 + ring / sun) carrier.
    sheet = sheet_of(name)
    unit = prepare_unit(sheet)
    mover = Mover(_link(sheet), 200.0)
    for _ in range(100):
        _step(mover, 0.004, [60.0 if name == LOCKUP else 8.0 for name in mover.linkage.ids[:-1]] + [0.0], 150.0)
    nodes = unit.motion.basis @ np.array(mover.speeds)[1:]
    speed = {node: float(nodes[row]) for node, row in unit.motion.nodes.items()}
    proved = 0
    for item in sheet.sets.values():
        sun, ring, carrier = (speed.get(f"{item.id}.{member}", 0.0) for member in ("sun", "ring", "carrier"))
        if item.kind == "simple":
            step = item.teeth["ring"] / item.teeth["sun"]
            assert (1 + step) * carrier == approx(sun + step * ring, abs=1e-6)
            proved += abs(carrier) > 1
    assert proved


def test_step__energy_goes_somewhere_and_no_row_wins_heat(sheet_of: Callable[[str], UnitSheet]) -> None:
    mover, generator = Mover(_link(sheet_of("trans6")), 100.0), np.random.default_rng(1)
    start = mover.kinetic_j()
    for _ in range(500):
        _step(mover, 0.004, _draw(mover.linkage, generator), 120.0, 15.0)
    work = mover.energy
    # A row that comes to stick within a step may be booked the wrong way for that step.
    assert min(work.elements) > -0.005 * sum(work.elements)
    gone = work.bearings + work.road + sum(work.elements) + work.converter + mover.kinetic_j() - start
    assert work.engine == approx(gone, rel=1e-9, abs=1e-6)


def test_step__two_clutch_shift_takes_the_time_and_heat_of_the_closed_form(sheet_of: Callable) -> None:
    """A clutch of capacity C pulls an inertia J that T drives down by w: t = J w / (C - T), heat = C w t / 2.

    Source: any textbook of clutches, as Shigley, Mechanical Engineering Design, ch. 16; output too heavy to change.
    """
    heavy = replace(VEHICLE, mass_kg=1e9, member_kgm2=1e-9, bearing_nms=0.0)
    mover = Mover(_link(sheet_of("bare3"), heavy), 300.0)
    link = mover.linkage
    places = {name: place for place, name in enumerate(link.ids)}
    ends = np.vstack([link.engine, link.rows[places[LOCKUP]], link.rows[places["2"]]])
    mover.speeds = np.linalg.solve(ends, [300.0, 0.0, 100.0]).tolist()
    mover.slips = (link.rows @ np.array(mover.speeds)).tolist()
    mover.engine = mover.turbine = 300.0
    mover.output = float(link.output @ np.array(mover.speeds))
    caps = [0.0] * len(link.ids)
    caps[places[LOCKUP]], caps[places["2"]] = 1e6, 260.0
    count = 0
    while mover.slips[places["2"]] > 1e-6 and count < 5000:
        _step(mover, 0.0002, caps, 140.0)
        count += 1
    seconds = (heavy.engine_kgm2 + heavy.turbine_kgm2) * 100.0 / (260.0 - 140.0)
    assert seconds == approx(count * 0.0002, abs=0.0004)
    assert 260.0 * 100.0 * seconds / 2 == approx(mover.energy.elements[places["2"]], rel=0.005)


def _roll(sheet: UnitSheet, seconds: float, step: float) -> tuple[float, RoadVehicle]:
    vehicle = replace(VEHICLE, bearing_nms=0.0)
    link = _link(sheet, vehicle)
    mover = Mover(link, 0.0)
    wanted = 30.0 / vehicle.wheel_radius_m * link.final_drive
    mover.speeds = np.linalg.lstsq(np.vstack([link.engine, link.output]), np.array([0.0, wanted]), rcond=None)[
        0
    ].tolist()
    mover.output = wanted
    ratio = vehicle.wheel_radius_m / link.final_drive
    caps = [0.0] * len(link.ids)
    caps[link.ids.index(BRAKES)] = vehicle.rolling * vehicle.mass_kg * GRAVITY * ratio
    air = 0.5 * vehicle.air_kgm3 * vehicle.drag_m2
    for _ in range(round(seconds / step)):
        _step(mover, step, caps, road_nm=air * (mover.output * ratio) ** 2 * ratio)
    return mover.output * ratio, vehicle


def test_step__coast_down_equals_the_closed_form_and_scipy(sheet_of: Callable[[str], UnitSheet]) -> None:
    """M v' = -(a + b v2) has v = sqrt(a/b) tan(atan(v0 sqrt(b/a)) - sqrt(a b) t / M) (White and Korst 1972)."""
    found, vehicle = _roll(sheet_of("bare3"), 20.0, 0.02)
    link = _link(sheet_of("bare3"), replace(vehicle, bearing_nms=0.0))
    ratio = vehicle.wheel_radius_m / link.final_drive
    along = np.linalg.solve(link.mass, link.output)
    mass = 1 / float(link.output @ along) / ratio**2
    a, b = vehicle.rolling * vehicle.mass_kg * GRAVITY, 0.5 * vehicle.air_kgm3 * vehicle.drag_m2
    closed = math.sqrt(a / b) * math.tan(math.atan(30 * math.sqrt(b / a)) - math.sqrt(a * b) * 20 / mass)
    solved = solve_ivp(lambda time, v: -(a + b * v**2) / mass, (0, 20), [30.0], rtol=1e-9).y[0, -1]
    assert closed == approx(solved, rel=1e-6)
    assert closed == approx(found, rel=1e-3)


def test_step__stays_at_rest_on_a_slope_that_the_brakes_hold(sheet_of: Callable[[str], UnitSheet]) -> None:
    mover = Mover(_link(sheet_of("long6")), 70.0)
    caps = [0.0] * len(mover.linkage.ids)
    caps[-1] = 500.0
    for _ in range(100):
        _step(mover, 0.02, caps, 0.0, 400.0)
    assert 0.0 == approx(mover.output, abs=1e-3)
    for _ in range(10):
        _step(mover, 0.02, caps, 0.0, 600.0)
    assert mover.output < -0.05


def test_step__a_tie_up_holds_everything_and_rows_that_say_the_same_share(sheet_of: Callable) -> None:
    mover = Mover(_link(sheet_of("long5")), 0.0)
    caps = [1e4] * len(mover.linkage.ids)
    for _ in range(20):
        _step(mover, 0.01, caps, 100.0)
    assert [0.0] * len(mover.speeds) == approx(mover.speeds, abs=1e-2)


def test_step__length_does_not_matter(sheet_of: Callable[[str], UnitSheet]) -> None:
    ends = []
    for step in (0.001, 0.02):
        mover = Mover(_link(sheet_of("long6")), 250.0)
        caps = [300.0 if name in ("c1", "b2") else 0.0 for name in mover.linkage.ids]
        for _ in range(round(1.0 / step)):
            _step(mover, step, caps, 0.0)
        ends.append(mover.output)
    assert ends[0] == approx(ends[1], rel=0.01, abs=0.05)
