"""Road-test logs: read in whatever form, refused row by row where they cannot be true, and turned into findings."""

from typing import TYPE_CHECKING

from shiftlore.basics import open_later
from shiftlore.tracing.cleaning import take_columns
from shiftlore.tracing.gear_measures import GearSeen
from shiftlore.tracing.gears_had import TracedDrive, UnitMatch
from shiftlore.tracing.log_files import read_log
from shiftlore.tracing.log_findings import TracedFinding
from shiftlore.tracing.recordings import LogProblem, Recording, RefusedRows, TakenColumn
from shiftlore.tracing.runs import each_run
from shiftlore.tracing.traces import NOT_DRIVEN, NOT_STATED, Added, Trace, TracedShift, trace_log, trace_recording

if TYPE_CHECKING:
    from shiftlore.tracing.log_into_case import add_to_case, trace_into

__getattr__ = open_later(__name__, {"log_into_case": ("add_to_case", "trace_into")})

__all__ = [
    "NOT_DRIVEN", "NOT_STATED", "Added", "GearSeen", "LogProblem", "Recording", "RefusedRows", "TakenColumn", "Trace",
    "TracedDrive", "TracedFinding", "TracedShift", "UnitMatch", "add_to_case", "each_run", "read_log", "take_columns",
    "trace_into", "trace_log", "trace_recording",
]  # fmt: skip
