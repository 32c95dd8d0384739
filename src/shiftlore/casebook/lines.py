"""A casebook as JSON Lines: one record a line, the same bytes for the same casebook, and every bad line told by its number."""

import json
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import MISSING, dataclass, fields
from typing import Any

from shiftlore.basics import nearest
from shiftlore.casebook.book_records import Entry, EntryProblem, Forgotten, PracticeRound, dump_plain
from shiftlore.casebook.store import KNOWN, LEFT_OUT, NEW, Casebook, Record

LINE_VERSION = 1
LONGEST_LINE = 4_000_000
LINES_AT_ONCE = 200
"""Lines that go in together: each costs a part of a disk's turn, and all are there or none."""
MOST_TOLD = 20
"""Bad lines that are told one by one."""
_VERSION, _KIND, _CASE = "shiftlore", "is", "case"
KINDS: Mapping[str, type[Record]] = {"case": Entry, "forgotten": Forgotten, "practice": PracticeRound}
"""What a line may hold, by the word that says so."""
_KIND_OF = {kind: name for name, kind in KINDS.items()}


@dataclass(frozen=True, slots=True)
class Imported:
    """What became of the lines of an import.

    Args:
        new, known: records that went in, and that were here already.
        left_out: cases that were forgotten here, and remains of forgotten cases that are still here.
        problems: number of a bad line -> what is wrong with it, and what to write instead; the first `MOST_TOLD`.
        bad: how many lines are bad.
    """

    new: int = 0
    known: int = 0
    left_out: int = 0
    problems: tuple[tuple[int, str], ...] = ()
    bad: int = 0


def plain_entry(entry: Entry) -> dict[str, Any]:
    """Give a closed case as plain values, its case as an object."""
    plain = {item.name: getattr(entry, item.name) for item in fields(entry)}
    return plain | {_CASE: json.loads(entry.case)}


def write_line(record: Record) -> str:
    """Write a record as a line, without its end."""
    plain = (
        plain_entry(record) if isinstance(record, Entry) else {i.name: getattr(record, i.name) for i in fields(record)}
    )
    return dump_plain({_VERSION: LINE_VERSION, _KIND: _KIND_OF[type(record)], **plain})


def export_lines(book: Casebook) -> Iterator[bytes]:
    """Give a casebook line by line, all of it as it was at one moment."""
    for record in book.each_record():
        yield write_line(record).encode("utf-8") + b"\n"


def read_line(line: bytes) -> Record:
    """Read a line.

    Raises: EntryProblem: what is wrong, and what to write instead.
    """
    if len(line) > LONGEST_LINE:
        raise EntryProblem(f"The line is too long. Write at most {LONGEST_LINE:,} bytes.")
    try:
        plain = json.loads(line.decode("utf-8"), object_pairs_hook=_refuse_twice)
    except UnicodeDecodeError as error:
        raise EntryProblem("The line is not UTF-8 text. Save the file as UTF-8.") from error
    except RecursionError as error:
        raise EntryProblem("The line is nested too deeply. Write it as `shiftlore casebook export` does.") from error
    except json.JSONDecodeError as error:
        raise EntryProblem(
            f"The line is no JSON ({error.msg}, column {error.colno}). Write one object a line."
        ) from error
    except ValueError as error:
        raise EntryProblem(f"The line cannot be read: {error}") from error
    if not isinstance(plain, dict):
        raise EntryProblem("The line is no JSON object. Write it in braces.")
    return _make_record(plain)


def _refuse_twice(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) < len(pairs):
        twice = next(name for i, (name, _) in enumerate(pairs) if name in dict(pairs[:i]))
        raise EntryProblem(f'"{twice[:40]}" stands twice. Keep one of the two.')
    return found


def _make_record(plain: dict[str, Any]) -> Record:
    version, kind = plain.pop(_VERSION, None), plain.pop(_KIND, None)
    if version is None or kind is None:
        raise EntryProblem(
            f'The line does not say what it is. Begin it with "{_VERSION}": {LINE_VERSION}, "{_KIND}": "case".'
        )
    if version != LINE_VERSION:
        raise EntryProblem(
            f"Format {str(version)[:20]} is not known here. Write {LINE_VERSION}, or use a newer program."
        )
    if not isinstance(kind, str) or kind not in KINDS:
        raise EntryProblem(f'There is no "{_KIND}": "{str(kind)[:40]}". Write one of: {", ".join(KINDS)}.')
    form = {item.name: item for item in fields(KINDS[kind])}
    for name in plain:
        if name not in form:
            near = nearest(name, list(form), 1)
            advice = f"Did you mean {near[0]}?" if near else f"Known here: {', '.join(form)}."
            raise EntryProblem(f'A {kind} has no "{name[:40]}". {advice}')
    for name, item in form.items():
        if name not in plain and item.default is MISSING and item.default_factory is MISSING:
            raise EntryProblem(f'"{name}" is missing. Write it as `shiftlore casebook export` does.')
    if kind == _CASE and isinstance(plain[_CASE], dict):
        plain[_CASE] = dump_plain(plain[_CASE])
    return KINDS[kind](**plain)


def check_lines(lines: Iterable[bytes], tell_read: Callable[[int], None] = lambda size: None) -> Imported:
    """Read every line and take none in: what is wrong with the bad ones.

    Args:
        tell_read: called with the bytes of each line.
    """
    return _go_through(lines, None, tell_read)


def import_lines(
    book: Casebook, lines: Iterable[bytes], tell_read: Callable[[int], None] = lambda size: None
) -> Imported:
    """Take every good line in; a record that is here already stays as it is. What went in before a crash is there."""
    return _go_through(lines, book, tell_read)


def _go_through(lines: Iterable[bytes], book: Casebook | None, tell_read: Callable[[int], None]) -> Imported:
    became = {NEW: 0, KNOWN: 0, LEFT_OUT: 0}
    problems: list[tuple[int, str]] = []
    waiting: list[Record] = []
    bad = 0

    def take() -> None:
        for one in book.take_in(waiting) if book is not None else ():
            became[one] += 1
        waiting.clear()

    for number, line in enumerate(lines, 1):
        tell_read(len(line))
        text = line.removeprefix(b"\xef\xbb\xbf") if number == 1 else line
        if not text.strip():
            continue
        try:
            waiting.append(read_line(text))
        except EntryProblem as problem:
            bad += 1
            problems += [(number, str(problem))] if len(problems) < MOST_TOLD else []
        if len(waiting) >= LINES_AT_ONCE:
            take()
    take()
    return Imported(became[NEW], became[KNOWN], became[LEFT_OUT], tuple(problems), bad)
