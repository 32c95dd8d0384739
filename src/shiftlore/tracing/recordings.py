"""A road-test log as columns of numbers: which columns there are, in which units, and what was wrong with its rows."""

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from shiftlore.basics import ShiftloreError

Floats = NDArray[np.float64]
Whole = NDArray[np.int64]
Flags = NDArray[np.bool_]

TIME, ENGINE, INPUT, OUTPUT, ROAD = "time_s", "engine_rpm", "input_rpm", "output_rpm", "road_kmh"
GEAR, LEVER, THROTTLE, LOCKUP = "gear_commanded", "lever", "throttle_percent", "converter_clutch_percent"
WARMTH, LINE = "fluid_temp_c", "line_pressure_bar"
SPEEDS = (ENGINE, INPUT, OUTPUT, ROAD)
WORDS = (GEAR, LEVER)
"""Columns that hold names of gears and ranges."""


@dataclass(frozen=True, slots=True)
class Channel:
    """What a column is measured in.

    Args:
        units: unit -> factor and offset: value in the first unit = factor * (value + offset).
        low, high: what a vehicle can show at all, in the first unit.
        title: how it is called in a sentence.
    """

    units: Mapping[str, tuple[float, float]]
    low: float
    high: float
    title: str


_TURNING = {"rpm": (1.0, 0.0), "rad/s": (60 / (2 * np.pi), 0.0), "1/s": (60.0, 0.0)}
_SHARE = {"%": (1.0, 0.0), "share": (100.0, 0.0)}
CHANNELS: Mapping[str, Channel] = {
    TIME: Channel({"s": (1.0, 0.0), "ms": (0.001, 0.0), "min": (60.0, 0.0), "d": (86_400.0, 0.0)}, -1e12, 1e12, "time"),
    ENGINE: Channel(_TURNING, -50.0, 15_000.0, "engine speed"),
    INPUT: Channel(_TURNING, -9_000.0, 15_000.0, "input speed"),
    OUTPUT: Channel(_TURNING, -9_000.0, 15_000.0, "output speed"),
    ROAD: Channel({"km/h": (1.0, 0.0), "mph": (1.609344, 0.0), "m/s": (3.6, 0.0)}, -60.0, 420.0, "road speed"),
    GEAR: Channel({}, 0.0, 0.0, "commanded gear"),
    LEVER: Channel({}, 0.0, 0.0, "lever"),
    THROTTLE: Channel(_SHARE, -10.0, 130.0, "throttle"),
    LOCKUP: Channel(_SHARE, -10.0, 130.0, "converter clutch command"),
    WARMTH: Channel({"C": (1.0, 0.0), "F": (5 / 9, -32.0), "K": (1.0, -273.15)}, -60.0, 250.0, "fluid warmth"),
    LINE: Channel(
        {"bar": (1.0, 0.0), "kPa": (0.01, 0.0), "psi": (0.06894757, 0.0), "MPa": (10.0, 0.0)},
        -2.0,
        120.0,
        "line pressure",
    ),
}
"""Columns by name. Source: the SI and its exact conversions; what a vehicle can show is judgement."""


def convert(channel: str, values: Floats, unit: str) -> Floats:
    """Turn values of a column into its first unit.

    Example:
        >>> [round(float(x), 6) for x in convert("road_kmh", np.array([10.0]), "mph")]
        [16.09344]
    """
    factor, offset = CHANNELS[channel].units[unit]
    return values if (factor, offset) == (1.0, 0.0) else factor * (values + offset)


@dataclass(frozen=True, slots=True)
class TakenColumn:
    """A column of the file, and what it was taken for.

    Args:
        header: as it stands in the file; place: its number, from 1.
        unit: as stated or guessed; "" for names of gears.
        by: how that is known: `map`, `name`, `range` or `relation`.
    """

    channel: str
    header: str
    place: int
    unit: str
    by: str


@dataclass(frozen=True, slots=True)
class RefusedRows:
    """Rows of the file that are not used, one or several in a row.

    Args:
        row: number of the first, as an editor counts lines; last_row: of the last.
        why: what is wrong; channel: the column that is not used there, or "" for the whole row.
    """

    row: int
    last_row: int
    why: str
    channel: str = ""


@dataclass(frozen=True, slots=True, eq=False)
class Recording:
    """A log as it was read.

    Args:
        columns: name -> its values in the first unit of its channel, NaN where there is none; names of gears as text.
        rows: number of each row in the file.
        rows_read: how many rows of figures the file has.
        taken: what each column was taken for; left: headers that were taken for nothing.
        refused: rows that are not used; notes: what else is worth knowing, in sentences.
        drops: speed signal -> rows at which it drops out, jumps or stands still.
    """

    columns: Mapping[str, NDArray]
    rows: Whole
    rows_read: int
    taken: tuple[TakenColumn, ...]
    left: tuple[str, ...] = ()
    refused: tuple[RefusedRows, ...] = ()
    notes: tuple[str, ...] = ()
    drops: Mapping[str, tuple[int, ...]] = field(default_factory=dict)

    def has(self, *channels: str) -> bool:
        """Tell whether all of these columns are there."""
        return all(channel in self.columns for channel in channels)


class LogProblem(ShiftloreError):
    """A log that cannot be used, and what to do about it."""
