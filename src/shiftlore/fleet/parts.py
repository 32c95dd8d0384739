"""What a fleet leaves on disk: finished chunks, written one by one beside the output, and the table that they may become.

A part's name says which chunk it is and holds a hash of all that it depends on: its rows, the rules, the version and what
was asked for. So a run that was stopped goes on from the parts that fit, and takes none that does not.
"""

import hashlib
import json
import shutil
from collections.abc import Generator, Iterable
from pathlib import Path
from tempfile import TemporaryFile
from typing import Any

from shiftlore.basics.whole_files import new_file_mode, read_bounded, write_whole
from shiftlore.compiling.lessons import SHIPPED_PATH, choose_lessons
from shiftlore.fleet.judging import JudgedChunk
from shiftlore.fleet.rows import Chunk, import_pyarrow
from shiftlore.knowledge import Knowledge
from shiftlore.knowledge.rulebook import OVERLAY, READ_FROM, encode_knowledge
from shiftlore.version import __version__

ENDING = ".parts"
REFUSED_ENDING = ".refused.jsonl"
MOST_BYTES = 1 << 30
"""Of one part; far beyond what a chunk can become."""
PartKey = tuple[int, str]
"""The number of a chunk, and a hash of all that its part depends on."""


def mark_knowledge(knowledge: Knowledge) -> str:
    """Give a hash of the rules, of what is laid over them, and of what published repairs have taught."""
    digest = hashlib.blake2b(__version__.encode(), digest_size=20)
    overlay, _ = knowledge.worked_out.get(OVERLAY, (None, None))
    read_from = knowledge.worked_out.get(READ_FROM)
    rules = read_from.encode() if read_from else encode_knowledge(knowledge, sort_keys=True)
    for part in (rules, repr(overlay).encode()):
        digest.update(part)
    digest.update(SHIPPED_PATH.read_bytes() if choose_lessons(knowledge) else b"")
    return digest.hexdigest()


class Parts:
    """The folder of the parts of one output.

    Args:
        mark: a hash of what every part depends on beside its rows.
    """

    def __init__(self, target: Path, mark: str):
        self.folder, self.mark = target.with_name(target.name + ENDING), mark

    def open(self) -> None:
        """Make the folder, if it is not there.

        Raises: OSError: it cannot be made.
        """
        self.folder.mkdir(exist_ok=True)

    def has(self, key: PartKey) -> bool:
        """Tell whether a chunk is finished; a part that somebody has damaged is none."""
        try:
            self.load(key)
        except (OSError, ValueError, KeyError, TypeError):
            return False
        return True

    def save(self, key: PartKey, judged: JudgedChunk) -> None:
        """Write a chunk's lines, whole or not at all.

        Raises: OSError: it cannot be written.
        """
        counts = {"results": judged.n_results, "refused": judged.n_refused, "bytes": len(judged.results)}
        content = json.dumps(counts).encode() + b"\n" + judged.results + judged.refused
        write_whole(self._path(key), content, new_file_mode())

    def load(self, key: PartKey) -> JudgedChunk:
        """Read a chunk's lines back.

        Raises: OSError, ValueError, KeyError, TypeError: it is not there, or somebody has damaged it.
        """
        head, _, body = read_bounded(self._path(key), MOST_BYTES).partition(b"\n")
        counts = json.loads(head)
        cut = counts["bytes"]
        judged = JudgedChunk(body[:cut], body[cut:], counts["results"], counts["refused"])
        if judged.results.count(b"\n") != judged.n_results or judged.refused.count(b"\n") != judged.n_refused:
            raise ValueError("it is not whole")
        return judged

    def key_of(self, chunk: Chunk) -> PartKey:
        """Give what a chunk's part is found by, without its rows."""
        return chunk.number, hashlib.blake2b(f"{self.mark}{chunk.mark}".encode(), digest_size=12).hexdigest()

    def close(self) -> None:
        """Take all parts away."""
        shutil.rmtree(self.folder, ignore_errors=True)

    def _path(self, key: PartKey) -> Path:
        return self.folder / f"{key[0]:08d}-{key[1]}.part.jsonl"


PIECE_BYTES = 1 << 20


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
    pyarrow = import_pyarrow()
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
