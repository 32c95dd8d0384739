"""Read a log file into columns of numbers, a piece at a time; every row that cannot be used is told by its number."""

import contextlib
import gc
import io
import logging
import math
import re
import struct
import sys
import warnings
import zlib
from collections.abc import Callable, Iterator, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, TextIO

import numpy as np
from numpy.typing import NDArray

from shiftlore.basics import UsageProblem
from shiftlore.basics.problems import printable
from shiftlore.tracing.cleaning import clean_recording, group_rows
from shiftlore.tracing.column_guess import Sampled, guess_columns, read_map, show_header, tidy_unit
from shiftlore.tracing.log_layout import MDF_BEGINS, LogLayout, find_layout, is_number
from shiftlore.tracing.recordings import (
    CHANNELS,
    LEVER,
    LOCKUP,
    TIME,
    WORDS,
    Floats,
    LogProblem,
    Recording,
    RefusedRows,
    TakenColumn,
    convert,
)

if TYPE_CHECKING:
    import pandas

FEWEST_ROWS, MOST_ROWS = 10, 1_500_000
_PIECE = 100_000
MOST_GEARS = 16
_SWITCH = {"on": 1.0, "off": 0.0, "true": 1.0, "false": 0.0, "yes": 1.0, "no": 0.0}
_SHOWN_CELL = 24
_DAY_SECONDS, _LATE_SECONDS = 86_400.0, 3600.0
_CLOCK_ONLY, _DAY_FIRST = re.compile(r"\d{1,3}:\d.*"), re.compile(r"\d{1,2}\.\d{1,2}\.\d")
_BROKEN_MDF = (
    ArithmeticError,
    AttributeError,
    LookupError,
    MemoryError,
    TypeError,
    ValueError,
    struct.error,
    zlib.error,
)
"""What the library raises beside its own error over a file that is not as it should be."""
_NO_HEADER = "The log has no header: columns are known by their figures, or by --map engine_rpm=#2."
Phrases = Mapping[str, Sequence[str]]


def read_log(path: Path, phrases: Phrases, said: Sequence[str] = ()) -> Recording:
    """Read a road-test log: CSV in whatever form, or MDF4.

    Args:
        phrases: channel -> what its column is called, of the language file.
        said: what the user says of columns, `channel=COLUMN` or `channel=COLUMN:UNIT`.
    Raises: LogProblem: it cannot be used; says why and what to do. UnknownId, UsageProblem: what was said fits nothing.
    """
    if not path.is_file():
        what = "is no ordinary file" if path.exists() else "is not there"
        raise UsageProblem(f"{printable(str(path))} {what}. Name the file of a recording.")
    try:
        with path.open("rb") as stream:
            begin = stream.read(8)
        recording = _read_mdf(path, phrases, said) if begin in MDF_BEGINS else _read_text(path, phrases, said)
    except OSError as error:
        raise LogProblem(f"{printable(str(path))} cannot be read: {error.strerror or error}.") from error
    return clean_recording(recording)


def _read_text(path: Path, phrases: Phrases, said: Sequence[str]) -> Recording:
    layout = find_layout(path)
    if len(layout.samples) < FEWEST_ROWS:
        raise LogProblem(f"This log has {len(layout.samples)} rows of figures; nothing can be told from so few.")
    chosen = read_map(said, layout.headers)
    taken = guess_columns(list(_sample(layout)), phrases, chosen)
    _require_columns(taken, layout.headers)
    places = [one.place - 1 for one in taken]
    pieces: dict[str, list[NDArray]] = {one.channel: [] for one in taken}
    refused: list[RefusedRows] = []
    numbers: list[NDArray[np.int64]] = []
    count, begins = 0, layout.skipped + 1
    for piece in _read_pieces(path, layout, places):
        rows = np.arange(len(piece), dtype=np.int64) + begins
        begins += len(piece)
        keep, columns = _take_piece(piece, rows, taken, layout, refused)
        count += int(keep.sum())
        _refuse_many(count)
        numbers.append(rows[keep])
        for channel, values in columns.items():
            pieces[channel].append(values[keep])
    rows = np.concatenate(numbers)
    columns = {channel: np.concatenate(parts) for channel, parts in pieces.items()}
    columns |= {
        one.channel: convert(one.channel, columns[one.channel], one.unit) for one in taken if one.channel not in WORDS
    }
    notes = [] if layout.has_header else [_NO_HEADER]
    columns[TIME] = _pass_midnight(columns[TIME], layout, taken)
    if rows.size and abs(columns[TIME][0]) > _LATE_SECONDS:
        columns[TIME] = columns[TIME] - columns[TIME][0]
        notes.append("Times are counted from the first row.")
    known = {one.place for one in taken}
    left = tuple(name for place, name in enumerate(layout.headers, 1) if place not in known)
    return Recording(
        columns,
        rows,
        rows_read=len(rows) + sum(one.last_row - one.row + 1 for one in refused if not one.channel),
        taken=taken,
        left=left,
        refused=tuple(refused),
        notes=tuple(notes),
    )


def _refuse_many(rows: int) -> None:
    if rows > MOST_ROWS:
        raise LogProblem(
            f"This log has more than {MOST_ROWS:,} rows. Cut out the drive that counts, or record it more slowly."
        )


def _require_columns(taken: Sequence[TakenColumn], headers: Sequence[str]) -> None:
    """Refuse a log that has no time, or nothing beside it."""
    known = {one.channel for one in taken}
    shown = ", ".join(map(show_header, headers[:8])) + (", ..." if len(headers) > 8 else "")
    if TIME not in known:
        raise LogProblem(f"No column says the time. Name it: --map {TIME}=COLUMN. Columns: {shown}.")
    if not known - {TIME, *WORDS}:
        raise LogProblem(f"No column is known for what it is. Name them: --map engine_rpm=COLUMN. Columns: {shown}.")


def _sample(layout: LogLayout) -> Iterator[Sampled]:
    """Give each column with a sample of its figures."""
    for place, header in enumerate(layout.headers):
        cells = [row[place].replace(",", "" if layout.grouped else ",").strip() for row in layout.samples]
        filled = [cell for cell in cells if cell]
        figures = _take_figures(filled, layout.decimal)
        is_words = len(figures) < 0.5 * len(filled)
        steps = np.diff(figures)
        rises = len(figures) > 2 and bool((steps >= 0).mean() > 0.95) and bool((steps > 0).mean() > 0.5)
        yield Sampled(header, layout.units[place], figures, is_words=is_words, rises=rises and not is_words)


def _take_figures(cells: Sequence[str], decimal: str) -> Floats:
    """Give the numbers among some cells."""
    texts = [cell.replace(decimal, ".") for cell in cells]
    try:
        figures = np.array(texts, dtype=np.float64)
    except ValueError:
        numbers = [_float(text) for text, cell in zip(texts, cells, strict=True) if is_number(cell)]
        figures = np.array([number for number in numbers if number is not None], dtype=np.float64)
    return figures[np.isfinite(figures)]


def _float(text: str) -> float | None:
    try:
        return float(text)
    except ValueError:
        return None


class _Figures:
    """The rows of figures of a log as a stream, with a row of empty cells before them that is as wide as a row may be.

    NUL bytes, which end a text for some readers, read as question marks.
    """

    def __init__(self, stream: TextIO, layout: LogLayout):
        for _ in range(layout.skipped):
            stream.readline()
        self.stream, self.waiting = stream, layout.separator * len(layout.headers) + "\n"

    def read(self, size: int = -1) -> str:
        """Read so many letters."""
        text, self.waiting = self.waiting, ""
        return text or self.stream.read(size).replace("\x00", "?")

    def __iter__(self) -> Iterator[str]:
        yield self.read()


def _read_pieces(path: Path, layout: LogLayout, places: Sequence[int]) -> Iterator["pandas.DataFrame"]:
    """Read the columns that are wanted, and one behind the last, which is empty unless a row is too long."""
    import csv

    import pandas as pd

    width = len(layout.headers)
    settings: dict[str, Any] = {
        "sep": layout.separator,
        "header": None,
        "names": list(range(width + 1)),
        "usecols": sorted({*places, width}),
        "decimal": layout.decimal,
        "thousands": "," if layout.grouped else None,
        "skip_blank_lines": False,
        "quoting": csv.QUOTE_MINIMAL if layout.quoted else csv.QUOTE_NONE,
        "index_col": False,
        "low_memory": False,
        "chunksize": _PIECE,
    }
    with path.open(encoding=layout.encoding, errors="replace") as stream, warnings.catch_warnings():
        warnings.simplefilter("ignore")
        try:
            with pd.read_csv(_Figures(stream, layout), **settings) as reader:
                yield next(reader)[1:]
                yield from reader
        except (pd.errors.ParserError, UnicodeError) as error:
            raise LogProblem(
                f"The log cannot be read to its end: {printable(str(error).strip())}. Export it as CSV again."
            ) from error


def _take_piece(
    piece: "pandas.DataFrame",
    rows: NDArray[np.int64],
    taken: Sequence[TakenColumn],
    layout: LogLayout,
    refused: list[RefusedRows],
) -> tuple[NDArray[np.bool_], dict[str, NDArray]]:
    """Turn a piece of the file into columns; rows that are no rows of figures are refused."""
    width = len(layout.headers)
    places = [one.place - 1 for one in taken]
    is_empty = piece[places].isna().all(axis=1).to_numpy()
    is_long = piece[width].notna().to_numpy() & ~is_empty
    bad: dict[str, NDArray[np.bool_]] = {
        "the row is empty": is_empty,
        f"the row has more than {width} cells": is_long,
    }
    columns: dict[str, NDArray] = {}
    for one in taken:
        column = piece[one.place - 1]
        if one.channel in WORDS:
            columns[one.channel] = _read_names(column, one.channel)
            continue
        values, wrong = (
            _read_times(column, layout) if one.channel == TIME else _read_figures(column, layout, one.channel)
        )
        columns[one.channel] = values
        if (wrong & ~is_empty & ~is_long).any():
            cell = str(column[wrong & ~is_empty & ~is_long].iloc[0])[:_SHOWN_CELL]
            bad[f'{one.channel} is no number: "{printable(cell)}"'] = wrong
        if one.channel != TIME:
            kind = CHANNELS[one.channel]
            figures = convert(one.channel, values, one.unit)
            with np.errstate(invalid="ignore"):
                beyond = (figures < kind.low) | (figures > kind.high)
            bad[f"{one.channel} is beyond what a vehicle can show"] = beyond
    bad[f"{TIME} is missing"] = ~np.isfinite(columns[TIME])
    keep = np.ones(len(piece), bool)
    for why, flags in bad.items():
        refused += group_rows(rows, flags & keep, why)
        keep &= ~flags
    return keep, columns


def _read_figures(column: "pandas.Series[Any]", layout: LogLayout, channel: str) -> tuple[Floats, NDArray[np.bool_]]:
    """Read numbers; give them with a mark where a cell holds something else."""
    import pandas as pd

    if column.dtype.kind in "fiub":
        return column.to_numpy(np.float64), np.zeros(len(column), bool)
    text = column.astype(str).str.strip()
    if channel == LOCKUP:
        text = text.str.lower().map(lambda word: str(_SWITCH.get(word, word)))
    if layout.decimal == "," or layout.grouped:
        text = text.str.replace(",", "." if layout.decimal == "," else "", regex=False)
    values = np.array(pd.to_numeric(text, errors="coerce"), dtype=np.float64)
    filled = column.notna().to_numpy() & (text != "").to_numpy()
    values[~np.isfinite(values)] = np.nan
    return values, filled & ~np.isfinite(values)


def _read_times(column: "pandas.Series[Any]", layout: LogLayout) -> tuple[Floats, NDArray[np.bool_]]:
    """Read times: numbers, a clock (1:02:03.5, 02:03.5), or a date with a clock."""
    import pandas as pd

    values, wrong = _read_figures(column, layout, TIME)
    if not wrong.any() or wrong.mean() < 0.5:
        return values, wrong
    text = column.astype(str).str.strip().str.replace(",", ".", regex=False)
    first = text[wrong].iloc[0]
    is_clock = _CLOCK_ONLY.fullmatch(first) is not None
    if is_clock and first[-1].isdigit():
        clocks = text if first.count(":") == 2 else "0:" + text
        found = pd.to_timedelta(clocks, errors="coerce").dt.total_seconds().to_numpy(np.float64, copy=True)
    else:
        form = "%I:%M:%S.%f %p" if is_clock and "." in first else "ISO8601" if first[:4].isdigit() else None
        is_day_first = _DAY_FIRST.match(first) is not None
        moments = pd.to_datetime(text, errors="coerce", utc=True, format=form, dayfirst=is_day_first)
        found = (moments - pd.Timestamp(0, tz="UTC")).dt.total_seconds().to_numpy(np.float64, copy=True)
    return found, column.notna().to_numpy() & ~np.isfinite(found)


def _pass_midnight(times: Floats, layout: LogLayout, taken: Sequence[TakenColumn]) -> Floats:
    """Let a clock that begins anew at midnight go on."""
    place = next(one.place for one in taken if one.channel == TIME) - 1
    if not any(":" in row[place] for row in layout.samples[:FEWEST_ROWS]):
        return times
    midnights = np.concatenate(([False], np.diff(times) < -_DAY_SECONDS / 2))
    return times + _DAY_SECONDS * np.cumsum(midnights)


def _read_names(column: "pandas.Series[Any]", channel: str) -> NDArray:
    """Read names of gears or of ranges, each once."""
    import pandas as pd

    codes, names = pd.factorize(column)
    tidy = [tidy_range(str(name)) if channel == LEVER else tidy_gear(str(name)) for name in names]
    return np.array([*tidy, ""], dtype="U4")[codes]


def tidy_gear(text: str) -> str:
    """Give the name of a gear as it stands on sheets: 1 to n, R, N or P; "" for what is none.

    Example:
        >>> [tidy_gear(text) for text in ("3.0", "D4", "-1", "0", "rev", "gear 2", "?")]
        ['3', '4', 'R', 'N', 'R', '2', '']
    """
    word = text.strip().upper().removeprefix("GEAR").strip(" _")
    number = _float(word)
    if number is not None:
        is_gear = math.isfinite(number) and number == int(number) and abs(number) <= MOST_GEARS
        return "" if not is_gear else str(int(number)) if number > 0 else "N" if number == 0 else "R"
    if word in ("R", "N", "P") or word[:3] in ("REV", "NEU", "PAR"):
        return word[:1]
    digits = word.lstrip("DMS").strip("STNRHD. ")
    return digits if digits.isdigit() and 0 < int(digits) <= MOST_GEARS else ""


def tidy_range(text: str) -> str:
    """Give the range of the lever: P, R, N or D; "" for what is none.

    Example:
        >>> [tidy_range(text) for text in ("Drive", "R", "D3", "4", "s", "?")]
        ['D', 'R', 'D', '', 'D', '']
    """
    letter = text.strip().upper()[:1]
    return letter if letter in ("P", "R", "N", "D") else "D" if letter in ("S", "M", "L") else ""


def _read_mdf(path: Path, phrases: Phrases, said: Sequence[str]) -> Recording:
    """Read an MDF4 file through asammdf: the channels that are wanted, on one raster, the last value holding."""
    from importlib import util

    if util.find_spec("asammdf") is None:
        raise LogProblem(
            "This is an MDF file; reading it needs asammdf. Install it: python -m pip install asammdf, or export CSV."
        )
    from asammdf import MDF
    from asammdf.blocks.utils import MdfException

    logging.getLogger("asammdf").setLevel(logging.CRITICAL + 1)
    hook, wrong = sys.unraisablehook, ""
    sys.unraisablehook = lambda _: None  # the library speaks of files that it cannot even close
    try:
        with warnings.catch_warnings(), contextlib.redirect_stdout(io.StringIO()):
            warnings.simplefilter("ignore")
            with MDF(str(path)) as mdf:
                return _take_mdf(mdf, phrases, said)
    except (MdfException, *_BROKEN_MDF) as error:
        wrong = printable(str(error)).strip(".") or type(error).__name__
    finally:
        gc.collect()
        sys.unraisablehook = hook
    raise LogProblem(f"This MDF file is damaged or cut short: {wrong}. Export the recording again, or as CSV.")


def _take_mdf(mdf: Any, phrases: Phrases, said: Sequence[str]) -> Recording:
    """Take the channels of an opened MDF file that are known for what they are."""
    names = [name for name, places in mdf.channels_db.items() if places and name.lower() not in ("time", "t")]
    signals = [mdf.get(name, *mdf.channels_db[name][0]) for name in names]
    sampled = [_sample_signal(signal) for signal in signals]
    rising = Sampled(TIME, "s", np.arange(3.0), is_words=False, rises=True)
    taken = guess_columns([rising, *sampled], phrases, read_map(said, [TIME, *names]))
    _require_columns(taken, names)
    chosen = {one.channel: signals[one.place - 2] for one in taken if one.channel != TIME}
    fastest = max(chosen.values(), key=lambda signal: len(signal.timestamps))
    times = np.asarray(fastest.timestamps, np.float64)
    _refuse_many(len(times))
    columns: dict[str, NDArray] = {TIME: times}
    for one in taken:
        if one.channel != TIME:
            columns[one.channel] = _hold_signal(chosen[one.channel], times, one)
    left = tuple(name for name in names if name not in {one.header for one in taken})
    rows = np.arange(1, len(times) + 1, dtype=np.int64)
    return Recording(columns, rows, rows_read=len(times), taken=taken, left=left)


def _sample_signal(signal: Any) -> Sampled:
    values = np.asarray(signal.samples)
    is_words = values.dtype.kind not in "fiub" or values.ndim != 1
    figures = np.zeros(0) if is_words else values.astype(np.float64)
    return Sampled(
        str(signal.name), tidy_unit(str(signal.unit or "")) or tidy_unit(str(signal.name)), figures, is_words=is_words
    )


def _hold_signal(signal: Any, times: Floats, taken: TakenColumn) -> NDArray:
    """Give the value that a signal had last at each time; before its first there is none."""
    places = np.searchsorted(np.asarray(signal.timestamps, np.float64), times, side="right") - 1
    before = places < 0
    values = np.asarray(signal.samples)
    if taken.channel in WORDS:
        tidy: Callable[[str], str] = tidy_range if taken.channel == LEVER else tidy_gear
        unique, codes = np.unique(values, return_inverse=True)
        words = [
            tidy(item.decode("utf-8", "replace") if isinstance(item, bytes) else str(item)) for item in unique.tolist()
        ]
        held = np.array([*words, ""], dtype="U4")[codes][np.maximum(places, 0)]
        held[before] = ""
        return held
    figures = convert(taken.channel, values.astype(np.float64), taken.unit)[np.maximum(places, 0)]
    figures[before] = np.nan
    return figures
