"""Whole drives: what a recording holds, that it is physical, and that every defect shows as itself and nowhere else."""

from collections.abc import Callable

import numpy as np
from pytest import approx, mark, raises
from scipy.optimize import brentq
from support.layouts import LAYOUTS

from shiftlore.basics import UsageProblem
from shiftlore.driving import KINDS, Drive, prepare_unit, read_defect, simulate_drive
from shiftlore.driving.road_vehicles import RPM, RoadVehicle
from shiftlore.driving.routes import Leg
from shiftlore.gearing import describe_unit
from shiftlore.sheets import UnitSheet, load_sheet

Drives = Callable[..., Drive]
Sheets = Callable[[str], UnitSheet]
COLUMNS = [
    "time_s", "engine_rpm", "input_rpm", "output_rpm", "road_kmh", "gear_commanded", "lever", "throttle_percent",
    "converter_clutch_percent", "fluid_temp_c", "line_pressure_bar",
]  # fmt: skip
SHORT = (Leg(2, "P"), Leg(2.5, "D", brake=0.3), Leg(14, "D", 60, 40), Leg(6, "D", 60, 40))
UNITS = ["long5", "long6", "long8", "trans4", "trans6"]


def _sizes(drive: Drive, kind: str, name: str = "") -> list[float]:
    return [event.size for event in drive.truth.events if event.kind == kind and event.name.startswith(name)]


def _settled(drive: Drive, gear: str, least_rpm: float = 100.0) -> np.ndarray:
    """Mark rows in which a gear has been commanded for two seconds, the pedal is pressed and the output turns."""
    columns = drive.columns
    at = columns["gear_commanded"] == gear
    changed = np.where(np.roll(at, 1) != at, np.arange(len(at)), 0)
    since = columns["time_s"] - columns["time_s"][np.maximum.accumulate(changed)]
    return at & (since > 2) & (columns["throttle_percent"] > 5) & (columns["output_rpm"] >= least_rpm)


def test_simulate_drive__gives_the_columns_in_their_order_and_one_length(drive_of: Drives) -> None:
    drive = drive_of("long6")
    assert COLUMNS == list(drive.columns)
    lengths = {len(column) for column in drive.columns.values()}
    assert {len(drive.truth.gear_had)} == lengths == {len(drive.truth.slips["c1"])}
    assert 0.02 == approx(np.diff(drive.columns["time_s"]))


def test_simulate_drive__equal_seeds_give_equal_bytes_and_others_do_not(sheet_of: Sheets) -> None:
    route = (Leg(1, "P"), Leg(3, "D", 30, 30))
    first, again, other = (simulate_drive(sheet_of("long6"), seed=seed, route=route) for seed in (1, 1, 2))
    assert first.columns["engine_rpm"].tobytes() == again.columns["engine_rpm"].tobytes()
    assert first.columns["engine_rpm"].tobytes() != other.columns["engine_rpm"].tobytes()


@mark.parametrize("name", UNITS)
def test_simulate_drive__steady_ratios_are_those_of_the_sheet(name: str, drive_of: Drives, sheet_of: Sheets) -> None:
    drive, proved = drive_of(name), 0
    for gear, line in sheet_of(name).gears.items():
        rows = _settled(drive, gear) & (drive.truth.gear_had == gear)
        if rows.sum() > 20:
            ratio = np.median(drive.columns["input_rpm"][rows] / drive.columns["output_rpm"][rows])
            assert line.ratio == approx(ratio, rel=0.006)
            proved += 1
    assert proved >= 2


@mark.parametrize("name", [*UNITS, "bare3"])
def test_simulate_drive__energy_balances(name: str, drive_of: Drives) -> None:
    drive = drive_of(name)
    work = drive.truth.energy
    gone = work.converter + work.bearings + work.road + sum(work.elements)
    gone += drive.truth.kinetic_j[1] - drive.truth.kinetic_j[0]
    assert work.engine == approx(gone, rel=1e-8)
    assert min(work.elements) > -1e-4 * work.engine
    assert 0 < work.converter < 0.4 * work.engine


def test_simulate_drive__road_work_and_energy_follow_from_the_columns(drive_of: Drives) -> None:
    # The trapezoid over the columns alone, without what the simulator booked.
    drive = drive_of("long6")
    vehicle, columns = drive.vehicle, drive.columns
    speed = columns["road_kmh"] / 3.6
    power = 0.5 * vehicle.air_kgm3 * vehicle.drag_m2 * speed**3
    assert np.trapezoid(power, columns["time_s"]) == approx(drive.truth.energy.road, rel=0.01)
    wheels = vehicle.wheels_kgm2 / vehicle.wheel_radius_m**2
    moving = (vehicle.mass_kg + wheels) * speed[-1] ** 2 / 2
    turning = vehicle.engine_kgm2 * (columns["engine_rpm"][-1] / RPM) ** 2 / 2
    assert moving + turning == approx(drive.truth.kinetic_j[1], rel=0.02)


def test_simulate_drive__slip_of_what_holds_is_none_and_of_the_rest_that_of_the_train(
    drive_of: Drives, sheet_of: Sheets
) -> None:
    drive, unit = drive_of("long6"), prepare_unit(sheet_of("long6"))
    rows = _settled(drive, "3") & (drive.truth.gear_had == "3")
    turbine = drive.columns["input_rpm"][rows]
    for name, place in unit.motion.places.items():
        expected = float(unit.motion.rows[place] @ unit.moves["3"])
        assert expected * turbine == approx(drive.truth.slips[name][rows], rel=1e-3, abs=0.5)


def test_simulate_drive__stall_test_comes_to_the_speed_of_the_k_factor(drive_of: Drives) -> None:
    # Speed at which engine torque = (speed / K)^2, by scipy's brentq; the usual stall test ends within a few percent of it.
    drive = drive_of("long6")
    vehicle = drive.vehicle
    stall_rpm = brentq(lambda rpm: vehicle.engine_torque(rpm, 1.0)[0] - (rpm / vehicle.k_stall) ** 2, 1000, 4000)
    assert [stall_rpm] == approx(_sizes(drive, "stalled"), rel=0.02)


def test_simulate_drive__a_sound_drive_shifts_cleanly(drive_of: Drives) -> None:
    for name in UNITS:
        drive = drive_of(name)
        assert 1 < len(_sizes(drive, "shift")) < 12
        assert all(0.3 < size < 1.5 for size in _sizes(drive, "shift"))
        assert {"shift", "engage", "stalled"} == {event.kind for event in drive.truth.events}


def test_simulate_drive__the_whole_usual_route_is_sound_and_goes_everywhere(drive_of: Drives) -> None:
    drive = drive_of("trans6", route=None)
    columns = drive.columns
    assert {"P", "R", "N", "D"} == set(columns["lever"])
    assert {"1", "2", "3", "4", "5", "6", "R", "N", "P"} == set(columns["gear_commanded"])
    assert {"shift", "engage", "stalled"} == {event.kind for event in drive.truth.events}
    assert columns["road_kmh"].max() > 90
    assert 0.0 == approx(columns["road_kmh"][-1], abs=0.2)
    assert columns["fluid_temp_c"][-1] > columns["fluid_temp_c"][0] + 3
    # An upshift pulls the turbine to the next gear in the aimed time, fill and torque phase before it (closed form).
    vehicle = drive.vehicle
    aimed = vehicle.fill_s + vehicle.torque_s + vehicle.sync_s
    assert aimed == approx(float(np.median(_sizes(drive, "shift"))), rel=0.4)


def test_simulate_drive__shorter_rows_are_the_same_drive(drive_of: Drives) -> None:
    coarse, fine = drive_of("long6"), drive_of("long6", rate_hz=100.0)
    assert [event.name for event in coarse.truth.events] == [event.name for event in fine.truth.events]
    starts = [[event.start_s for event in drive.truth.events] for drive in (coarse, fine)]
    assert starts[0] == approx(starts[1], abs=0.15)
    assert coarse.columns["road_kmh"][-1] == approx(fine.columns["road_kmh"][-1], rel=0.01)


def test_simulate_drive__slow_recordings_hold_fewer_rows_of_the_same(drive_of: Drives) -> None:
    every, tenth = drive_of("long6"), drive_of("long6", rate_hz=5.0)
    assert every.columns["engine_rpm"][::10] == approx(tenth.columns["engine_rpm"])


def test_simulate_drive__noise_is_small_and_leaves_the_truth(drive_of: Drives) -> None:
    drive, true = drive_of("long6", noise=True), drive_of("long6")
    assert true.columns["input_rpm"].tolist() == drive.truth.columns["input_rpm"].tolist()
    moving = drive.truth.columns["output_rpm"] > 300
    off = (drive.columns["input_rpm"] - drive.truth.columns["input_rpm"])[moving]
    assert 0 < off.std() < 15
    assert abs(np.median(off)) < 4


def test_simulate_drive__a_sheet_of_ratios_alone_is_driven_in_its_ratios(drive_of: Drives, sheet_of: Sheets) -> None:
    drive = drive_of("bare3", noise=True)
    rows = _settled(drive, "3") & (drive.truth.gear_had == "3")
    assert 1.0 == approx(np.median(drive.columns["input_rpm"][rows] / drive.columns["output_rpm"][rows]), abs=0.003)
    slow = drive_of("bare3", "flare:c2:0.4")
    assert _sizes(slow, "flare", "2-3") and not _sizes(slow, "flare", "1-2")


def test_slip__lets_the_turbine_run_ahead_in_the_gears_of_the_element(drive_of: Drives) -> None:
    drive = drive_of("long6", "slip:c1:0.6")
    assert min(_sizes(drive, "slip")) > 50
    assert np.abs(drive.truth.slips["c1"][_settled(drive, "2")]).max() > 100
    assert {"1", "2", "3", "4"} >= {event.name for event in drive.truth.events if event.kind == "slip"}


@mark.parametrize(("seconds", "low"), [(0.15, 100), (0.3, 250)])
def test_flare__grows_with_the_delay_and_stays_with_its_element(seconds: float, low: float, drive_of: Drives) -> None:
    drive = drive_of("long6", f"flare:c2:{seconds}")
    assert low < max(_sizes(drive, "flare", "2-3"))
    assert [] == _sizes(drive, "flare", "1-2")


def test_bind__brakes_the_vehicle_in_the_shift_that_leaves_the_element(drive_of: Drives) -> None:
    drive, sound = drive_of("long6", "bind:b1:0.5"), drive_of("long6")
    assert max(_sizes(drive, "bind", "2-3")) > 0.8
    assert _sizes(drive, "shift", "2-3")[0] > _sizes(sound, "shift", "2-3")[0] + 0.05
    assert _sizes(drive, "shift", "1-2") == approx(_sizes(sound, "shift", "1-2"), abs=0.03)


def test_engage_late__delays_drive_and_then_it_comes_harshly(drive_of: Drives) -> None:
    late, sound = _sizes(drive_of("long6", "engage_late:1.2"), "engage"), _sizes(drive_of("long6"), "engage")
    assert 0.6 < late[0] - sound[0] < 1.25


@mark.parametrize("size", [0.25, -0.25])
def test_stall_off__moves_the_stall_speed_both_ways(size: float, drive_of: Drives) -> None:
    stall, sound = _sizes(drive_of("long6", f"stall_off:{size}"), "stalled"), _sizes(drive_of("long6"), "stalled")
    assert size == approx(stall[0] / sound[0] - 1, abs=0.12)


def test_lockup_defects__slip_shudder_or_never_close(drive_of: Drives) -> None:
    assert [] == _sizes(drive_of("long6"), "lockup")
    assert min(_sizes(drive_of("long6", "lockup_slip:0.7"), "lockup_slip")) > 20
    assert min(_sizes(drive_of("long6", "lockup_shudder:0.35"), "lockup_shudder")) > 6
    never = drive_of("long6", "lockup_never")
    full = never.columns["converter_clutch_percent"] == 100
    assert (
        full.any()
        and (never.columns["engine_rpm"] - never.columns["input_rpm"])[
            full & (never.columns["throttle_percent"] > 5)
        ].min()
        > 10
    )


def test_lockup_shudder__swings_at_its_own_rate(drive_of: Drives) -> None:
    # Welch's spectrum of scipy, of the slip while the clutch is commanded.
    from scipy.signal import welch

    drive = drive_of("long6", "lockup_shudder:0.35")
    found = [event for event in drive.truth.events if event.kind == "lockup_shudder"]
    event = max(found, key=lambda event: event.end_s - event.start_s)
    time_s = drive.columns["time_s"]
    rows = (time_s > event.start_s + 1) & (time_s < event.end_s)
    rate, power = welch((drive.columns["engine_rpm"] - drive.columns["input_rpm"])[rows], fs=50.0, nperseg=100)
    assert 9.0 < rate[5:][power[5:].argmax()] < 13.0


def test_lockup_stuck__drags_at_a_stop(drive_of: Drives) -> None:
    assert _sizes(drive_of("long6", "lockup_stuck"), "stalled")[0] < 0.8 * _sizes(drive_of("long6"), "stalled")[0]


def test_low_pressure__shows_on_the_gauge_and_slips_at_full_load(drive_of: Drives) -> None:
    drive, sound = drive_of("long6", "low_pressure:0.75"), drive_of("long6")
    assert drive.columns["line_pressure_bar"].max() < 0.5 * sound.columns["line_pressure_bar"].max()
    assert _sizes(drive, "stalled")[0] > 1.2 * _sizes(sound, "stalled")[0]


def test_module_off__holds_the_failsafe_gear(drive_of: Drives) -> None:
    drive = drive_of("long6", "module_off:14")
    after = drive.columns["time_s"] > 15
    assert {"5"} == set(drive.columns["gear_commanded"][after])
    assert 0.0 == drive.columns["converter_clutch_percent"][after].max()


@mark.parametrize("kind", ["dropout", "freeze"])
def test_dropout_and_freeze__are_told_and_only_in_the_columns(kind: str, drive_of: Drives) -> None:
    drive = drive_of("long6", f"{kind}:input_rpm:0.5")
    told = [event for event in drive.truth.events if event.kind == kind]
    assert (4 if kind == "dropout" else 1) == len(told)
    for event in told:
        rows = (drive.columns["time_s"] >= event.start_s) & (drive.columns["time_s"] <= event.end_s)
        assert 1 == len(set(drive.columns["input_rpm"][rows].tolist()))
    assert drive.truth.columns["input_rpm"].tolist() == drive_of("long6").columns["input_rpm"].tolist()


def test_hunting__changes_gear_again_and_again(sheet_of: Sheets) -> None:
    hill = (Leg(2, "D", brake=0.3), Leg(14, "D", 50, 40), *[Leg(4, "D", 50 + 6 * (turn % 2), 32) for turn in range(5)])
    counts = []
    for texts in ((), ("hunting",)):
        defects = [read_defect(text, sheet_of("long6")) for text in texts]
        counts.append(len(_sizes(simulate_drive(sheet_of("long6"), defects=defects, seed=4, route=hill), "shift")))
    assert counts[1] >= counts[0] + 3


@mark.parametrize(
    ("name", "text", "part", "how"),
    [
        ("long6", "lost:c2", "c2", None),
        ("trans6", "lost:f1", "f1", None),
        ("trans6", "stuck:c2", "c2", "on"),
        ("long5", "solenoid:sol_a:off", "sol_a", "off"),
        ("trans4", "solenoid:sol_c:off", "sol_c", "off"),
    ],
)
def test_lost_and_stuck__leave_what_gearing_says(
    name: str, text: str, part: str, how: str | None, drive_of: Drives, sheet_of: Sheets
) -> None:
    # `gearing` finds what is had from statics alone; the drive finds it by moving.
    described, drive, proved = describe_unit(sheet_of(name)), drive_of(name, text), 0
    remains = described.lost[part] if how is None else described.stuck[f"{part}={how}"]
    for gear, left in remains.items():
        rows = _settled(drive, gear, 100.0 if left.state == "driven" else 0.0)
        if rows.sum() > 40 and left.state in ("driven", "neutral"):
            had = drive.truth.gear_had[rows]
            assert np.mean(had == (left.had or "")) > 0.8
            proved += 1
    assert proved


def test_simulate_drive__refuses_a_rate_that_is_none(sheet_of: Sheets) -> None:
    for rate in (0.0, -5.0, float("nan"), 1e6):
        with raises(UsageProblem, match="rows a second cannot be recorded"):
            simulate_drive(sheet_of("long6"), rate_hz=rate)


def test_simulate_drive__takes_the_vehicle_that_is_given(sheet_of: Sheets) -> None:
    heavy = RoadVehicle(mass_kg=3000.0)
    route = (Leg(2, "D", brake=0.3), Leg(6, "D", 60, 50))
    slow, fast = (
        simulate_drive(sheet_of("trans4"), route=route, vehicle=item, noise=False) for item in (heavy, RoadVehicle())
    )
    assert heavy == slow.vehicle
    assert slow.columns["road_kmh"][-1] < 0.8 * fast.columns["road_kmh"][-1]


@mark.parametrize("name", ["crossed_bare_4", "counter_5", "cycle_6", "two_rings_7", "four_sets_8", "splitter_10"])
def test_simulate_drive__drives_other_gear_trains_as_their_charts_say(name: str) -> None:
    sheet = load_sheet(LAYOUTS[name])
    drive = simulate_drive(sheet, seed=2, route=SHORT, noise=False)
    assert all(size < 0.8 for size in [*_sizes(drive, "engage"), *_sizes(drive, "shift")])
    assert [] == _sizes(drive, "flare") + _sizes(drive, "slip")
    gear = str(drive.columns["gear_commanded"][-1])
    assert gear == drive.truth.gear_had[-1]
    assert prepare_unit(sheet).ratios[gear] == approx(
        drive.columns["input_rpm"][-1] / drive.columns["output_rpm"][-1], rel=1e-3
    )


@mark.parametrize("word", sorted(KINDS))
def test_simulate_drive__every_defect_is_driven_to_the_end(word: str, sheet_of: Sheets) -> None:
    sheet = sheet_of("long5")
    part = {"element": ":b1", "solenoid": ":sol_a:on", "column": ":input_rpm"}.get(KINDS[word].of, "")
    route = (Leg(1, "P"), Leg(1, "R", brake=0.3), Leg(1, "N", brake=0.3), Leg(8, "D", 50, 60), Leg(3, "D", 0, 0))
    drive = simulate_drive(sheet, defects=[read_defect(word + part, sheet)], seed=1, route=route)
    numbers = [column for column in drive.columns.values() if column.dtype.kind == "f"]
    assert np.isfinite(np.array(numbers)).all()
    assert 14.0 == approx(drive.columns["time_s"][-1])
    assert drive.columns["engine_rpm"].max() < 7000
