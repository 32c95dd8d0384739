"""Read a road-test log and say what it shows: gears, slip, shifts, converter, signals; each with its figure and its doubt."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from shiftlore.cases import Vehicle
from shiftlore.compiling import CompiledUnit, compile_unit
from shiftlore.gearing import unit_facts
from shiftlore.knowledge import Knowledge, name_in_general
from shiftlore.knowledge.language import FIRST_LANGUAGE
from shiftlore.tracing.further_measures import (
    measure_converter,
    measure_drops,
    measure_engagements,
    measure_heat,
    measure_pressure,
)
from shiftlore.tracing.gear_measures import GearSeen, measure_gears, measure_use, see_gears
from shiftlore.tracing.gears_had import (
    GearTable,
    TracedDrive,
    UnitMatch,
    find_plateaus,
    follow_gears,
    match_units,
    require_speeds,
    say_speeds,
    tabulate_gears,
)
from shiftlore.tracing.log_files import read_log
from shiftlore.tracing.log_findings import LogJudge, TracedFinding
from shiftlore.tracing.measured import Figures
from shiftlore.tracing.recordings import (
    CHANNELS,
    ENGINE,
    GEAR,
    INPUT,
    LINE,
    LOCKUP,
    OUTPUT,
    THROTTLE,
    TIME,
    WARMTH,
    LogProblem,
    Recording,
    RefusedRows,
    TakenColumn,
)
from shiftlore.tracing.shift_events import ShiftEvent, find_shift_events, measure_shifts

NEEDS: Mapping[str, tuple[str, ...]] = {
    **dict.fromkeys(("gear_slip", "gear_refused", "other_gear", "upshift_refused"), (INPUT, GEAR)),
    **dict.fromkeys(("one_gear", "gear_kept", "fallback_gear", "start_gear", "gear_jumped"), (INPUT,)),
    **dict.fromkeys(("engage_forward", "engage_backward", "upshift_flare", "upshift_dip", "upshift_time"), (INPUT,)),
    "downshift_flare": (INPUT,),
    **dict.fromkeys(("lock_commanded", "lock_changes"), (ENGINE, LOCKUP)),
    **dict.fromkeys(("lock_slip", "lock_held", "unlocked_slip", "applying_shudder", "locked_shudder"), (ENGINE, INPUT, LOCKUP)),
    **dict.fromkeys(("stall_forward", "stall_backward"), (ENGINE, THROTTLE)),
    **dict.fromkeys(("hottest", "temperature_jumps"), (WARMTH,)),
    **dict.fromkeys(("idle_pressure", "full_pressure"), (LINE, THROTTLE)),
    "gears_hunted": (GEAR,), "signal_drops": (INPUT,),
}  # fmt: skip
"""Measure -> the columns that it takes beside time and a road or output speed."""
NOT_DRIVEN, NOT_STATED = "not driven", "no limit stated"
CLEARLY = 0.15
"""So much more of its ratios must fit the first sheet than the second, in shares of the time (judgement)."""


@dataclass(frozen=True, slots=True)
class TracedShift:
    """One shift of a log: its gears as printed, its time, how long it took and how far the input flared, if that is known."""

    gears: str
    at_s: float
    came: bool
    seconds: float | None
    flare_rpm: float | None


@dataclass(frozen=True, slots=True)
class Added:
    """What a log has added to a case.

    Args:
        findings: those that are new in it; kept: finding -> what the case says, where the log says otherwise.
        refused: finding -> why the case cannot hold it beside what it says.
    """

    findings: tuple[str, ...]
    kept: Mapping[str, str]
    refused: Mapping[str, str]


@dataclass(frozen=True, slots=True)
class Trace:
    """What a log shows.

    Args:
        unit: whose gears were looked for; unit_found: whether it was found by the ratios alone.
        looks_like: sheets that the ratios fit, best first, where the unit was not said or has no ratios.
        findings: id -> answer; rows_read: rows of figures in the file; rows_refused: those not used, and why.
        gears: gear -> what was measured of it; columns: what each column was taken for; columns_left: those not used.
        gear_changes: every change of gear.
        not_told: findings that the log says nothing of -> the columns that it lacks, or `NOT_DRIVEN`, or
            `NOT_STATED` and the figure, which nothing on the sheet grades.
        names: finding of `not_told` -> what it is called.
        seconds_driven, rows_a_second: of the log.
        added: what it has added to a case, or None; drive: all of it row by row, for a picture.
    """

    unit: str
    unit_found: bool
    looks_like: tuple[UnitMatch, ...]
    findings: Mapping[str, TracedFinding]
    rows_read: int
    rows_refused: tuple[RefusedRows, ...]
    gears: Mapping[str, GearSeen]
    columns: tuple[TakenColumn, ...]
    columns_left: tuple[str, ...]
    gear_changes: tuple[TracedShift, ...]
    not_told: Mapping[str, tuple[str, ...]]
    names: Mapping[str, str]
    notes: tuple[str, ...]
    seconds_driven: float
    rows_a_second: float
    added: Added | None = None
    drive: TracedDrive | None = field(default=None, repr=False, compare=False)


def trace_log(
    knowledge: Knowledge,
    path: Path,
    unit: str | Vehicle | None = None,
    columns: Sequence[str] = (),
) -> Trace:
    """Read a log and say what it shows.

    Args:
        unit: id of a unit sheet, a kind, or what a case says; None finds it by its ratios.
        columns: what the user says of columns, `channel=COLUMN` or `channel=COLUMN:UNIT`.
    Raises: LogProblem: the log cannot be used; says why and what to do. UnknownId, UsageProblem: a unit or column that is none.
    """
    spoken = knowledge.languages.get(FIRST_LANGUAGE)
    compiled = None if unit is None else compile_unit(knowledge, unit)
    recording = read_log(path, {} if spoken is None else spoken.columns, columns)
    return trace_recording(knowledge, recording, compiled)


def trace_recording(knowledge: Knowledge, recording: Recording, compiled: CompiledUnit | None) -> Trace:
    """Say what a log that was read shows, on a unit or, where it is None, on the one that its ratios fit."""
    table = None if compiled is None else tabulate_gears(compiled.expansion.facts)
    matches: tuple[UnitMatch, ...] = ()
    is_found = compiled is None
    if table is None:
        table, matches = _find_table(knowledge, recording)
    if compiled is None:
        compiled = compile_unit(knowledge, table.unit)
    drive = follow_gears(recording, table)
    events = find_shift_events(drive)
    figures = measure_everything(drive, events, compiled)
    judge = LogJudge(compiled, recording, figures)
    findings = judge.judge()
    untold = _list_untold(compiled, recording, findings) | {
        key: (NOT_STATED, text) for key, text in judge.ungraded.items()
    }
    times = recording.columns[TIME]
    return Trace(
        table.unit,
        unit_found=is_found,
        looks_like=matches,
        findings=findings,
        rows_read=recording.rows_read,
        rows_refused=recording.refused,
        gears=see_gears(drive),
        columns=recording.taken,
        columns_left=recording.left,
        gear_changes=tuple(_tell_shift(drive, event) for event in events),
        not_told=untold,
        names={key: name_in_general(knowledge.findings[key]) for key in untold},
        notes=(*recording.notes, *_note_what_stands_in(drive)),
        seconds_driven=round(float(times[-1] - times[0]), 3),
        rows_a_second=round(1 / drive.step, 3),
        drive=drive,
    )


def measure_everything(drive: TracedDrive, events: list[ShiftEvent], unit: CompiledUnit) -> list[Figures]:
    """Measure all that the log has columns for."""
    sensors = {item.type: item.id for item in unit.expansion.facts.instances("speed_sensor")}
    found = [*measure_gears(drive), *measure_use(drive), *measure_converter(drive), *measure_engagements(drive)]
    if not drive.is_engine:
        found += measure_shifts(drive, events)
    found += [*measure_heat(drive.recording, drive.times), *measure_pressure(drive)]
    return [*found, *measure_drops(drive.recording, sensors)]


def _find_table(knowledge: Knowledge, recording: Recording) -> tuple[GearTable, tuple[UnitMatch, ...]]:
    """Find the sheet whose gears the ratios of a log are.

    Raises: LogProblem: none fits, or several do as well.
    """
    require_speeds(recording)
    tables = []
    for sheet in knowledge.sheets.values():
        table = None if sheet.kind_only else tabulate_gears(unit_facts(sheet))
        tables += [table] if table is not None else []
    matches = match_units(recording, tables)
    if matches and not (recording.has(OUTPUT) and recording.has(INPUT)) and len(matches) > 1:
        shown = ", ".join(match.unit for match in matches)
        raise LogProblem(
            f"Without input and output speed these ratios fit several units: {shown}. Name it with --unit."
        )
    if not matches and not recording.has(OUTPUT):
        raise LogProblem(
            f"By road speed the ratios of this log fit no single unit. Name it with --unit. {say_speeds(recording)}"
        )
    if not matches:
        raise LogProblem(
            f"The ratios of this log{_say_ratios(recording)} fit no unit that has a sheet. Name the unit with --unit: a fault "
            f"can hide its ratios. Or name the columns with --map, or write its sheet: shiftlore unit --new FILE. "
            f"{say_speeds(recording)}"
        )
    return next(table for table in tables if table.unit == matches[0].unit), matches


def _say_ratios(recording: Recording) -> str:
    if not recording.has(INPUT, OUTPUT):
        return ""
    with np.errstate(invalid="ignore", divide="ignore"):
        ratio = np.where(recording.columns[OUTPUT] > 200, recording.columns[INPUT] / recording.columns[OUTPUT], np.nan)
    found = find_plateaus(np.abs(ratio), float(np.median(np.diff(recording.columns[TIME]))))
    return f" ({', '.join(f'{value:.2f}' for value in sorted(found, reverse=True)[:8])})" if len(found) else ""


def _tell_shift(drive: TracedDrive, event: ShiftEvent) -> TracedShift:
    names = drive.table.names
    seconds, flare = (None if not np.isfinite(value) else round(value, 2) for value in (event.seconds, event.flare_rpm))
    at = round(float(drive.times[event.row]), 2)
    return TracedShift(f"{names[event.start]}-{names[event.end]}", at, event.came, seconds, flare)


def _list_untold(
    unit: CompiledUnit, recording: Recording, findings: Mapping[str, TracedFinding]
) -> dict[str, tuple[str, ...]]:
    """List findings that a log could tell and this one does not, by their templates, with the columns that it lacks."""
    told = {unit.expansion.finding_records[key].id for key in findings}
    untold: dict[str, tuple[str, ...]] = {}
    for record in unit.expansion.finding_records.values():
        if record.traced and record.id not in told:
            lacking = [[name for name in NEEDS[one.by] if not recording.has(name)] for one in record.traced]
            least = min(lacking, key=len)
            untold[record.id] = tuple(CHANNELS[name].title for name in least) or (NOT_DRIVEN,)
    return untold


def _note_what_stands_in(drive: TracedDrive) -> list[str]:
    """Say what was reckoned for want of a sensor."""
    notes = []
    if drive.is_engine:
        notes.append(
            "There is no input speed: engine speed stands in for it, so gears count only where the converter is locked."
        )
    if drive.scale is None and not drive.recording.has(OUTPUT):
        notes.append(
            "There is no output speed, and road speed fits the gears of this unit in no single way: no gear is told. Record "
            "the output speed, or the commanded gear."
        )
    if drive.scale is not None:
        notes.append(f"There is no output speed: it is reckoned from road speed, {drive.scale:.1f} rpm for each km/h.")
    return notes
