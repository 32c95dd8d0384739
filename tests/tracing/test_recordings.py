import numpy as np
import pytest
from support.drives import as_recording, make_columns

from shiftlore.basics.quantities import to_base
from shiftlore.tracing.recordings import CHANNELS, convert


@pytest.mark.parametrize(
    ("channel", "value", "unit", "expected"),
    [
        ("engine_rpm", 100.0, "rad/s", 954.929659),
        ("engine_rpm", 20.0, "1/s", 1200.0),
        ("road_kmh", 60.0, "mph", 96.56064),
        ("road_kmh", 10.0, "m/s", 36.0),
        ("fluid_temp_c", 212.0, "F", 100.0),
        ("fluid_temp_c", 373.15, "K", 100.0),
        ("line_pressure_bar", 150.0, "psi", 10.342136),
        ("line_pressure_bar", 850.0, "kPa", 8.5),
        ("throttle_percent", 0.4, "share", 40.0),
        ("time_s", 1500.0, "ms", 1.5),
    ],
)
def test_convert__by_the_definitions_of_the_units(channel: str, value: float, unit: str, expected: float) -> None:
    """Source: the SI brochure; a mile is 1,609.344 m, a psi 6.894757 kPa."""
    assert pytest.approx(expected, rel=1e-6) == float(convert(channel, np.array([value]), unit)[0])


@pytest.mark.parametrize(("unit", "value"), [("kPa", 420.0), ("psi", 61.0), ("bar", 4.2)])
def test_convert__agrees_with_the_units_of_a_case(unit: str, value: float) -> None:
    ours = float(convert("line_pressure_bar", np.array([value]), unit)[0])
    assert pytest.approx(to_base("pressure", value, unit) / 100, rel=1e-6) == ours


def test_convert__leaves_the_first_unit_alone() -> None:
    values = np.array([1.0, 2.0])
    assert all(
        convert(name, values, next(iter(channel.units))) is values
        for name, channel in CHANNELS.items()
        if channel.units
    )


def test_has__asks_for_all_of_them() -> None:
    recording = as_recording(
        {"time_s": make_columns(rounds=1)["time_s"], "engine_rpm": make_columns(rounds=1)["engine_rpm"]}
    )
    assert recording.has("engine_rpm")
    assert not recording.has("engine_rpm", "output_rpm")
