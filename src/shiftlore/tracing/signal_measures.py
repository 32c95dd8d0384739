"""What a log says beside gears and converter: how soon a range takes, heat, pressure, and signals that fail."""

from collections.abc import Mapping

import numpy as np

from shiftlore.tracing.gears_had import NEUTRAL, REVERSE, UNKNOWN, TracedDrive
from shiftlore.tracing.measured import Figures, gather
from shiftlore.tracing.recordings import ENGINE, INPUT, LINE, OUTPUT, ROAD, THROTTLE, WARMTH, Recording
from shiftlore.tracing.runs import each_run, take_blocks

LONGEST_ENGAGEMENT = 8.0
TAKEN_SHARE = 0.3
"""A range has taken when the turbine is pulled down to 30 % of how it ran free (judgement)."""
LEAST_TURBINE_RPM = 300.0
HOT_SECONDS, JUMP_C, JUMP_SECONDS = 5.0, 15.0, 2.0
IDLE_PERCENT, IDLE_RPM, FLOORED_PERCENT = 3.0, 1200.0, 85.0
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
