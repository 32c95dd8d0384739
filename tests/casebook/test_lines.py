"""JSON Lines: out and in and out again gives equal bytes; a bad line is told by its number; what is here stays."""

import json
from collections.abc import Callable

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from support.casebook_entries import ENTRY, entry_of
from support.casebook_strategies import entries, remains, rounds

from shiftlore.casebook import Casebook, Imported, check_lines, export_lines, import_lines, open_casebook
from shiftlore.casebook.book_records import EntryProblem, Forgotten, PracticeRound
from shiftlore.casebook.lines import LINES_AT_ONCE, MOST_TOLD, read_line, write_line

LINE = write_line(ENTRY).encode()
LINES = (
    write_line(ENTRY),
    write_line(Forgotten("0" * 32, outcome="cured")),
    write_line(PracticeRound("pump", "pump_worn", "long6", "1", 7, True, 1.0, 2.0, "2026-01-01")),
)


def changed(**changes: object) -> bytes:
    """Give the line of an entry with other values; None takes a key out."""
    plain = {**json.loads(LINE), **changes}
    return json.dumps({key: value for key, value in plain.items() if value is not ...}).encode()


@settings(max_examples=60, deadline=None)
@given(record=st.one_of(entries(), remains(), rounds()))
def test_read_line__gives_what_was_written(record: object) -> None:
    line = write_line(record)  # type: ignore[arg-type]
    assert record == read_line(line.encode()) and line == write_line(read_line(line.encode()))
    assert "\n" not in line


@settings(max_examples=6, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(records=st.lists(st.one_of(entries(), remains(), rounds()), max_size=8))
def test_export__in_and_out_again_gives_equal_bytes(fresh: Callable[[], str], records: list) -> None:
    with open_casebook(fresh()) as first, open_casebook(fresh()) as second:
        first.take_in(records)
        out = list(export_lines(first))
        done = import_lines(second, out)
        assert out == list(export_lines(second)) and len(out) == done.new
        again = import_lines(second, out)
        assert (0, len(out)) == (again.new, again.known + again.left_out) and out == list(export_lines(second))


def test_export__is_lines_of_json_in_one_order(book: Casebook) -> None:
    """Source: jsonlines.org: UTF-8, one JSON value a line, each ended by a line feed."""
    for i in (3, 1, 2):
        book.file(entry_of(i, closed_on="2026-01-01", person="Änna" if i == 2 else ""))
    book.forget("änna")
    lines = list(export_lines(book))
    assert all(line.endswith(b"\n") and line.count(b"\n") == 1 for line in lines)
    assert ["case", "case", "forgotten"] == [json.loads(line)["is"] for line in lines]
    assert [1, 3] == [int(json.loads(line)["id"], 16) for line in lines[:2]] and {1} == {
        json.loads(line)["shiftlore"] for line in lines
    }


@pytest.mark.parametrize(
    ("line", "says"),
    [
        (b"not json", "The line is no JSON (Expecting value, column 1). Write one object a line."),
        (b"[1]", "The line is no JSON object. Write it in braces."),
        (b"\xff\xfe", "The line is not UTF-8 text. Save the file as UTF-8."),
        (b"[" * 100_000, "The line is nested too deeply."),
        (b"9" * 5_000, "The line cannot be read: Exceeds the limit"),
        (b"{}", 'The line does not say what it is. Begin it with "shiftlore": 1, "is": "case".'),
        (changed(shiftlore=2), "Format 2 is not known here. Write 1, or use a newer program."),
        (changed(**{"is": "cases"}), 'There is no "is": "cases". Write one of: case, forgotten, practice.'),
        (changed(**{"is": []}), 'There is no "is": "[]".'),
        (changed(minuts=3), 'A case has no "minuts". Did you mean minutes?'),
        (changed(zzz=3), 'A case has no "zzz". Known here: id, closed_on,'),
        (changed(id=...), '"id" is missing.'),
        (changed(case=7), "case is no JSON object. Write the case as JSON."),
        (changed(spent="a lot"), 'spent "a lot" will not do.'),
        (changed(unit=None), "unit is no text."),
        (changed(id=[1]), '"[1]" is no id of a case.'),
        (LINES[1].replace(f'"{"0" * 32}"', '["a"]').encode(), "is no mark of a forgotten case."),
        (LINE[:-1] + b', "id": "x"}', '"id" stands twice. Keep one of the two.'),
        (LINE[:-1] + b', "x": NaN}', 'A case has no "x"'),
        (LINE.replace(b"640.5", b"Infinity"), 'spent "inf" will not do.'),
        (b" " * 4_000_001, "The line is too long."),
    ],
)  # fmt: skip
def test_read_line__tells_what_to_write_instead(line: bytes, says: str) -> None:
    with pytest.raises(EntryProblem) as told:
        read_line(line)
    assert says in str(told.value)


JSON = st.recursive(
    st.sampled_from(
        [None, True, -1, 0, 2**80, 1e308, float("inf"), float("nan"), "", "cured", "\x00", "\x1b[31m", "\ud800"]
    ),
    lambda inner: (
        st.lists(inner, max_size=2) | st.dictionaries(st.sampled_from(["id", "a", "\x00"]), inner, max_size=2)
    ),
    max_leaves=4,
)


@settings(max_examples=300, deadline=None)
@given(line=st.sampled_from(LINES), number=st.integers(0, 40), value=JSON)
def test_read_line__whatever_stands_in_a_field_is_taken_or_told(line: str, number: int, value: object) -> None:
    plain = json.loads(line)
    name = list(plain)[number % len(plain)]
    try:
        read_line(json.dumps({**plain, name: value}).encode())
    except EntryProblem as problem:
        assert str(problem)


def test_read_line__what_may_be_left_out() -> None:
    made = read_line(b'{"shiftlore": 1, "is": "case", "id": "0123456789abcdef0123", "closed_on": "2026-01-01", '
                     b'"case": {}, "outcome": "cured"}')  # fmt: skip
    assert ("", (), None) == (made.unit, made.causes, made.spent)  # type: ignore[union-attr]


def test_check_lines__takes_nothing_in_and_tells_each_by_its_number() -> None:
    found = check_lines(
        [b"\xef\xbb\xbf" + LINE, b"\n", b"bad\n", LINE.replace(b"cured", b"better") + b"\r\n", b"worse"]
    )
    assert [3, 4, 5] == [number for number, _ in found.problems] and (3, 0) == (found.bad, found.new)
    many = check_lines([b"bad"] * 50)
    assert (50, MOST_TOLD) == (many.bad, len(many.problems))


def test_import_lines__good_ones_go_in(book: Casebook) -> None:
    told: list[int] = []
    lines = [LINE + b"\n", b"bad\n", LINE + b"\n", write_line(entry_of(7)).encode()]
    done = import_lines(book, lines, told.append)
    assert (2, 1, 1) == (done.new, done.known, done.bad) and list(map(len, lines)) == told
    assert (entry_of(0), entry_of(7)) == book.entries()


def test_import_lines__changes_nothing_that_is_here(book: Casebook) -> None:
    book.file(ENTRY)
    assert Imported(known=1) == import_lines(book, [changed(spent=1.0, person="Anna")])
    assert (ENTRY,) == book.entries()


def test_import_lines__of_more_than_one_part(book: Casebook) -> None:
    lines = [write_line(entry_of(i)).encode() for i in range(LINES_AT_ONCE + 1)]
    assert Imported(new=LINES_AT_ONCE + 1) == import_lines(book, lines)
    assert Imported(known=LINES_AT_ONCE + 1) == import_lines(book, lines)
