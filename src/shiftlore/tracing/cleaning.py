"""Refuse what of a log cannot be true: time that runs backwards, doubles, sensors that stand still or drop out, mixed units.

Nothing is mended: a row or a cell that is wrong is left out and told by its number.
"""

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from shiftlore.tracing.measured import find_runs, smooth_median
from shiftlore.tracing.recordings import (
    CHANNELS,
    ENGINE,
    INPUT,
    LINE,
    OUTPUT,
    ROAD,
    SPEEDS,
    TIME,
    WARMTH,
    WORDS,
    Flags,
    Floats,
    LogProblem,
    Recording,
    RefusedRows,
    TakenColumn,
    Whole,
)

HOLD_SECONDS = 1.0
"""So long an empty cell keeps the last value: slow channels are written seldom (judgement)."""
GAP_SECONDS, GAP_STEPS = 1.0, 5.0
"""From so long on nothing is measured across two rows: a second, and five of the log's own steps (judgement)."""
FROZEN_SECONDS, FROZEN_ROWS, MOVED_SHARE, MOVED_RPM = 1.5, 8, 0.1, 150.0
STILL_SECONDS, STILL_TIMES, FEWEST_VALUES, FINEST_STEPS = 3.0, 8.0, 6, 2.0
"""A speed that keeps its last digit so long and in so many rows, while another moves by so much, is not measured any more;
nor one that keeps it longer, eight times as long as it ever does, while another trembles as readings do (judgement)."""
DROP_SHARE, DROP_RPM, LONGEST_DROP = 0.35, 300.0, 2.0
"""A signal that loses so much of itself and is back within two seconds has dropped out: no shaft does that (judgement)."""
COARSE_SECONDS = 0.11
"""Between rows that lie farther apart a shaft may really stop and start again (measured: sound drives at 5 rows a second)."""
_RUNNING_RPM = 100.0
_COARSE = "With fewer than 10 rows a second nobody can tell whether a speed signal drops out for a moment."
_MOST_TOLD = 500
_RESTARTED = 50
_LEAST_ROWS = 10
_MIXED_FIT, _MIXED_ROWS, _MIXED_SECONDS, _MIXED_LEAST = 0.02, 10, 0.3, (0.1, 0.005)
_FACTORS: dict[str, tuple[float, ...]] = {
    ROAD: (1.609344, 3.6), LINE: (100.0, 14.5038, 6.894757), ENGINE: (9.549297,), INPUT: (9.549297,), OUTPUT: (9.549297,),
}  # fmt: skip
_WARMTH_STEP = 20.0


def group_rows(rows: Whole, flags: Flags, why: str, channel: str = "") -> list[RefusedRows]:
    """Put rows that are marked together: those that follow each other are told once."""
    runs = find_runs(flags)
    told = [RefusedRows(int(rows[a]), int(rows[b - 1]), why, channel) for a, b in runs[:_MOST_TOLD]]
    if len(runs) > _MOST_TOLD:
        count = int(flags[runs[_MOST_TOLD - 1][0] :].sum())
        told[-1] = replace(told[-1], last_row=int(rows[runs[-1][1] - 1]), why=f"{why} ({count:,} rows from here on)")
    return told


def take_columns(columns: Mapping[str, NDArray]) -> Recording:
    """Take columns by their names in `CHANNELS`, in the first unit of each, as a log that was read.

    Raises: LogProblem: too little of it can be used.
    """
    count = len(columns[TIME])
    taken = tuple(TakenColumn(name, name, place, "", "name") for place, name in enumerate(columns, 1))
    return clean_recording(Recording(dict(columns), np.arange(2, count + 2), count, taken))


def clean_recording(recording: Recording) -> Recording:
    """Leave out rows and cells that cannot be true.

    Raises: LogProblem: too little is left.
    """
    recording = _order_times(recording)
    if len(recording.rows) < _LEAST_ROWS:
        raise LogProblem(
            f"Only {len(recording.rows)} rows of this log can be used. Look at what was refused, and record the drive again."
            + "".join(f"\n  row {one.row}: {one.why}" for one in recording.refused[:3])
        )
    times = recording.columns[TIME]
    columns = {
        name: values if name in (TIME, *WORDS) else _hold_cells(values, times)
        for name, values in recording.columns.items()
    }
    refused = list(recording.refused)
    drops: dict[str, tuple[int, ...]] = {}
    for name in [name for name in columns if name in CHANNELS and name not in (TIME, *WORDS)]:
        for flags, why in _find_mixed(name, columns[name], times):
            columns[name] = np.where(flags, np.nan, columns[name])
            refused += group_rows(recording.rows, flags, why, name)
    speeds = {name: columns[name] for name in SPEEDS if name in columns}
    is_coarse = _is_coarse(times)
    for name in [name for name in speeds if name != ROAD]:
        found = _find_frozen(name, speeds, times) + ([] if is_coarse else _find_drops(speeds[name], times))
        starts = [int(recording.rows[run[0]]) for flags, _ in found for run in find_runs(flags)]
        for flags, why in found:
            columns[name] = np.where(flags, np.nan, columns[name])
            refused += group_rows(recording.rows, flags, why, name)
        if starts or not is_coarse:
            drops[name] = tuple(sorted(starts))
    notes = (*recording.notes, *_tell_gaps(times, recording.rows), *([_COARSE] if is_coarse else []))
    return replace(
        recording, columns=columns, refused=tuple(sorted(refused, key=lambda one: one.row)), notes=notes, drops=drops
    )


def _order_times(recording: Recording) -> Recording:
    """Leave out rows whose time is not later than that of the rows before; a log that begins anew goes on behind itself."""
    times = np.array(recording.columns[TIME], np.float64)
    refused = list(recording.refused)
    notes = list(recording.notes)
    for place in np.flatnonzero(np.diff(times) < -GAP_SECONDS) + 1:
        later = times[place:]
        if len(later) >= _RESTARTED and np.mean(later[:_RESTARTED] < times[place - 1]) > 0.9:
            notes.append(
                f"The time starts again at row {recording.rows[place]}: what follows is taken as a further drive."
            )
            times[place:] += times[place - 1] - times[place] + 60.0
    before = np.concatenate(([-np.inf], np.maximum.accumulate(times)[:-1]))
    twice, back = times == before, times < before
    refused += group_rows(recording.rows, twice, "the time is that of the row before")
    refused += group_rows(recording.rows, back, "the time runs backwards")
    keep = ~(twice | back)
    columns = {name: values[keep] for name, values in recording.columns.items()}
    columns[TIME] = times[keep]
    return replace(recording, columns=columns, rows=recording.rows[keep], refused=tuple(refused), notes=tuple(notes))


def _hold_cells(values: Floats, times: Floats) -> Floats:
    """Let an empty cell keep the last value for a short while."""
    there = np.isfinite(values)
    if there.all() or not there.any():
        return values
    last = np.maximum.accumulate(np.where(there, np.arange(len(values)), -1))
    held = values[np.maximum(last, 0)]
    is_fresh = (last >= 0) & (times - times[np.maximum(last, 0)] <= HOLD_SECONDS)
    return np.where(is_fresh, held, np.nan)


def find_gaps(times: Floats) -> Whole:
    """Give the rows behind a gap."""
    steps = np.diff(times)
    usual = float(np.median(steps)) if len(steps) else 0.0
    return np.flatnonzero(steps > max(GAP_SECONDS, GAP_STEPS * usual)) + 1


def _tell_gaps(times: Floats, rows: Whole) -> list[str]:
    gaps = find_gaps(times)
    told = [
        f"{times[place] - times[place - 1]:.1f} s are missing before row {rows[place]}." for place in gaps[:5].tolist()
    ]
    return [*told, f"There are {len(gaps) - 5} more gaps."] if len(gaps) > 5 else told


def _is_coarse(times: Floats) -> bool:
    return float(np.median(np.diff(times))) > COARSE_SECONDS


def _find_drops(values: Floats, times: Floats) -> list[tuple[Flags, str]]:
    """Find where a signal falls away, or jumps, and is back at once."""
    there = np.flatnonzero(np.isfinite(values))
    if len(there) < _LEAST_ROWS:
        return []
    signal, clock = values[there], times[there]
    usual = smooth_median(signal, 7)
    wild = np.abs(signal - usual) > np.maximum(DROP_RPM, DROP_SHARE * np.abs(usual))
    fallen = np.zeros(len(signal), bool)
    steps = np.diff(signal)
    falls = np.flatnonzero(
        (steps < -DROP_RPM) & (signal[1:] < (1 - DROP_SHARE) * signal[:-1]) & (np.diff(clock) < LONGEST_DROP)
    )
    for fall in falls.tolist():
        end = int(np.searchsorted(clock, clock[fall] + LONGEST_DROP))
        back = np.flatnonzero(
            (steps[fall + 1 : end] > DROP_RPM) & (signal[fall + 2 : end + 1] > (1 - DROP_SHARE) * signal[fall])
        )
        if len(back):
            fallen[fall + 1 : fall + 2 + int(back[0])] = True
    found = np.zeros(len(values), bool)
    found[there] = wild | fallen
    for gap in (0, *find_gaps(times).tolist()):
        found[max(gap - 3, 0) : gap + 3] = False  # where a recording begins or breaks off nobody knows what was before
    return [(found, "the signal drops out or jumps")] if found.any() else []


def _find_frozen(name: str, speeds: dict[str, Floats], times: Floats) -> list[tuple[Flags, str]]:
    """Find where a speed keeps its last digit while another moves; an idle that is held is no such thing."""
    values = speeds[name]
    starts = np.concatenate(([0], np.flatnonzero(values[1:] != values[:-1]) + 1))
    ends = np.concatenate((starts[1:], [len(values)]))
    with np.errstate(invalid="ignore"):
        turns = values[starts] > _RUNNING_RPM
    starts, ends = starts[turns], ends[turns]
    lengths = times[ends - 1] - times[starts]
    if not len(lengths):
        return []
    least = max(FROZEN_SECONDS, FROZEN_ROWS * float(np.median(np.diff(times))), 4 * float(np.quantile(lengths, 0.9)))
    still = max(STILL_SECONDS, STILL_TIMES * float(np.quantile(lengths, 0.99)))
    is_coarse = _is_coarse(times)  # then a steady speed keeps its last digit for long
    idle = 1.1 * float(np.nanquantile(values[values > _RUNNING_RPM], 0.02)) if name == ENGINE else 0.0
    steps = np.diff(np.unique(values[np.isfinite(values)]))
    finest = float(np.min(steps)) if len(steps) else 0.0
    found = np.zeros(len(values), bool)
    for place in np.flatnonzero((lengths >= least) & (values[starts] >= idle)).tolist():
        first, end, length = int(starts[place]), int(ends[place]), float(lengths[place])
        others = [speeds[other][first:end] for other in speeds if other != name]
        share = finest / float(values[first])
        is_still = not is_coarse and length >= still and any(_trembles(other, share) for other in others)
        if is_still or any(map(_moves, others)):
            found[first:end] = True
    return [(found, "the reading stands still while others move")] if found.any() else []


def _trembles(values: Floats, share: float) -> bool:
    """Tell whether a speed takes many values, farther apart than that share of it, the finest that the still one can show."""
    there = values[np.isfinite(values)]
    many = len(np.unique(there)) >= FEWEST_VALUES
    return many and bool(np.ptp(there) > FINEST_STEPS * share * float(np.mean(np.abs(there))))


def _moves(values: Floats) -> bool:
    there = values[np.isfinite(values)]
    return len(there) > 1 and bool(np.ptp(there) > max(MOVED_RPM, MOVED_SHARE * float(np.max(np.abs(there)))))


def _find_mixed(name: str, values: Floats, times: Floats) -> list[tuple[Flags, str]]:
    """Find where a column changes its unit on the way: a step by the very factor between two units."""
    there = np.flatnonzero(np.isfinite(values))
    if len(there) < 2 * _MIXED_ROWS or (name != WARMTH and name not in _FACTORS):
        return []
    signal, quick = values[there], np.diff(times[there]) < _MIXED_SECONDS
    before, after = signal[:-1], signal[1:]
    if name == WARMTH:
        up = np.abs(after - (1.8 * before + 32)) < 1.0
        down = np.abs(before - (1.8 * after + 32)) < 1.0
        steps = (up | down) & (np.abs(after - before) > _WARMTH_STEP)
    else:
        with np.errstate(divide="ignore", invalid="ignore"):
            shares = np.abs(np.log(np.abs(after / before)))
        large = np.minimum(np.abs(before), np.abs(after)) > _MIXED_LEAST[name == LINE] * np.max(np.abs(signal))
        fits = [np.abs(shares - np.log(factor)) < _MIXED_FIT for factor in _FACTORS[name]]
        steps = np.logical_or.reduce(fits) & large & quick
    places = np.flatnonzero(steps) + 1
    kept = _far_apart(places.tolist(), len(signal))
    if not kept:
        return []
    parity = np.zeros(len(signal), np.int64)
    parity[kept] = 1
    odd = np.cumsum(parity) % 2 == 1
    minority = odd if odd.sum() * 2 <= len(odd) else ~odd
    found = np.zeros(len(values), bool)
    found[there[minority]] = True
    return [(found, "the unit changes here; only the rows in the usual one are used")]


def _far_apart(places: Sequence[int], count: int) -> list[int]:
    """Keep the steps that part stretches of some length."""
    edges = [0, *places, count]
    return [
        edges[i]
        for i in range(1, len(edges) - 1)
        if min(edges[i] - edges[i - 1], edges[i + 1] - edges[i]) >= _MIXED_ROWS
    ]
