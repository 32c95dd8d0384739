"""Defects of a drive in words, as rules and `trace --simulate` write them: `slip:c1:0.6`, `solenoid:sol_a:off`."""

from collections.abc import Sequence
from dataclasses import dataclass

from shiftlore.basics import UsageProblem, nearest
from shiftlore.sheets.unit_sheets import UnitSheet

ELEMENT, SOLENOID, COLUMN, NOTHING = "element", "solenoid", "column", ""
SENSED = (
    "engine_rpm", "input_rpm", "output_rpm", "road_kmh", "throttle_percent", "converter_clutch_percent", "fluid_temp_c",
    "line_pressure_bar",
)  # fmt: skip
"""Columns of a recording that a sensor may lose."""
LOCK_DRAG = 0.3
"""A converter clutch that holds more than this share at idle kills the engine at a stop, and there is no drive."""
OILED = ("slip", "flare", "bind")
"""Kinds that a one-way clutch, which has no oil, cannot have."""
SWITCHES = {"on": 1.0, "off": 0.0}
ID_SLOT = "{id}"
"""Stands for the instance in a defect that is written for all of a kind."""


@dataclass(frozen=True, slots=True)
class DefectKind:
    """One kind of defect.

    Args:
        of: what it is of: an element, a solenoid, a column, or nothing.
        low, high: between which its size must lie; `usual`: the size where none is written.
        says: what it does, with the meaning of its size.
    """

    of: str
    low: float
    high: float
    usual: float
    says: str


KINDS = {
    "slip": DefectKind(ELEMENT, 0, 1, 0.6, "the element has lost this share of the torque that it can hold"),
    "lost": DefectKind(ELEMENT, 0, 1, 1, "the element holds nothing"),
    "stuck": DefectKind(ELEMENT, 0, 1, 1, "the element never lets go"),
    "flare": DefectKind(ELEMENT, 0, 3, 0.3, "the element fills so many seconds late"),
    "bind": DefectKind(ELEMENT, 0, 3, 0.4, "the element lets go so many seconds late"),
    "solenoid": DefectKind(SOLENOID, 0, 1, 0, "the solenoid is stuck on or off"),
    "lockup_slip": DefectKind(NOTHING, 0, 1, 0.7, "the converter clutch has lost this share of its torque"),
    "lockup_shudder": DefectKind(
        NOTHING, 0, 0.5, 0.3, "the friction of the converter clutch swings by this share, down to less twice it"
    ),
    "lockup_stuck": DefectKind(
        NOTHING, 0, LOCK_DRAG, LOCK_DRAG, "the converter clutch always holds this share of its torque"
    ),
    "lockup_never": DefectKind(NOTHING, 0, 1, 1, "the converter clutch never closes"),
    "stall_off": DefectKind(
        NOTHING, -0.5, 1, 0.25, "the stall speed is off by this share; below 0 a freewheeling stator"
    ),
    "engage_late": DefectKind(NOTHING, 0, 5, 1.2, "drive and reverse come so many seconds late"),
    "low_pressure": DefectKind(NOTHING, 0, 1, 0.6, "this share of the line pressure is missing at full demand"),
    "hunting": DefectKind(NOTHING, 0, 1, 1, "upshift and downshift come at the same speed"),
    "module_off": DefectKind(NOTHING, 0, 86_400, 60, "after so many seconds the module cuts the current: failsafe"),
    "dropout": DefectKind(COLUMN, 0, 60, 0.4, "the sensor reads nothing for so many seconds, four times"),
    "freeze": DefectKind(COLUMN, 0, 600, 8, "the sensor repeats its last value for so many seconds"),
}
"""Every defect that can be put into a drive, by its word."""


@dataclass(frozen=True, slots=True)
class DriveDefect:
    """One defect of a simulated drive: a word of `KINDS`, the part it is of, and its size."""

    kind: str
    part: str
    size: float


def read_defect(text: str, sheet: UnitSheet) -> DriveDefect:
    """Read a defect written as `kind`, `kind:size`, `kind:part` or `kind:part:size`; a speed sensor stands for its column.

    Raises: UsageProblem: the kind, part or size is none; names what could stand there.
    Example:
        >>> read_defect("lockup_slip:0.5", None).size
        0.5
    """
    word, *rest = text.strip().split(":")
    kind = KINDS.get(word)
    if kind is None:
        near = ", ".join(nearest(word, KINDS)) or ", ".join(KINDS)
        raise UsageProblem(f"{text}: no defect is called {word}. Write one of: {near}.")
    known: Sequence[str] = ()
    if kind.of == ELEMENT:
        dry = {"converter_clutch", "one_way_clutch"} if word in OILED else {"converter_clutch"}
        known = [name for name, item in sheet.elements.items() if item.type not in dry]
    elif kind.of == SOLENOID:
        known = list(sheet.solenoids)
    elif kind.of == COLUMN:
        known = SENSED
    part = rest.pop(0) if kind.of and rest else ""
    if kind.of == COLUMN and part in sheet.speed_sensors:
        part = f"{sheet.speed_sensors[part].type}_rpm"
    if kind.of and part not in known:
        raise UsageProblem(
            f"{text}: {word} needs the {kind.of} that it is of, after a colon. Write one of: {', '.join(known)}."
        )
    if len(rest) > 1:
        raise UsageProblem(f"{text} has too many parts. Write {word}{':' + kind.of if kind.of else ''}:size.")
    return DriveDefect(word, part, _read_size(text, word, kind, rest[0] if rest else ""))


def _read_size(text: str, word: str, kind: DefectKind, said: str) -> float:
    if kind.of == SOLENOID:
        if said not in SWITCHES:
            raise UsageProblem(f"{text}: how is the solenoid stuck? Write {word}:id:on or {word}:id:off.")
        return SWITCHES[said]
    try:
        size = float(said) if said else kind.usual
    except ValueError:
        size = float("nan")
    if not kind.low <= size <= kind.high:
        raise UsageProblem(f"{text}: {said} is no size for {word}. Write a number from {kind.low:g} to {kind.high:g}.")
    return size
