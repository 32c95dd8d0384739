"""The rows of a fleet: read one after the other from JSON Lines or Parquet, and cut into chunks.

A row that cannot be a case stays a row: it carries what is wrong with it, and the others go on. No more is held at a time
than one chunk.
"""

import hashlib
import json
import math
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any, BinaryIO

from shiftlore.basics import Mark, Problem, ShiftloreError
from shiftlore.reading import CASE_BYTES

JSON_LINES, PARQUET = ".jsonl", ".parquet"
ENDINGS = (JSON_LINES, PARQUET)
CHUNK_ROWS = 500
CHUNK_BYTES = 8 << 20
"""A chunk ends here even where its rows are few."""
ROWS_AT_A_TIME = 1000
SHOWN_BYTES = 200
"""Of a row that is too long so much is kept, to find it by."""
LETTER = "C"
WRITTEN_OUT = ("background", "findings", "measured", "onset", "outcome", "complaint", "done", "either", "asked", "said")
"""Keys of a case that hold more than one value: in Parquet they may be JSON text too."""
NEEDED = "Reading and writing Parquet needs pyarrow. Install it: python -m pip install pyarrow; or give a .jsonl file."


@dataclass(frozen=True, slots=True)
class FleetRow:
    """One row as it came.

    Args:
        number: of the line, or of the row of a table, from 1.
        text: one JSON object; of a row that is too long only its beginning.
        problem: why it cannot be a case, where that is seen before it is read.
    """

    number: int
    text: bytes
    problem: Problem | None = None


@dataclass(frozen=True, slots=True)
class Chunk:
    """Some rows, one after the other.

    Args:
        number: of the chunk, from 0.
        mark: a hash of all that is in them, and of where they stand.
    """

    number: int
    rows: tuple[FleetRow, ...]
    mark: str


def read_json_lines(
    stream: BinaryIO, name: str, tell_read: Callable[[int], None] = lambda count: None
) -> Iterator[FleetRow]:
    """Give the rows of JSON Lines; empty lines are none.

    Args:
        name: what problems call it.
        tell_read: called with the bytes read so far, after each line.
    """
    number = read = 0
    while line := stream.readline(CASE_BYTES + 2):
        number += 1
        read += len(line)
        problem = None
        if len(line) > CASE_BYTES and not line.endswith(b"\n"):
            read += _skip_line(stream)
            what, advice = f"The row is larger than {CASE_BYTES // 1024} KiB", "Leave out what is no part of a case."
            line, problem = line[:SHOWN_BYTES], Problem(Mark(name, number, 1), LETTER + "002", what, advice)
        if number == 1:
            line = line.removeprefix(b"\xef\xbb\xbf")
        tell_read(read)
        if text := line.strip():
            yield FleetRow(number, text, problem)


def _skip_line(stream: BinaryIO) -> int:
    """Read on to the end of a line, a piece at a time."""
    skipped = 0
    while piece := stream.readline(CASE_BYTES):
        skipped += len(piece)
        if piece.endswith(b"\n"):
            break
    return skipped


def import_pyarrow() -> Any:
    """Give the library that reads and writes tables.

    Raises: ShiftloreError: it is missing; says what to install.
    """
    try:
        import pyarrow.parquet
    except ImportError as error:
        raise ShiftloreError(NEEDED) from error
    return pyarrow


def read_parquet(path: Path, tell_read: Callable[[float], None] = lambda share: None) -> Iterator[FleetRow]:
    """Give the rows of a Parquet table whose columns are keys of a case.

    Structs, maps and lists are taken as they are, and so is JSON text in a column that holds more than one value; null and
    not-a-number count as not given.
    Args:
        tell_read: called with the share of the rows read so far, 0 to 1.
    Raises: ShiftloreError: it is no Parquet file, or pyarrow is missing.
    """
    pyarrow = import_pyarrow()
    number = 0
    try:
        with pyarrow.parquet.ParquetFile(path) as table:
            count = max(table.metadata.num_rows, 1)
            for batch in table.iter_batches(ROWS_AT_A_TIME):
                for values in batch.to_pylist():
                    number += 1
                    yield _take_values(values, number, path.name)
                tell_read(number / count)
    except (pyarrow.ArrowException, ValueError, OSError) as error:
        said = str(error).splitlines()[0] if str(error) else "it cannot be read"
        after = f" after row {number}" if number else ""
        advice = f"Write it anew as Parquet, or give JSON Lines in a file that ends in {JSON_LINES}."
        raise ShiftloreError(f"{path} is no whole Parquet file{after}: {said.rstrip('.')}. {advice}") from error


class _Unfit(Exception):
    """A value that no case can hold."""


def _take_values(values: Mapping[str, Any], number: int, name: str) -> FleetRow:
    """Write the values of one row of a table as JSON."""
    plain: dict[str, Any] = {}
    mark = Mark(name, number, 1)
    for key, value in values.items():
        try:
            if isinstance(value, str) and key in WRITTEN_OUT:
                value = _read_text(value)
            taken = _plain(value)
        except _Unfit as unfit:
            problem = Problem(
                mark, LETTER + "013", f"The column {key} holds {unfit}", "Write text, numbers or yes and no."
            )
            return FleetRow(number, _shown({key: str(value)[:SHOWN_BYTES]}), problem)
        if taken is not None:
            plain[key] = taken
    text = _shown(plain)
    if len(text) > CASE_BYTES:
        what, advice = f"The row is larger than {CASE_BYTES // 1024} KiB", "Leave out what is no part of a case."
        return FleetRow(number, text[:SHOWN_BYTES], Problem(mark, LETTER + "002", what, advice))
    return FleetRow(number, text)


def _shown(plain: Mapping[str, Any]) -> bytes:
    return json.dumps(plain, ensure_ascii=False).encode("utf-8", "surrogatepass")


def _read_text(text: str) -> Any:
    """Give what a text of JSON says; any other text is itself, and judged as such."""
    if text.lstrip()[:1] in ("{", "["):
        with suppress(ValueError, RecursionError):
            return json.loads(text)
    return text


def _plain(value: Any) -> Any:
    """Give a value as JSON has it; None where nothing is given."""
    if value is None or isinstance(value, (bool, int, str)):
        return value
    if isinstance(value, float):
        if math.isnan(value):
            return None
        return int(value) if value.is_integer() and abs(value) < 1e15 else value
    if isinstance(value, Mapping):
        return _plain_pairs(value.items())
    if isinstance(value, list):
        if value and all(isinstance(one, tuple) and len(one) == 2 for one in value):
            return _plain_pairs(value)  # a map comes as a list of pairs
        return [taken for one in value if (taken := _plain(one)) is not None]
    raise _Unfit(f"a {type(value).__name__}, which no case can hold")


def _plain_pairs(pairs: Iterable[tuple[Any, Any]]) -> dict[str, Any]:
    return {str(key): taken for key, one in pairs if (taken := _plain(one)) is not None}


def cut_chunks(rows: Iterable[FleetRow], size: int = CHUNK_ROWS) -> Iterator[Chunk]:
    """Cut rows into chunks of so many, fewer where they are long."""
    held: list[FleetRow] = []
    number = length = 0
    for row in rows:
        held.append(row)
        length += len(row.text)
        if len(held) >= size or length >= CHUNK_BYTES:
            yield _close_chunk(number, held)
            number, held, length = number + 1, [], 0
    if held:
        yield _close_chunk(number, held)


def _close_chunk(number: int, rows: list[FleetRow]) -> Chunk:
    digest = hashlib.blake2b(digest_size=12)
    for row in rows:
        digest.update(f"{row.number} {len(row.text)} {row.problem is None}\n".encode())
        digest.update(row.text)
    return Chunk(number, tuple(rows), digest.hexdigest())
