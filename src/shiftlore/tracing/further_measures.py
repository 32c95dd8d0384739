"""What a log says beside gears: the converter and its clutch, how soon a range takes, heat, pressure, signals that fail."""

from collections.abc import Mapping

import numpy as np

from shiftlore.tracing.gears_had import NEUTRAL, REVERSE, UNKNOWN, TracedDrive, unbroken_runs
from shiftlore.tracing.measured import Figures, each_run, find_runs, gather, run_starts, take_blocks
from shiftlore.tracing.recordings import (
    ENGINE,
    INPUT,
    LEVER,
    LINE,
    LOCKUP,
    OUTPUT,
    ROAD,
    THROTTLE,
    WARMTH,
    Flags,
    Floats,
    Recording,
)

ON_PERCENT, OFF_PERCENT = 80.0, 5.0
SETTLED_SECONDS, BLOCK_SECONDS = 1.5, 0.5
HOLDS_RPM, HOLDS_SHARE, FEWEST_SECONDS = 60.0, 0.45, 2.5
"""Slip, and share of the slip before, below which a converter clutch has come on; how long it must be commanded (judgement)."""
PULL_PERCENT, LEAST_ENGINE_RPM = (18.0, 60.0), 1000.0
"""An open converter slips plainly from so much pedal on; pressed harder, a clutch that drags may slip too (measured: sound
drives 67 rpm and more between, drives whose clutch keeps 30 % of its torque 0 to 40)."""
SHUDDER_HZ, SHUDDER_SECONDS, FEWEST_HZ = (3.0, 20.0), 1.28, 15.0
"""Between which a converter clutch shudders, in what time it is told, and how often a log must look (judgement)."""
FLOORED_PERCENT, STALL_SECONDS, STALLED_SHARE = 85.0, 0.8, 0.1
CRUISE_SECONDS, CRUISE_PERCENT, CRUISE_RPM, WARM_C = 4.0, (4.0, 45.0), 1300.0, 45.0


def find_converter_slip(drive: TracedDrive) -> Floats | None:
    """Give engine speed less turbine speed; without a sensor of its own the turbine turns with the gear that is had."""
    if not drive.recording.has(ENGINE):
        return None
    engine = drive.recording.columns[ENGINE]
    if drive.recording.has(INPUT):
        return engine - drive.driven
    if drive.scale is not None:
        return None
    turbine = drive.output * drive.table.ratios[np.maximum(drive.commanded, 0)]
    return np.where(drive.commanded >= 0, engine - turbine, np.nan)


def measure_converter(drive: TracedDrive) -> list[Figures]:
    """Measure the converter clutch, as far as the log has its slip and its command."""
    slip = find_converter_slip(drive)
    found: list[Figures] = _measure_stall(drive)
    if slip is None or not drive.recording.has(LOCKUP):
        return found
    command = drive.column(LOCKUP)
    with np.errstate(invalid="ignore"):
        on, off = command > ON_PERCENT, command < OFF_PERCENT
    found += _measure_locked(drive, slip, on)
    found += _measure_unlocked(drive, slip, off)
    found += _measure_command(drive, command)
    return found + _measure_shudder(drive, slip, command)


def _since(flags: Flags, times: Floats) -> Floats:
    """Give how long flags have held, in seconds; 0 where they do not."""
    return np.where(flags, times - times[run_starts(flags)], 0.0)


def _in_gear(drive: TracedDrive) -> Flags:
    """Mark rows in which no shift is on its way: the command is as it was for a second."""
    return drive.times - drive.times[run_starts(drive.commanded)] > 1.0


def _measure_locked(drive: TracedDrive, slip: Floats, on: Flags) -> list[Figures]:
    """Measure the slip while it is commanded on, under load, and whether it comes on at all."""
    calm = on & (_since(on, drive.times) > SETTLED_SECONDS) & drive.pulls(5.0) & _in_gear(drive)
    values, rows = take_blocks(np.abs(slip), drive.times, calm, BLOCK_SECONDS)
    held = []
    for first, end in unbroken_runs(drive, on):
        if drive.times[end - 1] - drive.times[first] >= FEWEST_SECONDS:
            late = slip[first + int(SETTLED_SECONDS / drive.step) : end]
            late = np.abs(late[np.isfinite(late)])
            before = np.abs(slip[max(first - int(1 / drive.step), 0) : first])
            before = before[np.isfinite(before)]
            open_rpm = float(np.median(before)) if len(before) else 0.0
            if len(late):
                held.append((100.0 * (float(np.quantile(late, 0.2)) < max(HOLDS_RPM, HOLDS_SHARE * open_rpm)), first))
    return [Figures("lock_slip", "", values, rows)] * bool(len(values)) + gather("lock_held", {"": held})


def _measure_unlocked(drive: TracedDrive, slip: Floats, off: Flags) -> list[Figures]:
    """Measure the slip under load while it is commanded off: a converter that works slips then."""
    with np.errstate(invalid="ignore"):
        runs = drive.recording.columns[ENGINE] > LEAST_ENGINE_RPM
    pulled = off & (_since(off, drive.times) > 1.0) & drive.pulls(PULL_PERCENT[0]) & runs & (drive.output > 200.0)
    with np.errstate(invalid="ignore"):
        pulled &= ~(drive.column(THROTTLE) > PULL_PERCENT[1])
    if (drive.commanded >= 0).any() and not drive.is_engine:
        pulled &= drive.had == drive.commanded
    values, rows = take_blocks(np.abs(slip), drive.times, pulled & _in_gear(drive), BLOCK_SECONDS)
    return [Figures("unlocked_slip", "", values, rows)] * bool(len(values))


def _measure_command(drive: TracedDrive, command: Floats) -> list[Figures]:
    """Say how much of steady driving in a gear that allows it has the command, and how often it changes for nothing."""
    pedal, warm = drive.column(THROTTLE), drive.column(WARMTH)
    with np.errstate(invalid="ignore"):
        cruise = np.isin(drive.commanded, drive.table.lockup) & (drive.driven > CRUISE_RPM)
        cruise &= ~(pedal < CRUISE_PERCENT[0]) & ~(pedal > CRUISE_PERCENT[1]) & ~(warm < WARM_C)
    late = cruise & (_since(cruise, drive.times) > CRUISE_SECONDS)
    found = []
    if late.sum() * drive.step > 10.0:
        share = 100.0 * float(np.mean(command[late] > 20.0))
        found.append(Figures("lock_commanded", "", np.array([share]), np.flatnonzero(late)[:1], exact=True))
    minutes = max(float(cruise.sum()) * drive.step / 60, 1.0)
    if cruise.sum() * drive.step > 15.0:
        rows = [first for first, _ in _useless_changes(drive, command, cruise)]
        found.append(
            Figures("lock_changes", "", np.array([len(rows) / minutes]), np.array(rows or [0], np.int64), exact=True)
        )
    return found


def _useless_changes(drive: TracedDrive, command: Floats, cruise: Flags) -> list[tuple[int, int]]:
    """List where the command goes off and on again within some seconds, in one gear and with the pedal still."""
    found = []
    pedal = drive.column(THROTTLE)
    on = np.where(np.isfinite(command), command > 50.0, False)
    for first, end in find_runs(~on):
        around = slice(max(first - int(1 / drive.step), 0), min(end + int(1 / drive.step), len(on)))
        steady = pedal[around][np.isfinite(pedal[around])]
        is_inside = first > 0 and end < len(on) and drive.times[end] - drive.times[first] < 8.0
        if is_inside and cruise[around].all() and (not len(steady) or np.ptp(steady) < 12.0):
            found.append((first, end))
    return found


def _measure_shudder(drive: TracedDrive, slip: Floats, command: Floats) -> list[Figures]:
    """Measure how far the slip swings while the clutch comes on and while it is on: the strongest line of its spectrum."""
    if drive.step <= 0 or 1 / drive.step < FEWEST_HZ:
        return []
    with np.errstate(invalid="ignore"):
        on, part = command > ON_PERCENT, (command > OFF_PERCENT) & (command <= ON_PERCENT)
    late = on & (_since(on, drive.times) > SETTLED_SECONDS)
    coming = part | (on & ~late)
    found = []
    for name, flags in (("locked_shudder", late), ("applying_shudder", coming)):
        runs = unbroken_runs(drive, flags & np.isfinite(slip))
        samples = [swing for first, end in runs for swing in _swings(slip, first, end, drive.step)]
        if samples:
            swings, hertz, rows = (np.array(column) for column in zip(*samples, strict=True))
            found.append(Figures(name, "", swings, rows, hertz=hertz))
    return found


def _swings(slip: Floats, first: int, end: int, step: float) -> list[tuple[float, float, int]]:
    """Give the strongest swing of each window of a run, in rpm from the middle to the top, its Hz, and where it begins."""
    width = round(SHUDDER_SECONDS / step)
    if end - first < width:
        return []
    starts = list(range(first, end - width + 1, width))
    windows = slip[np.array(starts)[:, None] + np.arange(width)[None, :]]
    x = np.linspace(-1, 1, width)
    trend = np.polynomial.polynomial.polyfit(x, windows.T, 3)
    bent = windows - np.polynomial.polynomial.polyval(x, trend)
    shape = np.hanning(width)
    lines = 2 * np.abs(np.fft.rfft(bent * shape, axis=1)) / shape.sum()
    hertz = np.fft.rfftfreq(width, step)
    inside = (hertz >= SHUDDER_HZ[0]) & (hertz <= SHUDDER_HZ[1])
    strongest = hertz[inside][np.argmax(lines[:, inside], axis=1)]
    return list(zip(lines[:, inside].max(axis=1).tolist(), strongest.tolist(), starts, strict=True))


def _measure_stall(drive: TracedDrive) -> list[Figures]:
    """Measure the engine speed at full throttle while the vehicle is held, forward and backward."""
    if not drive.recording.has(ENGINE, THROTTLE):
        return []
    engine = drive.recording.columns[ENGINE]
    with np.errstate(invalid="ignore"):
        turbine = drive.output * drive.table.ratios[0]
        held = (drive.column(THROTTLE) > FLOORED_PERCENT) & (turbine < STALLED_SHARE * engine)
    backward = drive.commanded == -2
    forward = drive.commanded >= 0
    if drive.recording.has(LEVER):
        forward |= drive.recording.columns[LEVER] == "D"
    found: dict[str, list[tuple[float, int]]] = {}
    for name, way in (("stall_forward", forward & ~backward), ("stall_backward", backward)):
        for first, end in unbroken_runs(drive, held & way):
            late = first + int(np.searchsorted(drive.times[first:end], drive.times[first] + STALL_SECONDS))
            speeds = engine[late:end][np.isfinite(engine[late:end])]
            if len(speeds) * drive.step > 0.4:
                found.setdefault(name, []).append((float(np.median(speeds)), late))
    return [figures for name, some in found.items() for figures in gather(name, {"": some})]


LONGEST_ENGAGEMENT = 8.0
TAKEN_SHARE = 0.3
"""A range has taken when the turbine is pulled down to 30 % of how it ran free (judgement)."""
LEAST_TURBINE_RPM = 300.0
HOT_SECONDS, JUMP_C, JUMP_SECONDS = 5.0, 15.0, 2.0
IDLE_PERCENT, IDLE_RPM = 3.0, 1200.0
KPA = 100.0


def measure_engagements(drive: TracedDrive) -> list[Figures]:
    """Measure how long it takes from selecting Drive or Reverse at a standstill until the turbine is pulled down."""
    if drive.is_engine:
        return []
    state = np.where(drive.commanded >= 0, 0, drive.commanded)
    runs = [(int(state[a]), a, b) for a, b in each_run(state) if state[a] != UNKNOWN]
    found: dict[str, list[tuple[float, int]]] = {}
    for (before, first, end), (after, begin, last) in zip(runs[:-1], runs[1:], strict=True):
        if before not in (NEUTRAL, REVERSE) or after == NEUTRAL or before == after or begin != end:
            continue
        calm = drive.driven[max(first, begin - int(1 / drive.step)) : begin]
        free = float(np.median(calm)) if len(calm) else 0.0
        if free < LEAST_TURBINE_RPM or drive.output[begin] > 60.0:
            continue
        ratio = drive.table.ratios[0] if after == 0 else drive.table.backward or drive.table.ratios[0]
        stop = min(int(np.searchsorted(drive.times, drive.times[begin] + LONGEST_ENGAGEMENT)), last)
        rest = drive.driven[begin:stop] - drive.output[begin:stop] * ratio
        taken = np.flatnonzero(rest < TAKEN_SHARE * free)
        seconds = float(drive.times[begin + int(taken[0])] - drive.times[begin]) if len(taken) else None
        if seconds is None and stop < last:
            seconds = LONGEST_ENGAGEMENT
        if seconds is not None:
            found.setdefault("engage_forward" if after == 0 else "engage_backward", []).append((seconds, begin))
    return [figures for name, some in found.items() for figures in gather(name, {"": some})]


def measure_heat(recording: Recording, times: np.ndarray) -> list[Figures]:
    """Measure the warmest stretch of the fluid, and jumps that no fluid makes."""
    if not recording.has(WARMTH):
        return []
    warm = recording.columns[WARMTH]
    values, rows = take_blocks(warm, times, np.isfinite(warm), HOT_SECONDS)
    there = np.flatnonzero(np.isfinite(warm))
    jumps = (np.abs(np.diff(warm[there])) > JUMP_C) & (np.diff(times[there]) < JUMP_SECONDS)
    found = [
        Figures(
            "temperature_jumps",
            "",
            np.array([float(jumps.sum())]),
            there[1:][jumps][:1] if jumps.any() else there[:1],
            exact=True,
        )
    ]
    if len(values):
        hottest = int(np.argmax(values))
        found.append(Figures("hottest", "", values[hottest : hottest + 1], rows[hottest : hottest + 1], exact=True))
    return found if len(there) else []


def measure_pressure(drive: TracedDrive) -> list[Figures]:
    """Measure line pressure at idle and standing, and the highest at full throttle, in kPa.

    Most units make no more than the gear needs, so only the highest says whether it rises.
    """
    if not drive.recording.has(LINE, THROTTLE):
        return []
    line, pedal = drive.recording.columns[LINE], drive.column(THROTTLE)
    engine, road = drive.column(ENGINE), drive.column(ROAD)
    with np.errstate(invalid="ignore"):
        idle = (pedal < IDLE_PERCENT) & ~(engine > IDLE_RPM) & (engine > 300.0) & (drive.output < 30.0) & ~(road > 2.0)
        full = (pedal > FLOORED_PERCENT) & (drive.commanded >= 0)
        if not drive.is_engine:  # a gear that slips takes no torque, so the unit asks for no pressure
            full &= ~(
                drive.driven - drive.output * drive.table.ratios[np.maximum(drive.commanded, 0)] > LEAST_TURBINE_RPM
            )
    found = []
    values, rows = take_blocks(line * KPA, drive.times, idle, 0.5)
    if len(values):
        found.append(Figures("idle_pressure", "", values, rows))
    values, rows = take_blocks(line * KPA, drive.times, full, 0.5)
    if len(values):
        most = np.argsort(values)[-1:]
        found.append(Figures("full_pressure", "", values[most], rows[most]))
    return found


def measure_drops(recording: Recording, sensors: Mapping[str, str]) -> list[Figures]:
    """Count how often each speed signal drops out, jumps or stands still.

    Args:
        sensors: type of a speed sensor -> its id on the unit's sheet.
    """
    columns = {ENGINE: sensors.get("engine"), INPUT: sensors.get("input"), OUTPUT: sensors.get("output")}
    found = []
    for channel, key in columns.items():
        if key and channel in recording.drops:
            rows = recording.drops[channel]
            places = np.searchsorted(recording.rows, np.array(rows or (0,), np.int64))
            found.append(Figures("signal_drops", key, np.array([float(len(rows))]), places[:1], exact=True))
    return found
