"""A whole fleet: rows in, chunks spread over workers, parts on disk, and one file out of them at the end."""

import contextlib
import gc
import hashlib
import os
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO

from shiftlore.basics import ShiftloreError, UsageProblem
from shiftlore.basics.holding import hold_file
from shiftlore.basics.whole_files import new_file_mode, try_place, write_whole
from shiftlore.fleet.judging import ChunkTask, JudgedChunk, judge_chunk
from shiftlore.fleet.parts import REFUSED_ENDING, PartKey, Parts, mark_knowledge, write_table
from shiftlore.fleet.rows import (
    CHUNK_ROWS,
    ENDINGS,
    JSON_LINES,
    PARQUET,
    FleetRow,
    cut_chunks,
    read_json_lines,
    read_parquet,
)
from shiftlore.fleet.spreading import count_cores, open_workers
from shiftlore.knowledge import Knowledge

COUNT = 10
"""Causes that are written for each row."""
STDIN_NAME = "<standard input>"


@dataclass(frozen=True, slots=True)
class Progress:
    """How far it is.

    Args:
        share: of the input that is read, 0 to 1; None where that cannot be told.
        rows: that are finished.
    """

    share: float | None
    rows: int


@dataclass(frozen=True, slots=True)
class FleetRun:
    """What came of a fleet.

    Args:
        target: the file with the results.
        refused_path: the file with the refused rows; None where there are none.
        n_results, n_refused: rows in each.
        n_kept: rows that were finished by an earlier run already.
    """

    target: Path
    refused_path: Path | None
    n_results: int
    n_refused: int
    n_kept: int = 0


def refused_beside(target: Path) -> Path:
    """Name the file that takes the refused rows of an output."""
    return target.with_name(target.name + REFUSED_ENDING)


def run_fleet(
    knowledge: Knowledge,
    source: Path | BinaryIO,
    target: Path,
    *,
    jobs: int | None = 1,
    scheduler: str = "",
    count: int = COUNT,
    chunk_rows: int = CHUNK_ROWS,
    force: bool = False,
    tell: Callable[[Progress], None] = lambda progress: None,
) -> FleetRun:
    """Judge every row of a file, and write the results beside each other, in the order of the rows.

    Args:
        source: a file of JSON Lines or Parquet, by its ending; or a stream of JSON Lines.
        target: the same two forms.
        jobs: processes of this machine, None for one a processor; scheduler: address of a Dask scheduler, instead of these.
        count: causes that are written for each row.
        chunk_rows: rows that are worked on in one go.
        force: whether files that are there may be overwritten.
        tell: called after each chunk.
    Raises: UsageProblem: a place that will not do. ShiftloreError: the input cannot be read, or the output not be written;
        what is finished is kept, and the same call goes on from it.
    """
    gc.enable()  # a long run would keep what a short one can afford to
    _check_places(source, target, force)
    real = Path(os.path.realpath(target))
    is_own = not gc.get_freeze_count()  # what somebody else has frozen is left as it is
    if is_own:
        gc.freeze()  # the rules stay, and need not be looked through for what is dropped
    try:
        advice = "Wait for it, or give another file."
        with hold_file(real, lambda by: UsageProblem(f"{target} is being written already, by {by}. {advice}")):
            work = _FleetWork(knowledge, source, real, tell, count=count, chunk_rows=chunk_rows, force=force)
            return work.work(jobs or count_cores(), scheduler)
    except OSError as error:
        advice = "Make room there or choose another place; what is finished is kept."
        raise ShiftloreError(f"{target} cannot be written: {error.strerror or error}. {advice}") from error
    finally:
        if is_own:
            gc.unfreeze()


def _check_places(source: Path | BinaryIO, target: Path, force: bool) -> None:
    """Refuse before anything is worked out what cannot be read or written.

    Raises: UsageProblem: says what to give instead.
    """
    for path in (source, target):
        if isinstance(path, Path) and path.suffix.lower() not in ENDINGS:
            raise UsageProblem(f"{path} will not do. Give a file name that ends in {' or '.join(ENDINGS)}.")
    if isinstance(source, Path) and not source.is_file():
        raise UsageProblem(f"There is no file {source}. Give the file of the cases, or - for standard input.")
    if isinstance(source, Path) and target.exists() and os.path.samefile(source, target):
        raise UsageProblem(f"{target} is the input itself. Give another file for the results.")
    if not target.parent.is_dir():
        raise UsageProblem(f"There is no folder {target.parent}. Make it first, or give another file.")
    for path in (target, refused_beside(target)):
        try:
            try_place(path)
        except OSError as error:
            raise UsageProblem(f"{path} cannot be written: {error.strerror or error}. Choose another place.") from error
        if path.exists() and not force:
            raise UsageProblem(f"{path} exists already. Choose another name, or add --force.")


class _FleetWork:
    """One run over one input."""

    def __init__(
        self,
        knowledge: Knowledge,
        source: Path | BinaryIO,
        target: Path,
        tell: Callable[[Progress], None],
        *,
        count: int,
        chunk_rows: int,
        force: bool,
    ):
        self.knowledge, self.source, self.target, self.tell = knowledge, source, target, tell
        self.count, self.chunk_rows, self.force = count, chunk_rows, force
        self.name = source.name if isinstance(source, Path) else STDIN_NAME
        self.folder = str(source.resolve().parent) if isinstance(source, Path) else ""
        said = f"{mark_knowledge(knowledge)} {self.count} {self.folder}"
        self.parts = Parts(target, hashlib.blake2b(said.encode(), digest_size=20).hexdigest())
        self.share: float | None = None
        self.keys: list[PartKey] = []
        self.n_done = self.n_kept = 0

    def work(self, jobs: int, scheduler: str) -> FleetRun:
        """Judge what is not judged yet, and join everything."""
        self.parts.open()
        with open_workers(self.knowledge, jobs, scheduler) as spread:
            waiting: dict[int, PartKey] = {}
            for place, judged in spread(judge_chunk, self._list_tasks(waiting)):
                self.parts.save(waiting.pop(place), judged)
                self._tell_done(judged)
        return self._join()

    def _list_tasks(self, waiting: dict[int, PartKey]) -> Iterator[ChunkTask]:
        """Give the chunks that are not finished, and note which part each becomes."""
        number = 0
        for chunk in cut_chunks(self._read(), self.chunk_rows):
            key = self.parts.key_of(chunk)
            self.keys.append(key)
            if self.parts.has(key):
                self.n_kept += len(chunk.rows)
                self._tell_done(None, len(chunk.rows))
                continue
            waiting[number] = key
            number += 1
            yield ChunkTask(chunk, self.name, self.folder, self.count)

    def _tell_done(self, judged: JudgedChunk | None, kept: int = 0) -> None:
        self.n_done += kept + (judged.n_results + judged.n_refused if judged else 0)
        self.tell(Progress(self.share, self.n_done))

    def _read(self) -> Iterator[FleetRow]:
        if not isinstance(self.source, Path):
            yield from read_json_lines(self.source, self.name)
        elif self.source.suffix.lower() == PARQUET:
            yield from read_parquet(self.source, self._note_share)
        else:
            size = max(self.source.stat().st_size, 1)
            with self._open() as stream:
                yield from read_json_lines(stream, self.name, lambda read: self._note_share(read / size))

    def _open(self) -> BinaryIO:
        assert isinstance(self.source, Path), "a stream is open already"
        try:
            return self.source.open("rb")
        except OSError as error:
            advice = "Give a file that can be read."
            raise ShiftloreError(f"{self.source} cannot be read: {error.strerror or error}. {advice}") from error

    def _note_share(self, share: float) -> None:
        self.share = min(share, 1.0)

    def _join(self) -> FleetRun:
        """Join the parts: the refused rows first, so that the results stand there only when all is done."""
        counts = [(part.n_results, part.n_refused) for part in map(self.parts.load, self.keys)]
        n_results, n_refused = (sum(column) for column in zip(*counts, strict=True)) if counts else (0, 0)
        refused_path = refused_beside(self.target)
        if n_refused:
            self._write(refused_path, (self.parts.load(key).refused for key in self.keys))
        elif self.force:
            refused_path.unlink(missing_ok=True)
        results = (self.parts.load(key).results for key in self.keys)
        if self.target.suffix.lower() == JSON_LINES:
            self._write(self.target, results)
        else:
            with contextlib.closing(write_table(results, self.target.parent)) as pieces:
                self._write(self.target, pieces)
        self.parts.close()
        return FleetRun(self.target, refused_path if n_refused else None, n_results, n_refused, self.n_kept)

    def _write(self, path: Path, pieces: Iterator[bytes]) -> None:
        try:
            write_whole(path, pieces, new_file_mode(), replace=self.force)
        except FileExistsError:
            advice = f"Give another name, or add --force; what is finished is kept in {self.parts.folder.name}."
            raise UsageProblem(f"{path} has appeared meanwhile. {advice}") from None
