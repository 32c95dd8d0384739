"""Events are read off true columns; here of columns made by hand, so that every size is known."""

from typing import Any

import numpy as np
from pytest import approx, mark

from shiftlore.driving.drive_columns import (
    PLAIN,
    WHEELS,
    count_teeth,
    find_lockup,
    find_shifts,
    find_slip,
    find_stall,
    list_events,
    list_spans,
    sense_columns,
    spoil_sensors,
)
from shiftlore.sheets import DriveDefect

RATIOS = {"1": 3.0, "2": 2.0, "R": -2.5}
TIME = np.arange(0, 10, 0.02)
ROWS = len(TIME)


def _columns(**changes: Any) -> dict[str, np.ndarray]:
    commanded = np.where(TIME < 5, "1", "2")
    output = np.full(ROWS, 800.0)
    usual = {
        "time_s": TIME,
        "gear_commanded": commanded,
        "output_rpm": output,
        "input_rpm": output * np.where(TIME < 5.4, 3.0, 2.0),
        "engine_rpm": output * np.where(TIME < 5.4, 3.0, 2.0) + 100,
        "road_kmh": 20 + 3.6 * TIME,
        "throttle_percent": np.full(ROWS, 40.0),
        "converter_clutch_percent": np.zeros(ROWS),
    }
    return usual | changes


HAD = np.select([TIME < 5, TIME < 5.4], ["1", ""], "2")


@mark.parametrize(
    ("flags", "spans"),
    [([], []), ([0, 0], []), ([1, 1], [(0, 1)]), ([0, 1, 0, 1, 1], [(1, 1), (3, 4)])],
)
def test_list_spans__gives_first_and_last(flags: list[int], spans: list[tuple[int, int]]) -> None:
    assert spans == list(list_spans(np.array(flags, dtype=bool)))


def test_find_shifts__times_a_shift_from_command_to_gear() -> None:
    found = find_shifts(_columns(), HAD, RATIOS)
    assert [("shift", "1-2")] == [(event.kind, event.name) for event in found]
    assert (5.0, 0.4) == approx((found[0].start_s, found[0].size))


def test_find_shifts__measures_a_flare_above_both_gears() -> None:
    columns = _columns()
    columns["input_rpm"] = np.where((TIME > 5.1) & (TIME < 5.3), 2400.0 + 350.0, columns["input_rpm"])
    flare = [event for event in find_shifts(columns, HAD, RATIOS) if event.kind == "flare"]
    assert [350.0] == approx([event.size for event in flare])


def test_find_shifts__a_small_overshoot_is_no_flare() -> None:
    columns = _columns()
    columns["input_rpm"] = np.where((TIME > 5.1) & (TIME < 5.3), 2450.0, columns["input_rpm"])
    assert ["shift"] == [event.kind for event in find_shifts(columns, HAD, RATIOS)]


def test_find_shifts__measures_a_bind_as_a_dip_under_power() -> None:
    speed = np.cumsum(np.where((TIME > 5.1) & (TIME < 5.4), -1.5, 1.0)) * 0.02 * 3.6
    bind = [event for event in find_shifts(_columns(road_kmh=speed), HAD, RATIOS) if event.kind == "bind"]
    assert [2.5] == approx([event.size for event in bind], abs=1e-6)
    coasting = _columns(road_kmh=speed, throttle_percent=np.zeros(ROWS))
    assert ["shift"] == [event.kind for event in find_shifts(coasting, HAD, RATIOS)]


def test_find_shifts__a_gear_from_no_gear_is_an_engagement() -> None:
    found = find_shifts(_columns(gear_commanded=np.where(TIME < 5, "N", "R")), np.where(TIME < 6.2, "", "R"), RATIOS)
    assert [("engage", "N-R")] == [(event.kind, event.name) for event in found]
    assert 1.2 == approx(found[0].size)


def test_find_shifts__a_gear_never_had_lasts_to_the_end() -> None:
    found = find_shifts(_columns(), np.where(TIME < 5, "1", ""), RATIOS)
    assert TIME[-1] - 5.0 == approx(found[0].size)


def test_find_slip__tells_a_settled_gear_that_is_not_held() -> None:
    columns = _columns()
    slips = (TIME > 8) & (TIME < 9)
    columns["input_rpm"] = np.where(slips, 1800.0, columns["input_rpm"])
    found = find_slip(columns, np.where(slips, "", HAD), RATIOS)
    assert [("slip", "2", 200.0)] == [(event.kind, event.name, event.size) for event in found]


def test_find_slip__overrun_and_shifts_are_no_slip() -> None:
    columns = _columns()
    columns["input_rpm"] = np.where(TIME > 8, 1200.0, columns["input_rpm"])
    assert [] == find_slip(columns, np.where(TIME > 8, "", HAD), RATIOS)
    assert [] == find_slip(_columns(), HAD, RATIOS)


def test_find_lockup__tells_slip_and_swing_of_a_closed_clutch() -> None:
    full = np.where(TIME > 6, 100.0, 0.0)
    turbine = _columns()["input_rpm"]
    steady = find_lockup(_columns(converter_clutch_percent=full, engine_rpm=turbine + 60))
    assert [("lockup_slip", 60.0)] == [(event.kind, event.size) for event in steady]
    swings = find_lockup(
        _columns(converter_clutch_percent=full, engine_rpm=turbine + 15 * np.sin(2 * np.pi * 11 * TIME))
    )
    assert ["lockup_shudder"] == [event.kind for event in swings]
    assert 15.0 == approx(swings[0].size, rel=0.03)
    assert [] == find_lockup(_columns(converter_clutch_percent=full, engine_rpm=turbine))


def test_find_stall__tells_the_most_speed() -> None:
    stalled = (TIME > 2) & (TIME < 4)
    found = find_stall(_columns(engine_rpm=np.where(stalled, 2300.0, 700.0)), stalled)
    assert [("stalled", 2300.0)] == [(event.kind, event.size) for event in found]


def test_list_events__gathers_all_kinds() -> None:
    columns = _columns(converter_clutch_percent=np.where(TIME > 6, 100.0, 0.0))
    kinds = {event.kind for event in list_events(columns, HAD, RATIOS, (TIME > 2) & (TIME < 3))}
    assert {"shift", "lockup_slip", "stalled"} == kinds


LONG = np.arange(0, 60, 0.02)


def _steady(rpm: float, name: str = "input_rpm", time_s: np.ndarray = LONG) -> np.ndarray:
    return count_teeth(np.full(len(time_s), rpm), time_s, WHEELS[name], np.random.default_rng(1))


@mark.parametrize("rpm", [400.0, 1234.0, 3000.0, 6000.0])
@mark.parametrize("name", sorted(WHEELS))
def test_count_teeth__is_right_on_average_and_noisy_by_its_wheel(rpm: float, name: str) -> None:
    # Two edges, each off by a share u of a tooth, over k teeth: standard deviation u * sqrt(2) / k, and the step's own.
    teeth, uneven, step = WHEELS[name]
    found = _steady(rpm, name)[20:]
    passed = max(rpm / 60 * 0.02 * teeth, 1)
    most = rpm * uneven * 2**0.5 / passed + step
    assert rpm == approx(found.mean(), rel=2e-3)
    assert found.std() < 1.5 * most
    assert 0 == approx(np.abs(found / step - np.round(found / step)).max(), abs=1e-9)


def test_count_teeth__shows_noise_at_all() -> None:
    assert len(set(_steady(2000.3).tolist())) > 1


def test_count_teeth__reads_nothing_where_no_tooth_comes() -> None:
    assert 0.0 == _steady(0.0).max()
    assert 0.0 == _steady(3.0)[100:].min()


def test_count_teeth__does_not_see_the_direction() -> None:
    assert _steady(900.0).tolist() == _steady(-900.0).tolist()


def test_count_teeth__follows_a_ramp_half_a_row_late_at_most() -> None:
    true = 500 + 200 * LONG / 10
    found = count_teeth(true, LONG, WHEELS["output_rpm"], np.random.default_rng(2))
    assert np.abs(found - true)[20:].max() < 6


def test_count_teeth__falls_to_nothing_soon_after_a_stop() -> None:
    true = np.where(LONG < 30, 1000.0, 0.0)
    found = count_teeth(true, LONG, WHEELS["input_rpm"], np.random.default_rng(2))
    assert 0.0 == found[LONG > 30.3].max()


def test_count_teeth__is_coarser_in_short_rows() -> None:
    fast = _steady(600.0, time_s=np.arange(0, 20, 0.005))
    assert fast[50:].std() >= _steady(600.0)[50:].std()


def _sensed(rows: int = 20_000) -> dict[str, np.ndarray]:
    truth = {"time_s": np.arange(rows) * 0.02, **{name: np.full(rows, 1500.0) for name in WHEELS}}
    return truth | {"gear_commanded": np.full(rows, "3"), **{name: np.full(rows, 50.03) for name in PLAIN}}


def test_sense_columns__noise_has_its_mean_and_spread() -> None:
    truth = _sensed()
    found = sense_columns(truth, np.random.default_rng(7))
    for name, (spread, step) in PLAIN.items():
        wide = (spread**2 + step**2 / 12) ** 0.5
        assert 50.03 == approx(found[name].mean(), abs=step / 2 + 5 * wide / len(found[name]) ** 0.5)
        assert found[name].std() <= 1.2 * wide
    assert found["gear_commanded"] is truth["gear_commanded"]


def test_sense_columns__zero_stays_zero_and_nothing_falls_below() -> None:
    truth = _sensed(500) | {"throttle_percent": np.zeros(500), "road_kmh": np.full(500, 0.01)}
    found = sense_columns(truth, np.random.default_rng(7))
    assert 0.0 == np.abs(found["throttle_percent"]).max()
    assert found["road_kmh"].min() >= 0


@mark.parametrize(("kind", "times"), [("dropout", 4), ("freeze", 1)])
def test_spoil_sensors__spoils_so_many_rows_of_one_column(kind: str, times: int) -> None:
    columns = sense_columns(_sensed(), np.random.default_rng(7))
    columns["input_rpm"] = columns["input_rpm"] + np.arange(20_000)
    before = {name: column.copy() for name, column in columns.items()}
    spoiled = spoil_sensors(columns, [DriveDefect(kind, "input_rpm", 1.0)], np.random.default_rng(3))
    assert times == len(spoiled)
    for told, name, first, last in spoiled:
        assert (kind, "input_rpm", 50) == (told, name, last - first + 1)
        assert 1 == len(set(columns["input_rpm"][first : last + 1].tolist()))
    assert (before["input_rpm"] != columns["input_rpm"]).sum() <= 50 * times
    assert before["output_rpm"].tolist() == columns["output_rpm"].tolist()


def test_spoil_sensors__leaves_other_defects_alone() -> None:
    columns = _sensed(100)
    assert [] == spoil_sensors(columns, [DriveDefect("slip", "c1", 0.5)], np.random.default_rng(3))
