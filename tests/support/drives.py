"""Drives made by hand, row by row from a unit's ratios: every slip, flare and delay in them is known."""

from collections.abc import Mapping
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np

from shiftlore.gearing import unit_facts
from shiftlore.tracing import Trace, take_columns, trace_recording
from shiftlore.tracing.gears_had import GearTable, TracedDrive, follow_gears, tabulate_gears
from shiftlore.tracing.recordings import Recording, TakenColumn
from support.trade import shipped, unit_of

ROUND_S, STAND_S, PULL_S, CRUISE_S, ROLL_S = 70.0, 6.0, 30.0, 18.0, 16.0
RATE_HZ = 50.0
IDLE_RPM, CONVERTER_RPM = 700.0, 180.0
FREE_SECONDS = 1.0
"""So long the lever stands in N in each round before D is selected."""
Columns = dict[str, Any]


@cache
def table_of(unit: str = "long5") -> GearTable:
    """Give the gears of a shipped unit."""
    table = tabulate_gears(unit_facts(shipped().sheets[unit]))
    assert table is not None
    return table


def make_columns(
    unit: str = "long5",
    *,
    rounds: int = 3,
    slip: Mapping[int, float] | None = None,
    had_instead: Mapping[int, int] | None = None,
    flare: Mapping[tuple[int, int], float] | None = None,
    shift_s: float = 0.4,
    lock_slip: float = 1.0,
    unlocked_slip: float = CONVERTER_RPM,
    lock_percent: float = 100.0,
    shudder: tuple[float, float] = (0.0, 8.0),
    engage_s: float = 0.5,
    noise: float = 1.0,
    rate_hz: float = RATE_HZ,
) -> Columns:
    """Make the columns of a drive: stand, pull through all gears, cruise with the converter clutch on, roll to a stop.

    Args:
        slip: number of a gear from 0 -> rpm that the input runs ahead in it; had_instead: gear commanded -> gear had.
        flare: (from, to) -> rpm above the line of the old gear in the middle of that shift, which falls only at its end.
        shudder: rpm from the middle to the top, and Hz, of the slip while it is locked.
        noise: standard deviation of every speed.
    """
    table, count = table_of(unit), len(table_of(unit).names)
    times = np.arange(0, rounds * ROUND_S, 1 / rate_hz)
    clock = times % ROUND_S
    output = np.interp(
        clock, [0, STAND_S, STAND_S + PULL_S, STAND_S + PULL_S + CRUISE_S, ROUND_S], [0, 0, 3000, 3000, 0]
    )
    ups = STAND_S + PULL_S * np.linspace(0.2, 0.9, count - 1)
    downs = STAND_S + PULL_S + CRUISE_S + ROLL_S * np.linspace(0.3, 0.95, count - 1)
    gear = np.searchsorted(ups, clock, side="right") - np.searchsorted(downs, clock, side="right")
    after = np.where(
        clock >= downs[0], clock - downs[np.clip(np.searchsorted(downs, clock, side="right") - 1, 0, None)], 1e9
    )
    begun = np.where(gear > 0, clock - ups[np.clip(gear - 1, 0, None)], 1e9)
    since = np.where(clock >= downs[0], after, begun)
    before = np.where(clock >= downs[0], np.minimum(gear + 1, count - 1), np.maximum(gear - 1, 0))
    really = np.array([(had_instead or {}).get(n, n) for n in range(count)])
    old, new = output * table.ratios[really[before]], output * table.ratios[really[gear]]
    part = np.clip(since / shift_s, 0, 1)
    driven = old + (new - old) * part
    for (start, end), rpm in (flare or {}).items():
        driven = np.where((before == start) & (gear == end) & (part < 1), old + rpm * np.sin(np.pi * part), driven)
    for number, rpm in (slip or {}).items():
        driven += np.where((gear == number) & (part >= 1) & (output > 200), rpm, 0.0)
    lever = np.where(clock < FREE_SECONDS, "N", "D")
    free = (clock < FREE_SECONDS + engage_s) & (output < 1)
    driven = np.where(free, IDLE_RPM, driven)
    pulling = (clock > STAND_S) & (clock < STAND_S + PULL_S + CRUISE_S)
    throttle = np.where(pulling, np.where(clock > STAND_S + PULL_S, 15.0, 35.0), 0.0)
    cruising = (clock > STAND_S + PULL_S + 3) & (clock < STAND_S + PULL_S + CRUISE_S)
    lockup = np.where(cruising, lock_percent, 0.0)
    locked = lock_slip + shudder[0] * np.sin(2 * np.pi * shudder[1] * times)
    engine = driven + np.where(cruising, locked, unlocked_slip if unlocked_slip < CONVERTER_RPM else CONVERTER_RPM)
    engine = np.maximum(engine, IDLE_RPM)
    generator = np.random.default_rng(7)
    speeds = {"engine_rpm": engine, "input_rpm": driven, "output_rpm": output}
    noisy = {
        name: np.maximum(values + noise * generator.normal(size=len(times)), 0.0) for name, values in speeds.items()
    }
    names = np.array(table.names, dtype="U4")
    return {
        "time_s": times,
        **noisy,
        "road_kmh": output / 30.0,
        "gear_commanded": np.where(lever == "D", names[gear], "N"),
        "lever": lever.astype("U4"),
        "throttle_percent": throttle + 0.2 * generator.normal(size=len(times)) * (throttle > 0),
        "converter_clutch_percent": lockup,
        "fluid_temp_c": np.full(len(times), 80.0),
        "line_pressure_bar": np.full(len(times), 6.0),
    }


def as_recording(columns: Mapping[str, Any], *, clean: bool = True) -> Recording:
    """Give columns as a log that was read."""
    if clean:
        return take_columns(columns)
    count = len(columns["time_s"])
    taken = tuple(TakenColumn(name, name, place, "", "name") for place, name in enumerate(columns, 1))
    return Recording(dict(columns), np.arange(2, count + 2), count, taken)


def follow(columns: Mapping[str, Any], unit: str = "long5") -> TracedDrive:
    """Give columns with the gears that were had."""
    return follow_gears(as_recording(columns), table_of(unit))


def trace_columns(columns: Mapping[str, Any], unit: str | None = "long5") -> Trace:
    """Say what columns show."""
    return trace_recording(shipped(), as_recording(columns), None if unit is None else unit_of(unit))


@cache
def sound_trace(unit: str = "long5") -> Trace:
    """Give the trace of a sound drive made by hand."""
    return trace_columns(make_columns(unit, rate_hz=25), unit)


def telling(trace: Trace) -> dict[str, str]:
    """Give the answers that tell of a fault."""
    return {key: one.is_grade for key, one in trace.findings.items() if not one.is_sound}


def write_csv(path: Path, columns: Mapping[str, Any], separator: str = ",") -> Path:
    """Write columns as CSV, plainly."""
    cells = [
        [f"{cell:.2f}" if isinstance(cell, float) else str(cell) for cell in values.tolist()]
        for values in columns.values()
    ]
    lines = [separator.join(columns), *(separator.join(row) for row in zip(*cells, strict=True))]
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return path
