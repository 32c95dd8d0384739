"""One vehicle's case: read from YAML or JSON, checked against what is known, and written back safely."""

from shiftlore.cases.reading import is_code, peek_unit, read_case
from shiftlore.cases.records import FORMAT_VERSION, HIGHEST_BUDGET, HIGHEST_ODOMETER_KM, Answer, Case, Known
from shiftlore.cases.rendering import render_case
from shiftlore.cases.saving import save_case

__all__ = [
    "FORMAT_VERSION",
    "HIGHEST_BUDGET",
    "HIGHEST_ODOMETER_KM",
    "Answer",
    "Case",
    "Known",
    "is_code",
    "peek_unit",
    "read_case",
    "render_case",
    "save_case",
]
