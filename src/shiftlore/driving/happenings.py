"""What happened in a drive, read off the true columns: shifts, engagements, flares, binds, slip, stall; each with its size."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

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
