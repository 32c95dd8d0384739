"""Slip in each gear, gears that are commanded and not had, and how the unit uses its gears."""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from shiftlore.tracing.gears_had import NO_GEAR, REVERSE, TracedDrive, steady_runs
from shiftlore.tracing.measured import Figures, each_run, find_runs, gather, take_blocks
from shiftlore.tracing.recordings import OUTPUT, THROTTLE, Flags, Floats

SETTLE_SECONDS, BLOCK_SECONDS = 1.3, 0.4
"""After the command a gear gets so long to come; then each block is a sample (judgement)."""
LEAST_OUTPUT = 200.0
FEWEST_BLOCKS = 4
HAD_SHARE, OTHER_SHARE, FREE_SHARE = 0.3, 0.5, 0.3
"""Shares of a stretch from which a gear counts as had, or another one; and of the input speed from which it turns free."""
DRIVEN_SECONDS, REACHED_RPM = 30.0, 5500.0
"""Only a drive so long, in which first gear would have turned the engine so fast, shows that others never come (judgement)."""
FLOORED_PERCENT, HELD_SLIP_RPM, FEWEST_HELD_BLOCKS = 85.0, 300.0, 3
"""Held at full throttle, a turbine that turns so fast for so many blocks is no sensor that counts late (judgement)."""
STANDING_RPM, LAUNCH_RPM = 60.0, (150.0, 700.0)
HUNT_SECONDS, SAME_THROTTLE = 12.0, 25.0


@dataclass(frozen=True, slots=True)
class GearSeen:
    """What a log shows of one gear.

    Args:
        ratio_nominal: as the sheet has it; ratio_median: as measured while it was commanded, or None.
        slip_percent: of the input speed, under load, or None; samples: blocks that this rests on.
    """

    ratio_nominal: float
    ratio_median: float | None
    slip_percent: float | None
    samples: int


def measure_gears(drive: TracedDrive) -> list[Figures]:
    """Measure what takes a commanded gear: slip, gears that are refused, other gears in their place."""
    usable = drive.output > LEAST_OUTPUT
    pulled = drive.is_loaded & usable
    settled = np.zeros(len(drive.times), bool)
    runs = [
        run
        for run in steady_runs(drive, SETTLE_SECONDS)
        if usable[run[1] : run[2]].sum() * drive.step >= 2 * BLOCK_SECONDS
    ]
    for _, first, end in runs:
        settled[first:end] = True
    ratios = drive.table.ratios[np.maximum(drive.commanded, 0)]
    is_other = settled & (drive.had >= 0) & (drive.had != drive.commanded)
    with np.errstate(invalid="ignore"):
        is_wrong = is_other | ((1 - ratios / drive.ratio) > FREE_SHARE)
    refused: dict[str, list[tuple[float, int]]] = {}
    for gear, first, end in runs:
        rows = first + np.flatnonzero(pulled[first:end])
        if len(rows) * drive.step >= 2 * BLOCK_SECONDS:
            is_gone = np.mean(drive.had[rows] == gear) < HAD_SHARE and np.mean(is_wrong[rows]) > OTHER_SHARE
            refused.setdefault(drive.table.ids[gear], []).append((100.0 * is_gone, first))
    found = gather("gear_refused", refused)
    if drive.is_engine:
        return found
    slip = drive.driven - drive.output * ratios
    values, rows = take_blocks(slip, drive.times, settled & pulled & ~is_other, BLOCK_SECONDS)
    held_values, held_rows = take_blocks(slip, drive.times, _slips_standing(drive, slip), BLOCK_SECONDS)
    moving = ~np.isin(
        drive.commanded[rows], drive.commanded[held_rows]
    )  # what slips when held is not sound for rolling well
    values, rows = np.concatenate((values[moving], held_values)), np.concatenate((rows[moving], held_rows))
    slips = [
        Figures("gear_slip", name, values[alike], rows[alike])
        for number, name in enumerate(drive.table.ids)
        if (alike := drive.commanded[rows] == number).any()
    ]
    return [*slips, *found, *_worst_gear(drive, is_other, settled & usable)]


def _slips_standing(drive: TracedDrive, slip: Floats) -> Flags:
    """Mark where the turbine turns in a gear while the output is held under full load: a clutch of that gear slips."""
    marked = np.zeros(len(drive.times), bool)
    if not drive.recording.has(OUTPUT, THROTTLE):
        return marked
    held = (drive.output < STANDING_RPM) & drive.pulls(FLOORED_PERCENT) & (slip > HELD_SLIP_RPM)
    for _, first, end in steady_runs(drive, SETTLE_SECONDS):
        for start, stop in find_runs(held[first:end]):
            if (stop - start) * drive.step >= FEWEST_HELD_BLOCKS * BLOCK_SECONDS:
                marked[first + start : first + stop] = True
    return marked


def _worst_gear(drive: TracedDrive, is_other: Flags, settled: Flags) -> list[Figures]:
    """Take the commanded gear in which another one was had most: a single missing gear is enough."""
    values, rows = take_blocks(np.where(is_other, 100.0, 0.0), drive.times, settled, BLOCK_SECONDS)
    by_gear = [drive.commanded[rows] == number for number in range(len(drive.table.ids))]
    enough = [alike for alike in by_gear if alike.sum() >= FEWEST_BLOCKS]
    if not enough:
        return []
    worst = max(enough, key=lambda alike: float(np.mean(values[alike])))
    return [Figures("other_gear", "", values[worst], rows[worst])]


def see_gears(drive: TracedDrive) -> dict[str, GearSeen]:
    """Say for each gear which ratio was measured, and how much it slips under load."""
    gears = []
    runs = steady_runs(drive, SETTLE_SECONDS) or [
        (int(drive.had[a]), a, b) for a, b in each_run(drive.had) if drive.had[a] >= 0
    ]
    usable = (drive.output > LEAST_OUTPUT) & drive.is_loaded
    for number, (name, ratio) in enumerate(zip(drive.table.names, drive.table.ratios.tolist(), strict=True)):
        flags = np.zeros(len(drive.times), bool)
        for gear, first, end in runs:
            flags[first:end] |= gear == number
        gears.append((name, ratio, 1, flags & usable))
    if drive.table.backward is not None:
        backward = (drive.commanded == REVERSE) & np.isfinite(drive.ratio) & drive.is_loaded
        gears.append(("R", drive.table.backward, -1, backward))
    seen = {}
    for name, ratio, way, flags in gears:
        values, _ = take_blocks(drive.ratio, drive.times, flags, BLOCK_SECONDS)
        middle = float(np.median(values)) if len(values) else None
        slip = None if middle is None or drive.is_engine else 100 * (1 - ratio / middle)
        seen[name] = GearSeen(way * ratio, None if middle is None else way * middle, slip, len(values))
    return seen


def measure_use(drive: TracedDrive) -> list[Figures]:
    """Measure how the unit uses its gears: one alone, the failsafe gear, the gear of pulling away, jumps, hunting."""
    forward = (drive.had >= 0) & (drive.output > LEAST_OUTPUT)
    return [*_measure_held(drive, forward), *_measure_launches(drive), *_measure_jumps(drive), *_measure_hunting(drive)]


def _measure_held(drive: TracedDrive, forward: Flags) -> list[Figures]:
    """Say of the gears that were had how much of the drive the commonest took; only where a sound unit would have shifted."""
    seconds = float(forward.sum()) * drive.step
    reached = float(np.max(drive.output, where=np.isfinite(drive.output), initial=0.0)) * float(drive.table.ratios[0])
    if seconds < DRIVEN_SECONDS or reached < REACHED_RPM or drive.is_engine or not len(_launches(drive)):
        return []
    rows = np.flatnonzero(forward)
    values, counts = np.unique(drive.had[rows], return_counts=True)
    best = int(values[np.argmax(counts)])
    share = 100.0 * float(counts.max()) / len(rows)
    fallback = drive.table.fallback
    at_fallback = 100.0 * float(np.mean(drive.had[rows] == fallback)) if fallback is not None else 0.0
    last_half = rows[len(rows) // 2 :]
    found = [
        ("one_gear", "", share),
        *(("gear_kept", name, share if number == best else 0.0) for number, name in enumerate(drive.table.ids)),
    ]
    if fallback is not None:
        found.append(("fallback_gear", "", max(at_fallback, 100.0 * float(np.mean(drive.had[last_half] == fallback)))))
    return [Figures(name, key, np.array([value]), rows[:1], exact=True) for name, key, value in found]


def _launches(drive: TracedDrive) -> list[tuple[int, int]]:
    """List where the vehicle pulls away forward from a standstill, each to where it rolls well."""
    standing = drive.output < STANDING_RPM
    found = []
    for _, end in find_runs(standing):
        rolling = np.flatnonzero(drive.output[end : end + int(15 / drive.step)] > LAUNCH_RPM[1])
        window = slice(end, end + int(rolling[0])) if len(rolling) else slice(end, end)
        backward = drive.commanded[window] == REVERSE
        if len(rolling) and not backward.any():
            found.append((window.start, window.stop))
    return found


def _measure_launches(drive: TracedDrive) -> list[Figures]:
    """Say which gear is had in pulling away, as the unit counts them."""
    found = []
    for first, end in _launches(drive):
        rows = np.arange(first, end)[(drive.output[first:end] > LAUNCH_RPM[0]) & (drive.had[first:end] >= 0)]
        if len(rows) * drive.step > 0.3:
            begun = rows[: max(round(0.3 / drive.step), 1)]  # the next gear may come soon
            found.append((float(np.median(drive.had[begun])) + 1.0, int(rows[0])))
    return gather("start_gear", {"": found}) if not drive.is_engine else []


def _had_sequence(drive: TracedDrive) -> list[tuple[int, int, int]]:
    """List the forward gears as they were had, moments between two stretches of one gear left out."""
    runs = [(int(drive.had[a]), a, b) for a, b in each_run(drive.had) if drive.had[a] != NO_GEAR]
    joined: list[tuple[int, int, int]] = []
    for gear, first, end in runs:
        if joined and joined[-1][0] == gear:
            joined[-1] = (gear, joined[-1][1], end)
        else:
            joined.append((gear, first, end))
    return [run for run in joined if run[0] >= 0]


def _measure_jumps(drive: TracedDrive) -> list[Figures]:
    """Say of upshifts whether they pass over a gear that was commanded meanwhile, or that nobody recorded."""
    found = []
    for (gear, _, end), (other, begin, _) in pairwise(_had_sequence(drive)):
        if other > gear and drive.times[begin] - drive.times[end - 1] < 3.0:
            found.append((100.0 * (other > gear + 1), begin))
    return gather("gear_jumped", {"": found}) if not drive.is_engine else []


def _measure_hunting(drive: TracedDrive) -> list[Figures]:
    """Count shifts that are taken back at once while the pedal stands still, for each minute of forward driving."""
    gears = drive.commanded if (drive.commanded >= 0).any() else drive.had
    runs = [(int(gears[a]), a, b) for a, b in each_run(gears) if gears[a] >= 0]
    minutes = float((gears >= 0).sum()) * drive.step / 60
    if minutes < 0.5:
        return []
    pedal = drive.column(THROTTLE)
    rows = []
    for (before, _, _), (gear, first, end), (after, begin, _) in zip(runs[:-2], runs[1:-1], runs[2:], strict=True):
        if before != after or gear == before or drive.times[begin] - drive.times[first] > HUNT_SECONDS:
            continue
        if _is_steady(pedal, first, begin, drive.step) and end == begin:
            rows.append(first)
    return [Figures("gears_hunted", "", np.array([len(rows) / minutes]), np.array(rows or [0], np.int64), exact=True)]


def _is_steady(pedal: Floats, first: int, last: int, step: float) -> bool:
    """Tell whether the pedal stands still from shortly before the first row to the last; nobody knows: it does.

    In a slow log the foot and the gear that answers it are in the same row.
    """
    window = pedal[max(first - int(1 / step), 0) : last + 1]
    there = window[np.isfinite(window)]
    return not len(there) or bool(np.ptp(there) < SAME_THROTTLE)
