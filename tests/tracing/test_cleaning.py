import numpy as np
import pytest
from support.drives import as_recording, make_columns

from shiftlore.tracing import LogProblem, Recording
from shiftlore.tracing.cleaning import find_gaps, group_rows


def cleaned(**changes: np.ndarray) -> Recording:
    """Clean a drive made by hand, some columns of it changed."""
    return as_recording({**make_columns(rounds=1), **changes})


def spoil(name: str, rows: slice, value: object) -> Recording:
    """Clean a drive with some cells of a column changed."""
    column = make_columns(rounds=1)[name].copy()
    column[rows] = value(column[rows]) if callable(value) else value
    return cleaned(**{name: column})


def test_clean_recording__a_sound_drive_loses_nothing() -> None:
    found = cleaned()
    assert ((), ()) == (found.refused, found.notes)
    assert {"engine_rpm": (), "input_rpm": (), "output_rpm": ()} == found.drops


@pytest.mark.parametrize("rows", [slice(1500, 1501), slice(1500, 1504), slice(1500, 1540)])
def test_clean_recording__a_signal_that_reads_nought_has_dropped_out(rows: slice) -> None:
    found = spoil("input_rpm", rows, 0.0)
    assert [(1502, rows.stop + 1, "input_rpm")] == [(one.row, one.last_row, one.channel) for one in found.refused]
    assert np.isnan(found.columns["input_rpm"][rows]).all()
    assert (1502,) == found.drops["input_rpm"]


def test_clean_recording__between_far_rows_a_shaft_may_stop_and_start() -> None:
    """Source: simulated sound drives at 5, 2 and 1 rows a second, in which turbines seemed to drop out."""
    columns = make_columns(rounds=1, rate_hz=5)
    columns["input_rpm"][100:102] = 0.0
    found = as_recording(columns)
    assert () == found.refused and {} == found.drops
    assert "fewer than 10 rows a second" in found.notes[0]


def test_clean_recording__a_steady_speed_between_far_rows_is_not_frozen() -> None:
    columns = make_columns(rounds=1, rate_hz=5)
    columns["output_rpm"][200:230] = 3000.0
    assert () == as_recording(columns).refused


def test_clean_recording__a_few_far_rows_alike_during_a_shift_are_no_frozen_sensor() -> None:
    """Source: a simulated sound drive at 2 rows a second, whose output turned steadily through a shift."""
    columns = make_columns(rounds=1, rate_hz=2)
    columns["output_rpm"][40:44] = columns["output_rpm"][40]
    assert () == as_recording(columns).refused
    columns["output_rpm"][40:50] = columns["output_rpm"][40]
    assert [(42, 51)] == [(one.row, one.last_row) for one in as_recording(columns).refused]


def test_clean_recording__a_vehicle_that_stops_has_not() -> None:
    assert () == cleaned().drops["output_rpm"]


def test_clean_recording__a_jump_upwards_is_one_too() -> None:
    assert (1502,) == spoil("output_rpm", slice(1500, 1501), 8000.0).drops["output_rpm"]


def test_clean_recording__a_reading_that_stands_still_while_others_move() -> None:
    found = spoil("input_rpm", slice(600, 800), lambda some: some[0])
    assert [(602, 801)] == [(one.row, one.last_row) for one in found.refused]
    assert "stands still" in found.refused[0].why


def test_clean_recording__one_that_stands_still_at_a_steady_speed_while_others_tremble() -> None:
    found = spoil("output_rpm", slice(2000, 2300), 3000.0)
    assert [(2002, 2301)] == [(one.row, one.last_row) for one in found.refused]


def test_clean_recording__an_idle_that_trembles_less_than_the_other_can_show_freezes_none() -> None:
    """Source: a simulated sound drive, idling in P: the engine in steps of 0.25 rpm, the turbine in steps of 1."""
    columns = make_columns(rounds=1, noise=0.0)
    columns["engine_rpm"][:250], columns["input_rpm"][:250] = 700 + 0.25 * (np.arange(250) % 6), 698.0
    columns["input_rpm"] = np.round(columns["input_rpm"])
    assert () == as_recording(columns).refused
    columns["engine_rpm"][:250] = 700 + 2.0 * (np.arange(250) % 6)
    assert [(2, "input_rpm")] == [(one.row, one.channel) for one in as_recording(columns).refused]


def test_clean_recording__an_idle_that_is_held_is_no_frozen_sensor() -> None:
    found = spoil("engine_rpm", slice(0, 290), 700.0)
    assert () == found.refused


def test_clean_recording__a_slow_log_repeats_its_readings_and_is_sound() -> None:
    columns = make_columns(rounds=1)
    held = {
        name: np.repeat(columns[name][::25], 25)[: len(columns[name])]
        for name in ("engine_rpm", "input_rpm", "output_rpm")
    }
    assert () == cleaned(**held).refused


@pytest.mark.parametrize(
    ("name", "factor", "offset"),
    [("road_kmh", 1 / 1.609344, 0.0), ("fluid_temp_c", 1.8, 32.0), ("line_pressure_bar", 100.0, 0.0)],
)
def test_clean_recording__a_unit_that_changes_on_the_way(name: str, factor: float, offset: float) -> None:
    found = spoil(name, slice(1400, 1900), lambda some: some * factor + offset)
    assert [(1402, 1901, name)] == [(one.row, one.last_row, one.channel) for one in found.refused]
    assert "unit changes" in found.refused[0].why


def test_clean_recording__a_vehicle_that_pulls_away_changes_no_unit() -> None:
    road = np.round(make_columns(rounds=1)["road_kmh"] / 1.609344, 1)
    assert () == cleaned(road_kmh=np.repeat(road[::5], 5)).refused


def test_clean_recording__gaps_are_told_and_lose_nothing() -> None:
    times = make_columns(rounds=1)["time_s"].copy()
    times[1000:] += 12.3
    found = cleaned(time_s=times)
    assert ("12.3 s are missing before row 1002.",) == found.notes
    assert [1000] == find_gaps(found.columns["time_s"]).tolist()


def test_clean_recording__a_log_that_starts_again_goes_on_behind_itself() -> None:
    columns = make_columns(rounds=1)
    twice = {name: np.concatenate((values, values)) for name, values in columns.items()}
    found = as_recording(twice)
    assert 2 * len(columns["time_s"]) == len(found.rows)
    assert "starts again at row 3502" in found.notes[0]
    assert (np.diff(found.columns["time_s"]) > 0).all()
    assert () == found.refused


def test_clean_recording__too_little_left_says_what_was_wrong() -> None:
    columns = make_columns(rounds=1)
    with pytest.raises(LogProblem, match=r"Only 1 rows of this log.*\n  row 3: the time is that"):
        as_recording({**columns, "time_s": np.zeros(len(columns["time_s"]))})


def test_group_rows__many_places_are_told_at_the_end_in_one() -> None:
    flags = np.arange(4000) % 2 == 0
    told = group_rows(np.arange(2, 4002), flags, "wrong")
    assert 500 == len(told)
    assert ("wrong (1,501 rows from here on)", 4000) == (told[-1].why, told[-1].last_row)
