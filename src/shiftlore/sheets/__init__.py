"""What a unit sheet may say: its records, its reader, its checks, and the words that rules may ask of it with.

The reader and the checks are imported when they are first asked for: a start with a warm cache needs neither.
"""

from typing import TYPE_CHECKING

from shiftlore.basics import open_later
from shiftlore.sheets.unit_sheets import (
    EACH,
    ELEMENT_TYPES,
    SET_KINDS,
    SHAFTS,
    SOLENOID_TYPES,
    AccessMinutes,
    Fluid,
    Limit,
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
    vary_sheet,
    where_words,
)

if TYPE_CHECKING:
    from shiftlore.sheets.drive_defects import ID_SLOT, KINDS, LOCK_DRAG, DefectKind, DriveDefect, read_defect
    from shiftlore.sheets.sheet_checks import has_sound_ties
    from shiftlore.sheets.sheet_reading import is_sheet_file, load_sheet, read_sheet

__getattr__ = open_later(
    __name__,
    {
        "drive_defects": ("ID_SLOT", "KINDS", "LOCK_DRAG", "DefectKind", "DriveDefect", "read_defect"),
        "sheet_checks": ("has_sound_ties",),
        "sheet_reading": ("is_sheet_file", "load_sheet", "read_sheet"),
    },
)
