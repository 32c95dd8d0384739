import numpy as np
import pytest
from support.drives import as_recording, follow, make_columns

from shiftlore.tracing.further_measures import (
    find_converter_slip,
    measure_converter,
    measure_drops,
    measure_engagements,
    measure_heat,
    measure_pressure,
)


def measured(lacking: tuple[str, ...] = (), **more: object) -> dict[str, np.ndarray]:
    """Measure the converter of a drive made by hand, some of its columns left out."""
    columns = make_columns(**{"rounds": 2, **more})  # type: ignore[arg-type]
    drive = follow({name: values for name, values in columns.items() if name not in lacking})
    return {one.name: one.samples for one in measure_converter(drive)}


@pytest.mark.parametrize("rpm", [5.0, 80.0, 300.0])
def test_measure_converter__slip_while_it_is_on(rpm: float) -> None:
    assert rpm == pytest.approx(float(np.median(measured(lock_slip=rpm)["lock_slip"])), abs=2)


def test_measure_converter__it_comes_on_or_does_not() -> None:
    assert {100.0} == set(measured()["lock_held"].tolist())
    assert {0.0} == set(measured(lock_slip=170)["lock_held"].tolist())


@pytest.mark.parametrize("rpm", [1.0, 10.0])
def test_measure_converter__no_slip_under_load_though_it_is_off(rpm: float) -> None:
    assert rpm == pytest.approx(float(np.median(measured(unlocked_slip=rpm)["unlocked_slip"])), abs=2)


def test_measure_converter__a_clutch_that_drags_is_told_at_little_pedal_though_it_slips_at_much() -> None:
    """Source: simulated drives whose clutch keeps 30 % of its torque slip 0 rpm at 22 % of the pedal, 100 at 80 %."""
    columns = make_columns(rounds=2, unlocked_slip=1.0)
    hard = columns["time_s"] % 70 < 20
    columns["engine_rpm"] = columns["engine_rpm"] + np.where(hard, 100.0, 0.0)
    columns["throttle_percent"] = np.where(hard, 2.4, 0.65) * columns["throttle_percent"]
    (found,) = [one for one in measure_converter(follow(columns)) if one.name == "unlocked_slip"]
    assert float(np.median(found.samples)) < 5
    assert len(found.samples) >= 8


def test_measure_converter__an_open_converter_slips_under_load() -> None:
    assert float(np.median(measured()["unlocked_slip"])) > 150


@pytest.mark.parametrize(("rpm", "hertz"), [(20.0, 5.0), (30.0, 9.0), (12.0, 14.0)])
def test_measure_converter__shudder_by_the_height_of_its_swing(rpm: float, hertz: float) -> None:
    """A line between two of the spectrum loses up to 15 % with this window."""
    found = measured(shudder=(rpm, hertz))
    assert 0.84 * rpm < float(np.median(found["locked_shudder"])) < 1.05 * rpm


def test_measure_converter__noise_is_no_shudder() -> None:
    assert float(np.max(measured(noise=5.0)["locked_shudder"])) < 6


def test_measure_converter__a_slow_log_says_nothing_of_shudder() -> None:
    assert "locked_shudder" not in measured(rate_hz=10)


def test_measure_converter__never_commanded() -> None:
    assert [0.0] == measured(lock_percent=0)["lock_commanded"].tolist()
    assert float(measured()["lock_commanded"][0]) > 50


def test_measure_converter__off_and_on_for_nothing_is_counted() -> None:
    columns = make_columns(rounds=2)
    command = columns["converter_clutch_percent"].copy()
    for first in range(2100, 2500, 100):
        command[first : first + 40] = 0.0
    found = {
        one.name: one.samples for one in measure_converter(follow({**columns, "converter_clutch_percent": command}))
    }
    assert 4.0 == pytest.approx(float(found["lock_changes"][0]), abs=0.1)


def test_measure_converter__stall_speed_while_it_is_held_at_full_throttle() -> None:
    columns = make_columns(rounds=1)
    throttle, engine = columns["throttle_percent"].copy(), columns["engine_rpm"].copy()
    throttle[150:280], engine[150:280] = 100.0, 2150.0
    found = {
        one.name: one.samples
        for one in measure_converter(follow({**columns, "throttle_percent": throttle, "engine_rpm": engine}))
    }
    assert [2150.0] == [pytest.approx(value, abs=3) for value in found["stall_forward"].tolist()]


@pytest.mark.parametrize("lacking", ["engine_rpm", "converter_clutch_percent"])
def test_measure_converter__says_nothing_without_its_columns(lacking: str) -> None:
    assert "lock_slip" not in measured((lacking,))


def test_find_converter_slip__without_a_turbine_sensor_by_the_commanded_gear() -> None:
    columns = make_columns(rounds=2, lock_slip=90)
    del columns["input_rpm"]
    slip = find_converter_slip(follow(columns))
    assert slip is not None
    locked = (columns["converter_clutch_percent"] > 80) & (columns["output_rpm"] > 2990)
    assert 90 == pytest.approx(float(np.median(slip[locked])), abs=3)


@pytest.mark.parametrize("seconds", [0.4, 1.6, 3.4])
def test_measure_engagements__from_the_lever_to_the_turbine(seconds: float) -> None:
    (found,) = measure_engagements(follow(make_columns(rounds=2, engage_s=seconds)))
    assert "engage_forward" == found.name
    assert [pytest.approx(seconds, abs=0.05)] * 2 == found.samples.tolist()


def test_measure_engagements__a_range_that_never_takes_is_as_long_as_can_be_told() -> None:
    columns = make_columns(rounds=1)
    driven = columns["input_rpm"].copy()
    driven[: 50 * 20] = 700.0
    (found,) = measure_engagements(
        follow(
            {**columns, "input_rpm": driven, "output_rpm": np.where(np.arange(3500) < 1000, 0.0, columns["output_rpm"])}
        )
    )
    assert [8.0] == found.samples.tolist()


def test_measure_engagements__without_input_speed_nothing_is_told() -> None:
    columns = make_columns(rounds=1)
    del columns["input_rpm"]
    assert [] == measure_engagements(follow(columns))


def test_measure_heat__the_warmest_stretch_and_no_single_reading() -> None:
    columns = make_columns(rounds=1)
    warm = np.full(3500, 70.0)
    warm[1000:1400], warm[2000] = 127.0, 128.0
    recording = as_recording({**columns, "fluid_temp_c": warm}, clean=False)
    found = {one.name: float(one.samples[0]) for one in measure_heat(recording, columns["time_s"])}
    assert 127.0 == found["hottest"]
    assert 4.0 == found["temperature_jumps"]


def test_measure_heat__a_fluid_that_warms_up_does_not_jump() -> None:
    columns = make_columns(rounds=1)
    recording = as_recording({**columns, "fluid_temp_c": np.linspace(20, 110, 3500)})
    found = {one.name: float(one.samples[0]) for one in measure_heat(recording, columns["time_s"])}
    assert 0.0 == found["temperature_jumps"]


def test_measure_pressure__at_idle_and_the_highest_at_full_throttle() -> None:
    columns = make_columns(rounds=1)
    line, throttle = np.full(3500, 6.0), columns["throttle_percent"].copy()
    line[:250], throttle[600:800] = 4.2, 100.0
    line[600:700], line[700:800] = 9.0, 14.0
    found = {
        one.name: one.samples
        for one in measure_pressure(follow({**columns, "line_pressure_bar": line, "throttle_percent": throttle}))
    }
    assert 420.0 == pytest.approx(float(np.median(found["idle_pressure"])))
    assert [1400.0] == [pytest.approx(value) for value in found["full_pressure"].tolist()]


def test_measure_drops__counts_by_the_sensors_of_the_sheet() -> None:
    columns = make_columns(rounds=1)
    driven = columns["input_rpm"].copy()
    driven[1500:1510] = driven[1700:1720] = 0.0
    found = measure_drops(
        as_recording({**columns, "input_rpm": driven}), {"input": "input_speed", "output": "output_speed"}
    )
    assert {"input_speed": 2.0, "output_speed": 0.0} == {one.instance: float(one.samples[0]) for one in found}
