import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from support.drives import make_columns
from support.hostile import HOSTILE
from support.trade import shipped

from shiftlore.basics import UnknownId, UsageProblem
from shiftlore.tracing.column_guess import (
    Sampled,
    choose_unit,
    guess_columns,
    read_map,
    show_header,
    split_name,
    tidy_unit,
)

PHRASES = shipped().languages["en"].columns
HAND_MADE = make_columns(rounds=1)


def sampled(header: str, like: str, factor: float = 1.0, offset: float = 0.0) -> Sampled:
    """Sample a column of the drive made by hand under another name."""
    values = HAND_MADE[like]
    is_words = values.dtype.kind == "U"
    figures = np.zeros(0) if is_words else values * factor + offset
    return Sampled(header, tidy_unit(header), figures, is_words=is_words, rises=like == "time_s")


def guessed(*columns: Sampled, said: tuple[str, ...] = ()) -> dict[str, tuple[str, str]]:
    """Guess columns: channel -> header and unit."""
    headers = [column.header for column in columns]
    return {one.channel: (one.header, one.unit) for one in guess_columns(columns, PHRASES, read_map(said, headers))}


@pytest.mark.parametrize(
    ("header", "channel"),
    [
        ("Engine Speed [1/min]", "engine_rpm"),
        ("EngineRPM", "engine_rpm"),
        ("ENGINE_RPM", "engine_rpm"),
        ("Turbine speed (rpm)", "input_rpm"),
        ("trans. input speed", "input_rpm"),
        ("Output Shaft Speed", "output_rpm"),
        ("OSS", "output_rpm"),
    ],
)
def test_guess_columns__a_speed_by_its_name(header: str, channel: str) -> None:
    found = guessed(sampled("time", "time_s"), sampled(header, channel))
    assert header == found[channel][0]


@pytest.mark.parametrize(
    ("header", "channel", "unit", "factor", "offset"),
    [
        ("Vehicle Speed (mph)", "road_kmh", "mph", 1, 0),
        ("VSS km/h", "road_kmh", "km/h", 1, 0),
        ("Trans Temp °F", "fluid_temp_c", "F", 1.8, 32),
        ("Transmission fluid temperature", "fluid_temp_c", "F", 1.8, 32),
        ("Fluid temp", "fluid_temp_c", "C", 1, 0),
        ("line pressure", "line_pressure_bar", "kPa", 100, 0),
        ("Line Pressure psi", "line_pressure_bar", "psi", 14.5, 0),
        ("Throttle position", "throttle_percent", "share", 0.01, 0),
        ("TCC duty %", "converter_clutch_percent", "%", 1, 0),
    ],
)
def test_guess_columns__its_unit_by_header_or_range(
    header: str, channel: str, unit: str, factor: float, offset: float
) -> None:
    assert (header, unit) == guessed(sampled("t", "time_s"), sampled(header, channel, factor, offset))[channel]


@pytest.mark.parametrize(
    "header", ["Wheel speed FL", "Engine oil temperature", "TCC slip", "Coolant temp", "Fan speed"]
)
def test_guess_columns__what_only_sounds_alike_is_left(header: str) -> None:
    assert {"time_s"} == set(guessed(sampled("time", "time_s"), sampled(header, "engine_rpm")))


def test_guess_columns__rad_a_second_by_range() -> None:
    found = guessed(sampled("time", "time_s"), sampled("engine speed", "engine_rpm", 0.104719755))
    assert ("engine speed", "rad/s") == found["engine_rpm"]


def test_guess_columns__meaningless_names_by_how_they_go_together() -> None:
    speeds = (sampled("y", "output_rpm"), sampled("x", "input_rpm"), sampled("w", "throttle_percent"))
    found = guessed(sampled("q", "time_s"), *speeds)
    assert ("q", "x", "y") == (found["time_s"][0], found["input_rpm"][0], found["output_rpm"][0])


def test_guess_columns__meaningless_speeds_go_together_in_one_unit() -> None:
    """The engine's turns a minute are 9.55 of the turbine's rad/s while it is locked: that is no gear."""
    rad = 0.104719755
    speeds = (
        sampled("n1 [1/min]", "engine_rpm"),
        sampled("n2 [rad/s]", "input_rpm", rad),
        sampled("n3 [rad/s]", "output_rpm", rad),
    )
    found = guessed(sampled("q", "time_s"), *speeds)
    assert ("n2 [rad/s]", "n3 [rad/s]") == (found["input_rpm"][0], found["output_rpm"][0])
    assert ("n1 [1/min]", "rpm") == found["engine_rpm"]


def test_guess_columns__the_user_goes_first() -> None:
    columns = (sampled("time", "time_s"), sampled("engine speed", "engine_rpm"), sampled("n2", "engine_rpm"))
    found = guessed(*columns, said=("engine_rpm=n2", "output_rpm=#2:rad/s"))
    assert {"engine_rpm": ("n2", "rpm"), "output_rpm": ("engine speed", "rad/s"), "time_s": ("time", "s")} == found


def test_guess_columns__what_the_user_leaves_out_stays_out() -> None:
    columns = (sampled("time", "time_s"), sampled("engine speed", "engine_rpm"))
    assert {"time_s"} == set(guessed(*columns, said=("engine_rpm=",)))


@pytest.mark.parametrize(
    ("said", "error", "match"),
    [
        ("engine_rpm", UsageProblem, "maps nothing"),
        ("engin_rpm=a", UnknownId, "engine_rpm"),
        ("engine_rpm=zz", UnknownId, "no column"),
        ("engine_rpm=speed:furlong", UsageProblem, "no unit"),
        ("lever=speed:rpm", UsageProblem, "leave it out"),
    ],
)
def test_read_map__says_what_to_write(said: str, error: type[Exception], match: str) -> None:
    with pytest.raises(error, match=match):
        read_map([said], ["time", "speed"])


def test_read_map__one_column_is_one_thing() -> None:
    with pytest.raises(UsageProblem, match="two things"):
        read_map(["engine_rpm=speed", "input_rpm=speed"], ["time", "speed"])


def test_read_map__a_header_that_holds_a_colon_is_found_whole() -> None:
    assert {"engine_rpm": (1, "")} == read_map(["engine_rpm=a:b"], ["time", "A:B"])


def test_choose_unit__switches_of_one_and_nought_are_shares() -> None:
    column = Sampled("lockup", "", np.array([0.0, 1.0, 1.0]), is_words=False)
    assert "share" == choose_unit("converter_clutch_percent", column, "")


@pytest.mark.parametrize(("step", "unit"), [(0.02, "s"), (20.0, "ms"), (1.0, "s"), (100.0, "ms")])
def test_choose_unit__of_time_by_its_step(step: float, unit: str) -> None:
    assert unit == choose_unit("time_s", Sampled("t", "", np.arange(100) * step, is_words=False), "")


def test_split_name__takes_brackets_and_capitals_apart() -> None:
    assert ["turbine", "speed", "2"] == split_name("TurbineSpeed_2 [1/min]")


@given(HOSTILE)
def test_show_header__no_header_is_obeyed_by_a_screen(header: str) -> None:
    shown = show_header("\x1b[2J" + header)
    assert "\x1b" not in shown and "\u202e" not in shown and len(shown) <= 60


@given(st.text(max_size=30))
def test_tidy_unit__takes_any_text(text: str) -> None:
    assert isinstance(tidy_unit(text), str)


def test_split_name__umlauts_are_letters() -> None:
    assert ["oeltemperatur"] == split_name("Öltemperatur [°C]")
    assert ["waehlhebel"] == split_name("Wählhebel")
