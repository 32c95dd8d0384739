"""What a unit sheet may say: its records, its reader, its checks, and the words that rules may ask of it with.

The reader and the checks are imported when they are first asked for: a start with a warm cache needs neither.
"""

from importlib import import_module
from typing import TYPE_CHECKING, Any

from shiftlore.sheets.unit_sheets import (
    EACH,
    ELEMENT_TYPES,
    SET_KINDS,
    SHAFTS,
    SOLENOID_TYPES,
    AccessMinutes,
    Fluid,
    Join,
    Pattern,
    SheetElement,
    SheetGear,
    SheetSensor,
    SheetSet,
    SheetSolenoid,
    UnitSheet,
    is_fed,
    is_where_word,
    list_used_members,
    says_ties,
    where_words,
)

if TYPE_CHECKING:
    from shiftlore.sheets.sheet_checks import has_sound_ties
    from shiftlore.sheets.sheet_reading import is_sheet_file, load_sheet, read_sheet

_LATER = {"has_sound_ties": "sheet_checks"} | dict.fromkeys(
    ("is_sheet_file", "load_sheet", "read_sheet"), "sheet_reading"
)

__all__ = [
    "EACH", "ELEMENT_TYPES", "SET_KINDS", "SHAFTS", "SOLENOID_TYPES", "AccessMinutes", "Fluid", "Join", "Pattern",
    "SheetElement", "SheetGear", "SheetSensor", "SheetSet", "SheetSolenoid", "UnitSheet", "has_sound_ties",
    "is_fed", "is_sheet_file", "is_where_word", "list_used_members", "load_sheet", "read_sheet", "says_ties",
    "where_words",
]  # fmt: skip


def __getattr__(name: str) -> Any:
    """Import what is rarely needed when it is asked for."""
    if name in _LATER:
        return getattr(import_module(f"shiftlore.sheets.{_LATER[name]}"), name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
