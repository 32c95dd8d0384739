"""Which gear is really had at each row of a log, which one was commanded, and which unit the ratios belong to."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from shiftlore.gearing import UnitFacts
from shiftlore.tracing.cleaning import find_gaps
from shiftlore.tracing.column_guess import show_header
from shiftlore.tracing.measured import each_run, find_runs, smooth_median
from shiftlore.tracing.recordings import (
    ENGINE,
    GEAR,
    INPUT,
    LEVER,
    LOCKUP,
    OUTPUT,
    ROAD,
    THROTTLE,
    TIME,
    Flags,
    Floats,
    LogProblem,
    Recording,
    Whole,
)

NO_GEAR, REVERSE, NEUTRAL, UNKNOWN = -1, -2, -3, -4
"""What stands in place of a gear's number: none is had; reverse, neutral or nothing known is commanded."""
NEAR = 0.025
"""So far a measured ratio may lie off its gear: sensors and rounding leave 1 to 2 % (common practice: 3 % is a fault)."""
LEAST_OUTPUT_RPM = 120.0
"""Below, the output sensor of many units counts too few teeth to be believed (judgement)."""
SHORTEST_GEAR_SECONDS = 0.2
LOADED_PERCENT = 12.0
MOST_FOR_PLATEAUS = 20_000
PLATEAU, FEWEST_ON_PLATEAU, LEAST_PLATEAU = 0.01, 0.03, 3.0
"""A ratio is there for sure where 3 % of the drive, and three seconds, lie within 1 % of it (judgement)."""
FEWEST_FITTING, LEAST_AS_COMMANDED, MOSTLY_AS_COMMANDED = 0.34, 0.1, 0.5
"""Shares of lasting ratios, and of driving in the commanded gear, from which a log is this unit's (judgement)."""
FEWEST_PLATEAUS = 3
"""Lasting ratios from which it can be told that a log is another vehicle's (judgement)."""
_SCALES = (4.0, 90.0)
"""Output turns a minute for each km/h, from a shaft at the wheels to one before a short axle (arithmetic on tyres)."""
_BINS, _STANDING_KMH = 0.004, 2.0
FEWEST_BY_ROAD = 3
"""Two gears lie as far from each other in many units, so by engine and road speed alone it takes three (judgement)."""


@dataclass(frozen=True, slots=True, eq=False)
class GearTable:
    """The gears of a unit, forward ones in order.

    Args:
        names: as the chart prints them; ids: as they stand in ids of findings; ratios: input over output.
        backward: ratio of reverse, positive, or None; fallback: number of the gear of failsafe, or None.
        lockup: numbers of the gears in which the converter clutch works; shifts: (from, to) -> id.
    """

    unit: str
    names: tuple[str, ...]
    ids: tuple[str, ...]
    ratios: Floats
    backward: float | None
    fallback: int | None
    lockup: tuple[int, ...]
    shifts: Mapping[tuple[int, int], str]


def tabulate_gears(facts: UnitFacts) -> GearTable | None:
    """Give the gears of a unit; None where a ratio is not known, or the unit has no steps."""
    gears = facts.instances("gear")
    forward = [item for item in gears if item.type == "forward"]
    ratios = [facts.ratios.get(item.id) for item in forward]
    if len(forward) < 2 or any(ratio is None or ratio <= 0 for ratio in ratios) or not facts.shift_ends:
        return None
    place = {item.id: n for n, item in enumerate(forward)}
    back = [abs(facts.ratios[item.id] or 0.0) for item in gears if item.type != "forward"]
    shifts = {(place[a], place[b]): key for key, (a, b) in facts.shift_ends.items()}
    return GearTable(
        facts.id,
        names=tuple(item.names[0] for item in forward),
        ids=tuple(place),
        ratios=np.array(ratios, dtype=np.float64),
        backward=back[0] if back and back[0] else None,
        fallback=place.get(facts.failsafe_gear or ""),
        lockup=tuple(n for n, item in enumerate(forward) if {item.id, *item.names} & set(facts.lockup_gears)),
        shifts=shifts,
    )


@dataclass(frozen=True, slots=True, eq=False)
class TracedDrive:
    """A log, row by row, with what it says of gears.

    Args:
        driven: speed of the input shaft, or of the engine where that is all there is (`is_engine`).
        output: speed of the output shaft, reckoned from road speed where it has no sensor (`scale` rpm for each km/h).
        commanded, had: number of a gear, or one of the words for none.
        fresh: rows from which something is missing before; nothing is measured across them.
        step: usual time between two rows, in seconds.
    """

    recording: Recording
    table: GearTable
    times: Floats
    driven: Floats
    output: Floats
    ratio: Floats
    commanded: Whole
    had: Whole
    fresh: Whole
    step: float
    is_engine: bool
    scale: float | None

    def column(self, channel: str) -> Floats:
        """Give a column, or nothing but NaN where the log has none."""
        found = self.recording.columns.get(channel)
        return np.full(len(self.times), np.nan) if found is None else found

    def pulls(self, least_percent: float) -> Flags:
        """Mark rows with more throttle than that; all of them where the log has none."""
        if not self.recording.has(THROTTLE):
            return np.ones(len(self.times), bool)
        with np.errstate(invalid="ignore"):
            return self.column(THROTTLE) > least_percent

    @property
    def is_loaded(self) -> Flags:
        """Mark rows in which the engine pulls."""
        return self.pulls(LOADED_PERCENT)


def follow_gears(recording: Recording, table: GearTable) -> TracedDrive:
    """Say for each row of a log which gear is commanded and which one is had.

    Raises: LogProblem: the log has not the speeds that it takes, or its ratios are those of another unit.
    """
    require_speeds(recording)
    times = recording.columns[TIME]
    commanded = _number_gears(recording, table)
    is_engine = not recording.has(INPUT)
    driven = np.abs(recording.columns[ENGINE if is_engine else INPUT])
    output, scale = _find_output(recording, table, driven, commanded)
    with np.errstate(invalid="ignore", divide="ignore"):
        ratio = np.where(output > LEAST_OUTPUT_RPM, driven / output, np.nan)
        ratio = np.where(driven > LEAST_OUTPUT_RPM, ratio, np.nan)
    had = place_ratios(ratio, table.ratios)
    backward = commanded == REVERSE
    if recording.has(LEVER):
        backward |= recording.columns[LEVER] == "R"
    had = np.where(backward & (had != NO_GEAR), NO_GEAR, had)
    if table.backward is not None:
        with np.errstate(invalid="ignore"):
            had = np.where(backward & (np.abs(np.log(ratio / table.backward)) < NEAR), REVERSE, had)
    drive = TracedDrive(
        recording,
        table,
        times=times,
        driven=driven,
        output=output,
        ratio=ratio,
        commanded=commanded,
        had=_drop_short(had, times),
        fresh=find_gaps(times),
        step=float(np.median(np.diff(times))),
        is_engine=is_engine,
        scale=scale,
    )
    _require_fit(drive)
    return drive


def require_speeds(recording: Recording) -> None:
    """Refuse a log without a speed before the gears, or behind them.

    Raises: LogProblem: says what to record.
    """
    advice = "Record one of them, or name it: --map"
    if not recording.has(INPUT) and not recording.has(ENGINE):
        raise LogProblem(f"Neither engine nor input speed is in this log. {advice} {INPUT}=COLUMN.")
    if not recording.has(OUTPUT) and not recording.has(ROAD):
        raise LogProblem(f"Neither output nor road speed is in this log. {advice} {OUTPUT}=COLUMN.")


def _number_gears(recording: Recording, table: GearTable) -> Whole:
    """Number the commanded gears; the lever stands in where it is in neutral or reverse."""
    count = len(recording.rows)
    known = {name: n for n, name in enumerate(table.names)} | {"R": REVERSE, "N": NEUTRAL, "P": NEUTRAL}
    found = np.full(count, UNKNOWN, np.int64)
    if recording.has(GEAR):
        names = recording.columns[GEAR]
        for name in np.unique(names).tolist():
            found[names == name] = known.get(name, UNKNOWN)
    if recording.has(LEVER):
        levers = recording.columns[LEVER]
        found[(levers == "N") | (levers == "P")] = NEUTRAL
        found[levers == "R"] = REVERSE
    return found


def say_speeds(recording: Recording) -> str:
    """Say which columns the speeds are, for a sentence about a log that fits nothing."""
    taken = [one for one in recording.taken if one.channel in (ENGINE, INPUT, OUTPUT, ROAD)]
    told = [f'{one.channel} is "{show_header(one.header)}"{f" in {one.unit}" if one.unit else ""}' for one in taken]
    return f"Taken for: {', '.join(told)}."


def place_ratios(ratio: Floats, ratios: Floats) -> Whole:
    """Give for each ratio the gear that has it, within what a measurement leaves in doubt."""
    logs = np.log(ratios)
    gap = float(np.min(np.abs(np.diff(np.sort(logs))))) if len(logs) > 1 else 1.0
    with np.errstate(invalid="ignore", divide="ignore"):
        off = np.abs(np.log(ratio)[:, None] - logs[None, :])
    off = np.where(np.isfinite(off), off, np.inf)
    best = np.argmin(off, axis=1)
    return np.where(off[np.arange(len(ratio)), best] <= min(NEAR, 0.4 * gap), best, NO_GEAR)


def _drop_short(had: Whole, times: Floats) -> Whole:
    """Take back gears that are had for a moment only: a speed that sweeps past a ratio has no gear."""
    kept = had.copy()
    step = float(np.median(np.diff(times)))
    for first, end in each_run(had):
        if had[first] >= 0 and times[end - 1] - times[first] + step < SHORTEST_GEAR_SECONDS:
            kept[first:end] = NO_GEAR
    return kept


def _find_output(
    recording: Recording, table: GearTable, driven: Floats, commanded: Whole
) -> tuple[Floats, float | None]:
    """Give the output speed; from road speed it takes how often the shaft turns for each km/h.

    Where that fits the gears in no single way, all that is known is when the vehicle stands.
    """
    if recording.has(OUTPUT):
        return np.abs(recording.columns[OUTPUT]), None
    road = np.abs(recording.columns[ROAD])
    with np.errstate(invalid="ignore", divide="ignore"):
        turned = np.where((road > 15.0) & (driven > 500.0), driven / road, np.nan)
    scale = _fit_scale(turned, table, commanded, _locked(recording))
    if scale is None:
        return np.where(road < _STANDING_KMH, 0.0, np.nan), None
    return road * scale, scale


def _locked(recording: Recording) -> Flags:
    """Mark rows in which engine speed stands for input speed: the converter clutch is commanded on, or nobody knows."""
    if recording.has(INPUT) or not recording.has(LOCKUP):
        return np.ones(len(recording.rows), bool)
    with np.errstate(invalid="ignore"):
        locked = recording.columns[LOCKUP] > 80.0
    return locked if locked.mean() > 0.02 else np.ones(len(recording.rows), bool)


def _fit_scale(turned: Floats, table: GearTable, commanded: Whole, locked: Flags) -> float | None:
    """Find how many turns of the output make one km/h; None where several would do nearly as well."""
    steady = (commanded >= 0) & np.isfinite(turned) & locked
    if steady.sum() > 200:
        scales = turned[steady] / table.ratios[commanded[steady]]
        middle = float(np.median(scales))
        return middle if np.mean(np.abs(np.log(scales / middle)) < 2 * NEAR) > FEWEST_FITTING else None
    rows = turned[np.isfinite(turned) & locked]
    if len(rows) < 200:
        return None
    edges = np.arange(np.log(_SCALES[0]), np.log(_SCALES[1] * table.ratios.max()) + _BINS, _BINS)
    counts, _ = np.histogram(np.log(rows), bins=edges)
    shares = np.convolve(counts / len(rows), np.ones(5), mode="same")
    offsets = np.round(np.log(table.ratios) / _BINS).astype(np.int64)
    places = np.arange(len(edges) - 1 - int(offsets.max()))
    places = places[places + offsets.min() >= 0]
    taken = np.sqrt(shares[places[:, None] + offsets[None, :]]).sum(axis=1)
    best = int(np.argmax(taken))
    others = taken[np.abs(places - places[best]) * _BINS > 2 * NEAR]
    if len(others) and others.max() > 0.85 * taken[best]:
        return None
    return float(np.exp(edges[places[best]] + _BINS / 2))


def find_plateaus(ratio: Floats, step: float) -> Floats:
    """List the ratios that a drive keeps for some time, the longest first."""
    logs = np.log(ratio[np.isfinite(ratio) & (ratio > 0.2) & (ratio < 12.0)])
    found: list[float] = []
    thinned = max(len(logs) // MOST_FOR_PLATEAUS, 1)
    logs = logs[::thinned]
    least = max(FEWEST_ON_PLATEAU * len(logs), LEAST_PLATEAU / step / thinned)
    while len(logs) > least:
        ordered = np.sort(logs)
        width = np.searchsorted(ordered, ordered + 2 * PLATEAU, side="right") - np.arange(len(ordered))
        best = int(np.argmax(width))
        if width[best] < least:
            break
        middle = float(np.median(ordered[best : best + int(width[best])]))
        found.append(float(np.exp(middle)))
        logs = logs[np.abs(logs - middle) > 3 * PLATEAU]
    return np.array(found)


def share_as_commanded(drive: TracedDrive) -> float | None:
    """Give the share of settled driving in which the commanded gear is had; None where no command is recorded."""
    settled = np.zeros(len(drive.times), bool)
    for _, first, end in steady_runs(drive, 1.3):
        settled[first:end] = True
    settled &= drive.had >= 0
    return float(np.mean((drive.had == drive.commanded)[settled])) if settled.sum() * drive.step > 5.0 else None


def _slips_everywhere(drive: TracedDrive) -> bool:
    """Tell whether every commanded gear is one of the unit's, with the input level with it or ahead: then it slips in all."""
    if drive.recording.has(GEAR):
        named = {name for name in np.unique(drive.recording.columns[GEAR]).tolist() if name.isdigit()}
        if named - set(drive.table.names):
            return False
    shares = []
    for gear in np.unique(drive.commanded[drive.commanded >= 0]).tolist():
        ratios = drive.ratio[(drive.commanded == gear) & np.isfinite(drive.ratio) & drive.is_loaded]
        shares += [float(np.median(ratios)) / float(drive.table.ratios[gear])] if len(ratios) * drive.step > 1.0 else []
    return bool(shares) and min(shares) > 1 - NEAR / 2


def _require_fit(drive: TracedDrive) -> None:
    """Refuse a log whose lasting ratios are not those of the unit: it is another vehicle's.

    Raises: LogProblem: says which ratios there are.
    """
    if drive.is_engine or drive.scale is not None:
        return
    forward = np.where(drive.commanded == REVERSE, np.nan, drive.ratio)
    plateaus = find_plateaus(forward, drive.step)
    if len(plateaus) < FEWEST_PLATEAUS:
        return
    fits = place_ratios(plateaus, drive.table.ratios) != NO_GEAR
    as_commanded = share_as_commanded(drive)
    is_other = fits.mean() < FEWEST_FITTING or (as_commanded is not None and as_commanded < LEAST_AS_COMMANDED)
    if is_other and not _slips_everywhere(drive):
        shown = ", ".join(f"{value:.2f}" for value in sorted(plateaus, reverse=True)[:8])
        raise LogProblem(
            f"The ratios of this log, {shown}, fit no gears of {drive.table.unit}: it is another vehicle's, or columns are "
            f"taken for what they are not. Name the unit with --unit, or the columns with --map. {say_speeds(drive.recording)}"
        )


@dataclass(frozen=True, slots=True)
class UnitMatch:
    """How well the ratios of a log fit a unit: `found` of its gears, over `share` of the time on lasting ratios."""

    unit: str
    found: int
    gears: int
    share: float


def match_units(recording: Recording, tables: Iterable[GearTable]) -> tuple[UnitMatch, ...]:
    """Hold the ratios of a log against the sheets, best first; those that fit badly are left out.

    With road speed alone, only the steps between the ratios count.
    """
    found = []
    for table in tables:
        try:
            drive = follow_gears(recording, table)
        except LogProblem:
            continue
        moving = np.isfinite(drive.ratio) & (drive.commanded != REVERSE) & (drive.commanded != NEUTRAL)
        plateaus = find_plateaus(np.where(moving, drive.ratio, np.nan), drive.step)
        placed = place_ratios(plateaus, table.ratios)
        used = set(placed[placed != NO_GEAR].tolist())
        as_commanded = share_as_commanded(drive)
        if not len(plateaus) or (len(used) < FEWEST_BY_ROAD and drive.scale is not None and as_commanded is None):
            continue
        near = np.abs(np.log(drive.ratio[:, None] / plateaus[None, :])).min(axis=1) < NEAR
        share = float(np.mean((drive.had >= 0)[moving & near])) if (moving & near).any() else 0.0
        if not drive.is_engine and as_commanded is not None and as_commanded < MOSTLY_AS_COMMANDED:
            continue
        if len(used) >= 2 and share > 0.6:
            off = float(np.mean(np.abs(np.log(plateaus[placed != NO_GEAR] / table.ratios[placed[placed != NO_GEAR]]))))
            between = max(used) - min(used) + 1  # the gears that were had, and those among them that were not
            match = UnitMatch(table.unit, len(used), len(table.ratios), share)
            found.append((share * len(used) / between - 4 * off, match))
    return tuple(match for _, match in sorted(found, key=lambda pair: -pair[0]))


def steady_runs(drive: TracedDrive, settle_s: float) -> list[tuple[int, int, int]]:
    """List where a forward gear is commanded and has had time to come: gear, first row, the one behind the last."""
    found = []
    cut = np.zeros(len(drive.times), np.int64)
    cut[drive.fresh] = 1
    state = drive.commanded * 100_000 + np.cumsum(cut)
    for first, end in each_run(state):
        gear = int(drive.commanded[first])
        begin = first + int(np.searchsorted(drive.times[first:end], drive.times[first] + settle_s))
        if gear >= 0 and begin < end:
            found.append((gear, begin, end))
    return found


def unbroken_runs(drive: TracedDrive, flags: Flags) -> Sequence[tuple[int, int]]:
    """Give the runs of rows that are marked, gaps parting them."""
    cut = flags.copy()
    cut[drive.fresh] = False
    return find_runs(cut)


def smooth_speed(values: Floats, step: float) -> Floats:
    """Take the edge off a speed: the median over a tenth of a second at the most."""
    width = round(0.1 / step) if step > 0 else 1
    return smooth_median(values, min(max(width | 1, 1), 7))
