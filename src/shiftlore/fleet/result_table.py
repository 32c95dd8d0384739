"""The results of a fleet as a Parquet table: the lines of JSON again, with the same names and numbers."""

import json
from collections.abc import Generator, Iterable
from pathlib import Path
from tempfile import TemporaryFile
from typing import Any

from shiftlore.basics import ShiftloreError
from shiftlore.fleet.rows import NEEDED

PIECE_BYTES = 1 << 20


def require_tables() -> None:
    """See whether tables can be read and written.

    Raises: ShiftloreError: says what to install.
    """
    try:
        import pyarrow.parquet  # noqa: F401
    except ImportError as error:
        raise ShiftloreError(NEEDED) from error


def _lay_out() -> Any:
    """Give the columns of the table."""
    import pyarrow

    text, number = pyarrow.string(), pyarrow.float64()

    def rows_of(**columns: Any) -> Any:
        return pyarrow.list_(pyarrow.struct(list(columns.items())))

    return pyarrow.schema(
        [
            ("row", pyarrow.int64()),
            ("id", text),
            ("unit", text),
            ("areas", rows_of(area=text, probability=number)),
            ("causes", rows_of(id=text, area=text, probability=number)),
            ("nothing_found", number),
            ("fit", pyarrow.struct([("log10_odds", number), ("left_out", number)])),
            ("problems", rows_of(code=text, severity=text, what=text, write_instead=text)),
            ("closed", text),
        ]
    )


def write_table(chunks: Iterable[bytes], folder: Path) -> Generator[bytes, None, None]:
    """Give the bytes of a Parquet file, a piece at a time; one group of rows for each chunk of lines.

    Args:
        folder: where the file grows that no name is given, for Parquet is written from its end.
    Raises: ShiftloreError: pyarrow is missing. OSError: it cannot be written.
    """
    require_tables()
    import pyarrow
    import pyarrow.parquet

    schema = _lay_out()
    with TemporaryFile(dir=folder) as stream:
        with pyarrow.parquet.ParquetWriter(stream, schema) as writer:
            for lines in chunks:
                rows = [json.loads(line) for line in lines.splitlines()]
                for row in rows:
                    if "id" in row:
                        row["id"] = str(row["id"])
                if rows:
                    writer.write_table(pyarrow.Table.from_pylist(rows, schema=schema))
        stream.seek(0)
        while piece := stream.read(PIECE_BYTES):
            yield piece
