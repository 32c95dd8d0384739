"""Road-test logs: read in whatever form, refused row by row where they cannot be true, and turned into findings."""

from typing import TYPE_CHECKING

from shiftlore.basics import open_later
from shiftlore.tracing.cleaning import take_columns
from shiftlore.tracing.gears_had import TracedDrive
from shiftlore.tracing.log_findings import TracedFinding
from shiftlore.tracing.measured import each_run
from shiftlore.tracing.recordings import CHANNELS, LogProblem, Recording, TakenColumn
from shiftlore.tracing.traces import NOT_DRIVEN, NOT_STATED, Added, Trace, TracedShift, trace_log, trace_recording

if TYPE_CHECKING:
    from shiftlore.tracing.log_into_case import trace_into

__getattr__ = open_later(__name__, {"log_into_case": ("trace_into",)})
