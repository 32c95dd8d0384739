import numpy as np
import pytest
from support.drives import as_recording, follow, make_columns

from shiftlore.tracing.signal_measures import measure_drops, measure_engagements, measure_heat, measure_pressure


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
