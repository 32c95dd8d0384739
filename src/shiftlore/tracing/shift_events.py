"""Every change of gear in a log: whether it came, how long it took, and what the speeds did in between."""

from dataclasses import dataclass

import numpy as np

from shiftlore.tracing.gears_had import LEAST_OUTPUT_RPM, TracedDrive, smooth_speed
from shiftlore.tracing.measured import Figures, each_run, gather
from shiftlore.tracing.recordings import THROTTLE, Floats

LONGEST_SHIFT = 4.0
"""A gear that has not come after so many seconds does not come (judgement)."""
NEAR_SHARE, NEAR_RPM, STAYS_SECONDS = 0.08, 25.0, 0.12
"""A shift begins and ends where the input lies within 8 % of its step, or 25 rpm, of the speed of a gear (judgement)."""
LAG_SECONDS = 0.05
"""A command is recorded so much late at most. An input that has left the old gear before slips there, and one that comes down
to no new gear slips in that: neither is a flare of the shift (measured: drives with one slipping clutch)."""
BEFORE_SECONDS, GAP_BEFORE_SECONDS = 0.5, 1.0
BESIDE_SECONDS, DIP_SECONDS, AFTER_SECONDS = 0.4, 0.5, 1.0
REFUSED_SECONDS, KEPT_SHARE = 2.0, 0.6
PULLING_PERCENT, SAME_PEDAL = 8.0, 25.0
COARSEST_SECONDS = 0.25
"""From rows farther apart a sound shift looks slow (measured: sound drives at 2 rows a second)."""


@dataclass(frozen=True, slots=True)
class ShiftEvent:
    """One change from a forward gear to another.

    Args:
        start, end: numbers of gears; row: where it was commanded.
        came: whether the gear came; kept: whether the old gear stayed all the while.
        seconds: from the first movement of the input to the new gear, or NaN.
        flare_rpm: how far the input rose above the higher of both gears' speeds, or NaN.
        dip_percent: how much more slowly the output gained speed meanwhile, in percent of itself a second, or NaN.
        pulls: whether the engine pulled.
    """

    start: int
    end: int
    row: int
    came: bool
    kept: bool
    seconds: float
    flare_rpm: float
    dip_percent: float
    pulls: bool


def find_shift_events(drive: TracedDrive) -> list[ShiftEvent]:
    """List the changes of forward gears: as commanded; where no command is recorded, as they were had."""
    is_commanded = bool((drive.commanded >= 0).any())
    gears = drive.commanded if is_commanded else drive.had
    runs = [(a, b) for a, b in each_run(gears) if gears[a] >= 0]
    smoothed = smooth_speed(drive.driven, drive.step), smooth_speed(drive.output, drive.step)
    gaps, found = drive.times[drive.fresh], []
    for (first, last), (begin, end) in zip(runs[:-1], runs[1:], strict=True):
        gap = drive.times[begin] - drive.times[last - 1]
        if gears[first] == gears[begin] or gap > (1.5 * drive.step if is_commanded else LONGEST_SHIFT):
            continue
        near = (gaps > drive.times[last - 1] - GAP_BEFORE_SECONDS) & (gaps < drive.times[begin] + LONGEST_SHIFT)
        if (near & (drive.fresh > first) & (drive.fresh < end)).any():
            continue
        row = begin if is_commanded else last - 1
        event = _follow(drive, smoothed, (int(gears[first]), int(gears[begin])), (first, row, end))
        if event is not None:
            found.append(event)
    return found


def _follow(
    drive: TracedDrive, smoothed: tuple[Floats, Floats], gears: tuple[int, int], rows: tuple[int, int, int]
) -> ShiftEvent | None:
    """Follow one shift from its command on; None where too little is recorded of it.

    Args:
        smoothed: speed of the input and of the output, single wild values passed over.
    """
    driven, output = smoothed
    first, row, last = rows
    times, (start, end) = drive.times, gears
    stop = int(min(np.searchsorted(times, times[row] + LONGEST_SHIFT), last))
    begin = int(max(np.searchsorted(times, times[row] - BEFORE_SECONDS), first))
    out = drive.output[begin:stop]
    if stop - row < 4 or not np.isfinite(driven[begin:stop] + out).all() or np.min(out) < LEAST_OUTPUT_RPM:
        return None
    from_line, to_line = out * drive.table.ratios[start], out * drive.table.ratios[end]
    speed = driven[begin:stop]
    near = np.maximum(NEAR_SHARE * np.abs(from_line - to_line), NEAR_RPM)
    clock, command = times[begin:stop], row - begin
    at_end = np.abs(speed - to_line) < near
    came = _first_lasting(at_end & (np.arange(len(at_end)) >= command), clock)
    over = came if came is not None else len(speed) - 1
    at_start = np.abs(speed - from_line) < near
    left = np.flatnonzero(at_start[: over + 1])
    begun = int(left[-1]) if len(left) else command
    upper = np.maximum(from_line, to_line)
    above = speed - upper
    base = float(np.median(above[:command])) if end > start and command > 2 else 0.0
    window = (
        above[command : over + 1] if end > start else above[begun : min(len(above), over + int(0.5 / drive.step) + 1)]
    )
    early = command - round(LAG_SECONDS / drive.step)
    slipped = begun < early or not at_start[max(early - 1, 0)]
    is_told = len(window) and not slipped and (end > start or came is not None)
    flare = float(np.max(window) - max(base, 0.0)) if is_told else np.nan
    kept = (
        float(np.mean(drive.had[row:stop] == start)) >= KEPT_SHARE and times[stop - 1] - times[row] >= REFUSED_SECONDS
    )
    throttle = drive.column(THROTTLE)[begin : begin + over + 1]
    pulls = not np.isfinite(throttle).any() or bool(np.nanmin(throttle) > PULLING_PERCENT)
    return ShiftEvent(
        start,
        end,
        row=row,
        came=came is not None,
        kept=kept and came is None,
        seconds=float(clock[over] - clock[begun]) if came is not None else np.nan,
        flare_rpm=flare,
        dip_percent=_find_dip(drive, output, (row, begin + over, last)),
        pulls=pulls,
    )


def _first_lasting(flags: np.ndarray, clock: Floats) -> int | None:
    """Give the first row from which on the flags hold for a moment."""
    for first, end in each_run(flags):
        if flags[first] and (clock[end - 1] - clock[first] >= STAYS_SECONDS or end == len(flags)):
            return int(first)
    return None


def _find_dip(drive: TracedDrive, output: Floats, rows: tuple[int, int, int]) -> float:
    """Say how much more slowly the output gained speed in any half second of the shift than before it and well after it.

    Two gears at once brake the vehicle, and may do so for a while after the new gear is had. In percent of its speed a
    second; below 0 where it only gained.
    Args:
        output: its smoothed speed.
        rows: those of the command, of where the new gear is had, and of the next command.
    """
    first, over, last = rows
    beside, window = max(round(BESIDE_SECONDS / drive.step), 2), max(round(DIP_SECONDS / drive.step), 2)
    later = max(min(over + round(AFTER_SECONDS / drive.step), last - beside - 1), over + 3)
    low, high = first - beside, later + beside
    if low < 0 or high >= len(drive.times):
        return np.nan
    pedal = drive.column(THROTTLE)[low : high + 1]
    if np.isfinite(pedal).any() and (
        np.nanmin(pedal) < PULLING_PERCENT or np.nanmax(pedal) - np.nanmin(pedal) > SAME_PEDAL
    ):
        return np.nan  # whoever lifts the foot slows the vehicle too
    out = output[low : high + 1]
    before = (out[beside] - out[0]) / (beside * drive.step)
    after = (out[-1] - out[-1 - beside]) / (beside * drive.step)
    starts = np.arange(beside, max(later - low - window, beside) + 1)
    ends = np.minimum(starts + window, len(out) - 1)
    gained = (out[ends] - out[starts]) / (np.maximum(ends - starts, 1) * drive.step)
    return float((min(before, after) - np.min(gained)) / max(out[beside], 1.0) * 100)


def measure_shifts(drive: TracedDrive, events: list[ShiftEvent]) -> list[Figures]:
    """Measure upshifts and downshifts under load: flare, dip of the output, time, and shifts that did not come."""
    found: dict[str, dict[str, list[tuple[float, int]]]] = {}

    def note(measure: str, key: str, value: float, row: int) -> None:
        if np.isfinite(value):
            found.setdefault(measure, {}).setdefault(key, []).append((value, row))

    for event in events:
        key = drive.table.shifts.get((event.start, event.end))
        if key is None:
            continue
        is_up = event.end > event.start
        if is_up:
            note("upshift_refused", key, 100.0 * event.kept, event.row)
        if not event.pulls:
            continue
        note("upshift_flare" if is_up else "downshift_flare", key, event.flare_rpm, event.row)
        if is_up and event.came:
            if drive.step <= COARSEST_SECONDS:
                note("upshift_time", key, event.seconds, event.row)
            note("upshift_dip", key, event.dip_percent, event.row)
    return [figures for measure, by_key in found.items() for figures in gather(measure, by_key)]
