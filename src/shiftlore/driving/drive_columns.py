"""The columns of a drive: what happened, read off the true ones, each with its size; and what sensors make of them."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from shiftlore.driving.road_vehicles import RPM
from shiftlore.sheets import DriveDefect

Array = NDArray[np.float64]
Columns = Mapping[str, NDArray]
# From these sizes on something is told; sound units stay below them (measured on sound drives of every shipped sheet).
LEAST_FLARE_RPM, LEAST_BIND_MS2, LEAST_SLIP_RPM, LEAST_LOCK_RPM, LEAST_SHUDDER_RPM = 100.0, 0.5, 50.0, 20.0, 6.0
SETTLED_S, LOCKED_S, LASTS_S = 2.2, 0.5, 0.3
BESIDE_S = 0.3
DRIVEN_PERCENT, STEADY_PERCENT = 5.0, 8.0
KMH = 3.6


@dataclass(frozen=True, slots=True)
class DriveEvent:
    """Something that happened, with its true size.

    Args:
        kind: `shift` or `engage` (size: seconds until the gear is had), `flare` (rpm above both gears), `bind` (m/s2 by
            which the vehicle slows in an upshift under a steady pedal more than before and after), `slip` (rpm in a gear),
            `lockup_slip` (rpm), `lockup_shudder` (rpm, amplitude), `stalled` (engine rpm), `dropout`, `freeze` (seconds).
        name: `1-2`, `N-1`, the gear, or the column.
    """

    kind: str
    name: str
    start_s: float
    end_s: float
    size: float


def list_events(
    columns: Columns, had: NDArray[np.str_], ratios: Mapping[str, float], stalled: NDArray[np.bool_]
) -> list[DriveEvent]:
    """List everything that happened.

    Args:
        columns: true ones; `had`: the gear had per row, empty while none is.
        ratios: gear -> input over output speed.
        stalled: rows in which brake and throttle are both pressed down.
    """
    return [
        *find_shifts(columns, had, ratios),
        *find_slip(columns, had, ratios),
        *find_lockup(columns),
        *find_stall(columns, stalled),
    ]


def list_spans(flags: NDArray[np.bool_]) -> Iterator[tuple[int, int]]:
    """Give first and last row of every run of true flags.

    Example:
        >>> list(list_spans(np.array([False, True, True, False, True])))
        [(1, 2), (4, 4)]
    """
    edges = np.flatnonzero(np.diff(np.concatenate([[False], flags, [False]]).astype(int)))
    return ((int(first), int(after) - 1) for first, after in zip(edges[::2], edges[1::2], strict=True))


def find_shifts(columns: Columns, had: NDArray[np.str_], ratios: Mapping[str, float]) -> list[DriveEvent]:
    """List every shift and engagement, and the flare and the bind of each shift."""
    time_s, commanded = columns["time_s"], columns["gear_commanded"]
    pull = np.gradient(columns["road_kmh"] / KMH, time_s)
    starts = np.flatnonzero(commanded[1:] != commanded[:-1]) + 1
    events = []
    for place, start in enumerate(starts.tolist()):
        end = int(starts[place + 1]) if place + 1 < len(starts) else len(time_s)
        old, new = str(commanded[start - 1]), str(commanded[start])
        if new not in ratios:
            continue
        done = np.flatnonzero(had[start:end] == new)
        last = start + int(done[0]) if len(done) else end - 1
        first, stop, name = float(time_s[start]), float(time_s[last]), f"{old}-{new}"
        if old not in ratios:
            events.append(DriveEvent("engage", name, first, stop, stop - first))
            continue
        events.append(DriveEvent("shift", name, first, stop, stop - first))
        rows = slice(start, last + 1)
        high = max(ratios[old], ratios[new]) * columns["output_rpm"][rows]
        flare = float((columns["input_rpm"][rows] - high).max())
        if flare > LEAST_FLARE_RPM:
            events.append(DriveEvent("flare", name, first, stop, flare))
        before = pull[(time_s > first - BESIDE_S) & (time_s <= first)]
        after = pull[(time_s > stop + BESIDE_S) & (time_s <= stop + 2 * BESIDE_S)]
        during = pull[(time_s > first) & (time_s <= stop + BESIDE_S)]
        pedal = columns["throttle_percent"][max(start - 1, 0) : last + 1]
        is_steady = pedal.min() > DRIVEN_PERCENT and pedal.max() - pedal.min() < STEADY_PERCENT
        if ratios[new] < ratios[old] and is_steady and len(before) and len(after) and len(during):
            bind = float(min(before.mean(), after.mean()) - during.min())
            if bind > LEAST_BIND_MS2:
                events.append(DriveEvent("bind", name, first, stop, bind))
    return events


def find_slip(columns: Columns, had: NDArray[np.str_], ratios: Mapping[str, float]) -> list[DriveEvent]:
    """List every span in which a gear that was commanded long enough is driven through but not held."""
    time_s, commanded = columns["time_s"], columns["gear_commanded"]
    ratio = np.array([ratios.get(str(name), 0.0) for name in commanded])
    since = (
        time_s - time_s[np.maximum.accumulate(np.where(commanded != np.roll(commanded, 1), np.arange(len(time_s)), 0))]
    )
    over = columns["input_rpm"] - ratio * columns["output_rpm"]
    flags = (ratio != 0) & (since > SETTLED_S) & (had == "") & (over > LEAST_SLIP_RPM)
    return [
        DriveEvent("slip", str(commanded[first]), start, stop, float(np.median(over[first : last + 1])))
        for first, last, start, stop in _long_spans(flags, time_s)
    ]


def find_lockup(columns: Columns) -> list[DriveEvent]:
    """List every span in which a converter clutch that is fully commanded slips, and how much the slip swings."""
    time_s, full = columns["time_s"], columns["converter_clutch_percent"] >= 100.0
    slip = columns["engine_rpm"] - columns["input_rpm"]
    events = []
    for first, last, start, stop in _long_spans(full, time_s):
        rows = slice(first + int(np.searchsorted(time_s[first : last + 1], start + LOCKED_S)), last + 1)
        if rows.start > last:
            continue
        size, swing = (
            float(np.median(np.abs(slip[rows]))),
            float(np.std(np.diff(slip[rows]))) if rows.start < last else 0.0,
        )
        if size > LEAST_LOCK_RPM:
            events.append(DriveEvent("lockup_slip", str(columns["gear_commanded"][last]), start, stop, size))
        if swing > LEAST_SHUDDER_RPM:
            swing = float(np.std(slip[rows] - np.mean(slip[rows]))) * 2**0.5
            events.append(DriveEvent("lockup_shudder", str(columns["gear_commanded"][last]), start, stop, swing))
    return events


def find_stall(columns: Columns, stalled: NDArray[np.bool_]) -> list[DriveEvent]:
    """List every stall test with the speed that the engine came to."""
    time_s, engine = columns["time_s"], columns["engine_rpm"]
    return [
        DriveEvent("stalled", str(columns["gear_commanded"][first]), start, stop, float(engine[first : last + 1].max()))
        for first, last, start, stop in _long_spans(stalled, time_s)
    ]


def _long_spans(flags: NDArray[np.bool_], time_s: Array) -> Iterator[tuple[int, int, float, float]]:
    """Give first and last row and time of the spans that last."""
    for first, last in list_spans(flags):
        if time_s[last] - time_s[first] >= LASTS_S:
            yield first, last, float(time_s[first]), float(time_s[last])


# Tooth wheels as usual: teeth, what a turn is uneven by (share of a tooth), rpm of one step in the message (judgement).
WHEELS = {"engine_rpm": (58, 0.004, 0.25), "input_rpm": (34, 0.006, 1.0), "output_rpm": (42, 0.006, 1.0)}
TIMER_S = 2e-6
SILENT_S = 0.25
"""So long without a tooth reads as standing still."""
# Column -> standard deviation of its noise and its step (judgement).
PLAIN = {
    "road_kmh": (0.04, 0.05),
    "throttle_percent": (0.12, 0.4),
    "converter_clutch_percent": (0.0, 1.0),
    "fluid_temp_c": (0.2, 1.0),
    "line_pressure_bar": (0.12, 0.05),
}
DROPOUTS = 4


def count_teeth(rpm: Array, time_s: Array, wheel: tuple[int, float, float], generator: np.random.Generator) -> Array:
    """Measure a speed from the teeth that pass: whole teeth over the time between the last of each sample.

    Args:
        rpm: true speed; its sign is not seen.
        wheel: teeth, unevenness as a share of a tooth, step of the message in rpm.
    """
    teeth, uneven, step = wheel
    speed = np.abs(rpm)
    spacing = np.diff(time_s, prepend=2 * time_s[0] - time_s[1]) if len(time_s) > 1 else np.ones(1)
    passed = np.cumsum(speed / RPM * spacing) * teeth / (2 * np.pi) + generator.uniform()
    whole = np.floor(passed)
    rate = np.maximum(speed / RPM * teeth / (2 * np.pi), 1e-9)
    shape = np.append(generator.normal(0, uneven, teeth), 0.0)
    edge_s = time_s - (passed - whole + shape[whole.astype(int) % teeth]) / rate
    edge_s = np.round(edge_s / TIMER_S) * TIMER_S
    last = np.maximum.accumulate(np.where(np.diff(whole, prepend=whole[0] - 1) > 0, np.arange(len(rpm)), 0))
    before = np.concatenate([[0], last[:-1]])
    span = edge_s[last] - edge_s[before]
    moved = (last != before) & (span > 0)
    found = np.where(moved, (whole[last] - whole[before]) / np.where(moved, span, 1.0), 0.0) * 60 / teeth
    held = np.maximum.accumulate(np.where(moved, np.arange(len(rpm)), 0))
    found = np.where(time_s - time_s[held] < SILENT_S, found[held], 0.0)
    return np.round(found / step) * step


def sense_columns(truth: Mapping[str, Array], generator: np.random.Generator) -> dict[str, Array]:
    """Give every column as its sensor shows it.

    Args:
        truth: true columns, `time_s` among them; texts are left as they are.
    """
    found = dict(truth)
    for name, wheel in WHEELS.items():
        found[name] = count_teeth(truth[name], truth["time_s"], wheel, generator)
    for name, (spread, step) in PLAIN.items():
        noisy = truth[name] + generator.normal(0, spread, len(truth[name])) if spread else truth[name]
        noisy = np.where(truth[name] == 0, 0.0, noisy) if name != "fluid_temp_c" else noisy
        found[name] = np.round(np.maximum(noisy, 0.0) / step) * step if name != "fluid_temp_c" else np.round(noisy)
    return found


def spoil_sensors(
    columns: dict[str, Array], defects: Sequence[DriveDefect], generator: np.random.Generator
) -> list[tuple[str, str, int, int]]:
    """Let sensors drop out and freeze, in place.

    Returns: kind, column, first and last row of each time.
    """
    rows = len(columns["time_s"])
    step = float(columns["time_s"][1] - columns["time_s"][0]) if rows > 1 else 1.0
    spoiled = []
    for item in defects:
        if item.kind not in ("dropout", "freeze"):
            continue
        length = max(round(item.size / step), 1)
        for _ in range(DROPOUTS if item.kind == "dropout" else 1):
            first = int(generator.integers(rows // 5, max(rows * 4 // 5 - length, rows // 5 + 1)))
            last = min(first + length, rows)
            column = columns[item.part].copy()
            column[first:last] = 0.0 if item.kind == "dropout" else column[first]
            columns[item.part] = column
            spoiled.append((item.kind, item.part, first, last - 1))
    return spoiled
