"""The road test of a practice vehicle with the recorder on: driven by the simulator, read as any log is, the same for all.

A vehicle that shows its fault on the road, or a shade of it to its driver, is driven with it, and what the log says is what the
vehicle shows; one that shows nothing there is driven sound. Where a fault that shows cannot be simulated there is no recording.
"""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from shiftlore.basics import UsageProblem
from shiftlore.compiling import CompiledCase, Expansion
from shiftlore.driving import DriveDefect, draw_route, prepare_unit, read_defect, simulate_drive
from shiftlore.practising.settling import settle_vehicle
from shiftlore.sheets import ID_SLOT, UnitSheet
from shiftlore.simulating import Drawn
from shiftlore.tracing import LogProblem, Trace, take_columns, trace_recording

_DRIVE = 6
_DIGITS = 3
"""A recorder writes no more, so a log that is kept reads as it did."""
GAUGED, GAUGED_WAY = "line_pressure_bar", "measure"
"""No recorder has it without a gauge, and a stall test is a check of its own: neither is part of the road test."""
FELT_WAY = "road"
HIGHEST = 2**31


@dataclass(frozen=True, slots=True, eq=False)
class RecordedDrive:
    """A road test with the recorder on.

    Args:
        columns: what it wrote; trace: what that shows.
    """

    columns: Mapping[str, NDArray]
    trace: Trace

    def read_as(self, readings: Mapping[str, int], expansion: Expansion) -> dict[str, int]:
        """Give what the log says of a vehicle's findings, finding -> state."""
        nodes = expansion.findings
        told = {key: nodes[key].grades.index(one.is_grade) for key, one in self.trace.findings.items()}
        return {key: state for key, state in told.items() if key in readings}


def list_logged(expansion: Expansion) -> list[str]:
    """List what the log of a road test can tell, where a check of this unit records one."""
    if not any(check.recorded for check in expansion.checks.values()):
        return []
    return [name for name, record in expansion.finding_records.items() if record.traced and record.got_by != GAUGED_WAY]


def drive_vehicle(
    case: CompiledCase, sheet: UnitSheet, vehicle: Drawn, seed: int, kept: Collection[str] = ()
) -> tuple[Drawn, RecordedDrive | None]:
    """Drive a vehicle that shows its fault on the road, and let it show what the log says.

    Args:
        kept: findings that must stay as they are, or there is no recording.
    Returns: the vehicle as it then is, and its drive; as it was, and None, where it shows nothing or cannot be simulated.
    """
    defects = find_defects(case, sheet, vehicle)
    if not defects:
        return vehicle, None
    drive = record_drive(case, sheet, defects, seed)
    told = {} if drive is None else drive.read_as(vehicle.readings, case.expansion)
    driven = settle_vehicle(case, replace(vehicle, readings={**vehicle.readings, **told}), [*told, *kept])
    if not driven.complaints or any(driven.readings[name] != vehicle.readings[name] for name in kept):
        return vehicle, None
    return replace(driven, complaints=vehicle.complaints) if kept else driven, drive


def drive_sound(case: CompiledCase, sheet: UnitSheet, vehicle: Drawn, seed: int) -> RecordedDrive | None:
    """Drive a vehicle that shows nothing on the road; None where it shows something, or its log would."""
    if find_defects(case, sheet, vehicle) != ():
        return None
    drive = record_drive(case, sheet, (), seed)
    told = {} if drive is None else drive.read_as(vehicle.readings, case.expansion)
    return drive if all(vehicle.readings[name] == state for name, state in told.items()) else None


def find_defects(case: CompiledCase, sheet: UnitSheet, vehicle: Drawn) -> tuple[DriveDefect, ...] | None:
    """Give the defects that a vehicle is driven with: none where it shows nothing on the road.

    Returns: None where no drive of it can be simulated.
    """
    expansion = case.expansion
    logged = list_logged(expansion)
    causes = [expansion.causes[case.causes[cause]] for cause in vehicle.causes]
    try:
        prepare_unit(sheet)
        if not _list_felt(expansion, vehicle, logged):
            return () if logged else None
        if not all(one.cause.simulated for one in causes):
            return None
        texts = [text.replace(ID_SLOT, one.instance or "") for one in causes for text in one.cause.simulated]
        return tuple(read_defect(text, sheet) for text in dict.fromkeys(texts))
    except UsageProblem:
        return None


def _list_felt(expansion: Expansion, vehicle: Drawn, logged: Collection[str]) -> list[str]:
    """List what a vehicle shows on the road: what a log can tell, in general too, or feels as a shade of it: late lock-up."""
    records, told = expansion.finding_records, {expansion.finding_records[name].id for name in logged}

    def is_felt(name: str) -> bool:
        shades = [one.target for one in records[name].follows] if records[name].got_by == FELT_WAY else []
        return name in logged or bool(told.intersection((*records[name].general_of, *shades)))

    return [name for name, state in vehicle.readings.items() if state and is_felt(name)]


def record_drive(
    case: CompiledCase, sheet: UnitSheet, defects: Sequence[DriveDefect], seed: int
) -> RecordedDrive | None:
    """Drive round the usual route, but for the stall test, and read the log; None where the sheet does not tell enough.

    The last drive of a unit is kept: the same vehicle is often drawn once more.
    """
    kept, key, wanted = case.knowledge.worked_out, (record_drive, sheet.id), (sheet, defects, seed)
    if kept.get(key, (None,))[0] != wanted:
        kept[key] = (wanted, _record(case, sheet, defects, seed))
    return kept[key][1]


def _record(case: CompiledCase, sheet: UnitSheet, defects: Sequence[DriveDefect], seed: int) -> RecordedDrive | None:
    rng = np.random.default_rng((seed, _DRIVE))
    route = tuple(leg for leg in draw_route(rng) if not (leg.brake and leg.throttle_percent))
    try:
        drive = simulate_drive(sheet, defects=defects, seed=int(rng.integers(HIGHEST)), route=route)
        columns = {
            name: np.round(column, _DIGITS) if column.dtype.kind == "f" else column
            for name, column in drive.columns.items()
            if name != GAUGED
        }
        return RecordedDrive(columns, trace_recording(case.knowledge, take_columns(columns), case.unit))
    except (UsageProblem, LogProblem):
        return None
