"""How a log is written: its letters, what parts the columns, where the header stands, points or commas in numbers."""

import csv
import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO

from shiftlore.tracing.column_guess import tidy_unit
from shiftlore.tracing.recordings import LogProblem

MOST_BYTES = 400 * 1024 * 1024
"""A larger log is refused: an hour at 50 rows a second has 15 MB (judgement)."""
_HEAD, _SPOTS, _SPOT_BYTES = 1 << 16, 60, 2048
_SEPARATORS = "\t;|,"
_NUMBER = re.compile(r"\s*[-+]?(\d+([.,]\d*)?|[.,]\d+)([eE][-+]?\d+)?\s*")
_COMMA, _POINT = re.compile(r"[-+]?\d*,\d+"), re.compile(r"[-+]?\d*\.\d+")
_GROUPED = re.compile(r"[-+]?[1-9]\d{0,2}(,\d{3})+(\.\d*)?")
_CLOCK = re.compile(r"\d{1,4}[-/.:]\d{1,2}[-/.:T ]?\d.*")
_BOMS = ((b"\xef\xbb\xbf", "utf-8-sig"), (b"\xff\xfe", "utf-16"), (b"\xfe\xff", "utf-16"))
MDF_BEGINS = (b"MDF     ", b"UnFinMF ")
_KINDS = (
    (b"PK\x03\x04", "a spreadsheet or packed file"),
    (b"\x1f\x8b", "a packed file"),
    (b"PAR1", "a Parquet file"),
    (b"%PDF", "a PDF"),
)
_BINARY = "This file is binary, no log as text. Export the recording as CSV or MDF."
_MOST_UNIT_LINES, _MOST_COLUMNS, _ROWS_ENOUGH = 3, 4000, 300
_CONTROLS = bytes(byte for byte in range(32) if byte < 9 or byte > 13)


@dataclass(frozen=True, slots=True)
class LogLayout:
    """How a log is written.

    Args:
        encoding: as Python names it.
        separator: what parts the columns; decimal: `.` or `,`.
        headers: one for each column; units: what stands below them, or "".
        skipped: lines before the first row of figures.
        quoted: whether most rows have cells in quotes; else a quote is a letter like others.
        samples: rows from all over the file, as text.
        grouped: whether commas part thousands, as in 2,450.5; every cell with a comma must be written so.
    """

    encoding: str
    separator: str
    decimal: str
    headers: tuple[str, ...]
    units: tuple[str, ...]
    skipped: int
    quoted: bool
    samples: tuple[tuple[str, ...], ...]
    has_header: bool = True
    grouped: bool = False


def find_layout(path: Path) -> LogLayout:
    """Find out how a text log is written.

    Raises: LogProblem: it is too large, no text, or has no columns; says what to do.
    """
    size = path.stat().st_size
    if size > MOST_BYTES:
        raise LogProblem(
            f"This log has {size / 1e6:,.0f} MB; at most {MOST_BYTES / 1e6:,.0f} MB are read. Cut out the drive that counts, "
            "or record fewer columns."
        )
    with path.open("rb") as stream:
        head = stream.read(_HEAD)
        if not head.strip(b"\x00 \t\r\n\xef\xbb\xbf\xff\xfe"):
            raise LogProblem("This log is empty. Record the drive again, or give another file.")
        encoding = _find_encoding(head)
        chunks = [head] if len(head) < _HEAD or encoding == "utf-16" else [head, *_read_spots(stream, size)]
    lines = _whole_lines(chunks[0], encoding, is_all=len(head) < _HEAD)
    spots = [line for chunk in chunks[1:] for line in _whole_lines(chunk, encoding, is_all=False)[1:]]
    return _lay_out(lines, spots, encoding)


def _find_encoding(head: bytes) -> str:
    """Say in which letters a file is written; one that is no text is refused."""
    for begin, kind in _KINDS:
        if head.startswith(begin):
            raise LogProblem(f"This is {kind}, no log as text. Export the recording as CSV or MDF.")
    for bom, name in _BOMS:
        if head.startswith(bom):
            return name
    zeros = head.count(b"\x00")
    if zeros > len(head) // 3:
        even = head[::2].count(b"\x00")
        if max(even, zeros - even) > 0.9 * zeros:
            return "utf-16-be" if 2 * even > zeros else "utf-16-le"
        raise LogProblem(_BINARY)
    text = head.replace(b"\x00", b"")  # a recorder that lost power leaves NUL bytes behind its last row
    if len(text) - len(text.translate(None, _CONTROLS)) > len(text) // 50:
        raise LogProblem(_BINARY)
    try:
        head[: -4 if len(head) == _HEAD else None].decode("utf-8")
    except UnicodeDecodeError:
        return "cp1252"
    return "utf-8"


def _read_spots(stream: BinaryIO, size: int) -> list[bytes]:
    """Read short pieces from all over a file."""
    pieces = []
    for spot in range(1, _SPOTS + 1):
        stream.seek(int(_HEAD + (size - _HEAD) * spot / (_SPOTS + 1)))
        pieces.append(stream.read(_SPOT_BYTES))
    return pieces


def _whole_lines(chunk: bytes, encoding: str, *, is_all: bool) -> list[str]:
    """Give the lines of a piece of a file; the last one only where it is whole."""
    lines = chunk.decode(encoding, "replace").replace("\r\n", "\n").replace("\r", "\n").split("\n")
    return lines if is_all else lines[:-1]


def is_number(text: str) -> bool:
    """Tell whether a cell is a number, with a point or a comma."""
    return _NUMBER.fullmatch(text) is not None


def _is_figure(text: str) -> bool:
    return is_number(text) or _CLOCK.fullmatch(text.strip()) is not None


def _split(lines: Sequence[str], separator: str) -> list[list[str]]:
    return [next(csv.reader([line], delimiter=separator), []) if line.strip() else [] for line in lines]


def _lay_out(lines: list[str], spots: list[str], encoding: str) -> LogLayout:
    longest = max(map(len, lines), default=0)
    if longest > _HEAD // 2 and len(lines) < 3:
        raise LogProblem("This file has no lines as a log has. Export the recording as CSV or MDF.")
    tail = [line for line in lines[len(lines) // 2 if len(lines) > 20 else 0 :] if line.strip()][-200:]
    separator, width = _find_separator(tail)
    if width < 2:
        raise LogProblem("This log has no columns: part them by commas, semicolons or tabs, with a header above.")
    if width > _MOST_COLUMNS:
        raise LogProblem(f"This log has {width:,} columns; at most {_MOST_COLUMNS:,} are read. Record fewer columns.")
    rows = _split(lines, separator)
    first = next((n for n, row in enumerate(rows) if len(row) >= width - 1 and _is_row(row)), None)
    if first is None:
        raise LogProblem("This log has a header and no rows of figures. Record the drive again, or give another file.")
    above = _find_headers(rows, first, width)
    header = above[0] if above else -1
    headers = [cell.strip() for cell in rows[header]] if above else []
    width = max(width, len(headers))
    while (
        headers
        and not headers[-1]
        and len(headers) > 1
        and all(not "".join(row[len(headers) - 1 :]).strip() for row in rows[first:])
    ):
        headers.pop()
    width = len(headers) or width
    headers += [f"#{n + 1}" for n in range(len(headers), width)]
    below = [" ".join(rows[n][place].strip() for n in above[1:] if place < len(rows[n])) for place in range(width)]
    units = tuple(tidy_unit(text) or tidy_unit(name) for text, name in zip(below, headers, strict=True))
    samples = [row for row in (*rows[first:], *_split(spots, separator)) if row]
    cells = [cell.strip() for row in samples[:: len(samples) // _ROWS_ENOUGH + 1] for cell in row]
    commas, points = (sum(form.fullmatch(cell) is not None for cell in cells) for form in (_COMMA, _POINT))
    with_comma = [cell for cell in cells if "," in cell and _is_figure(cell.replace(",", ""))]
    is_grouped = bool(with_comma) and all(map(_GROUPED.fullmatch, with_comma))
    is_quoted = sum('"' in line for line in (*lines[first:], *spots)) > 0.5 * len(samples)
    named = tuple(name or f"#{n + 1}" for n, name in enumerate(headers))
    return LogLayout(
        encoding,
        separator,
        "," if commas > points and not is_grouped and (separator != "," or is_quoted) else ".",
        headers=named,
        units=units,
        skipped=first,
        quoted=is_quoted,
        samples=tuple(tuple(row[:width]) + ("",) * (width - len(row)) for row in samples),
        has_header=bool(above),
        grouped=is_grouped,
    )


def _find_headers(rows: Sequence[Sequence[str]], first: int, width: int) -> list[int]:
    """Find the lines right above the figures that have as many cells: the header, and below it perhaps units."""
    found: list[int] = []
    place = first - 1
    while place >= 0 and not rows[place]:
        place -= 1
    last = place
    while place >= 0 and len(rows[place]) == width and len(found) <= _MOST_UNIT_LINES:
        found.insert(0, place)
        place -= 1
    return found or [last] * (last >= 0 and abs(len(rows[last]) - width) == 1)


def _find_separator(lines: Sequence[str]) -> tuple[str, int]:
    """Find what parts the columns: what gives most lines the same number of cells, more than one."""
    best = (0.0, "", 0)
    for separator in _SEPARATORS:
        widths = Counter(len(row) for row in _split(lines, separator) if row)
        width, count = widths.most_common(1)[0] if widths else (0, 0)
        share = count / max(len(lines), 1)
        if width > 1 and share > max(best[0] + 0.2, 0.4):
            best = (share, separator, width)
    return best[1], best[2]


def _is_row(row: Sequence[str]) -> bool:
    """Tell whether a line holds figures: half of what is filled in at the least, and something is."""
    filled = [cell for cell in row if cell.strip()]
    return bool(filled) and 2 * sum(map(_is_figure, filled)) >= len(filled)
