"""One vehicle's case: read from YAML or JSON, checked against what is known, and written back safely."""

from typing import TYPE_CHECKING

from shiftlore.basics import open_later
from shiftlore.cases.case_records import (
    CAME_BACK,
    CODES,
    COMPLAINT,
    CONFIRMED_BY,
    CURED,
    EITHER,
    ENTERING,
    FORMAT_VERSION,
    HIGHEST_BUDGET,
    HIGHEST_ODOMETER_KM,
    LAYOUTS,
    LONGEST_DAYS,
    LONGEST_WORK_MINUTES,
    LOOKS,
    MOST_SPEEDS,
    NOT_CURED,
    ODOMETER,
    ONSETS,
    RECENT,
    REPLACED,
    RESULTS,
    Answer,
    Case,
    Done,
    Known,
    Measured,
    Onset,
    Outcome,
    Vehicle,
    place_last,
)
from shiftlore.cases.reading import is_code, peek_node, peek_vehicle, read_case, read_node

if TYPE_CHECKING:
    from shiftlore.cases.outcomes import read_day
    from shiftlore.cases.saving import CaseChanged, CaseFile, render_case, render_case_as_json

__getattr__ = open_later(
    __name__, {"outcomes": ("read_day",), "saving": ("CaseChanged", "CaseFile", "render_case", "render_case_as_json")}
)
