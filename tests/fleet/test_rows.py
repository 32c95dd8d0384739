"""Rows come one by one, whatever stands in them."""

import datetime
import io
import json
from pathlib import Path

import pytest

from shiftlore.basics import ShiftloreError
from shiftlore.fleet.rows import CHUNK_BYTES, FleetRow, cut_chunks, read_json_lines, read_parquet

pyarrow = pytest.importorskip("pyarrow")
parquet = pytest.importorskip("pyarrow.parquet")


def lines(content: bytes) -> list[FleetRow]:
    return list(read_json_lines(io.BytesIO(content), "f.jsonl"))


def table(tmp_path: Path, columns: dict[str, object], **types: object) -> list[FleetRow]:
    """Write a table, and read it back as rows."""
    path = tmp_path / "f.parquet"
    arrays = {key: pyarrow.array(values, types.get(key)) for key, values in columns.items()}
    parquet.write_table(pyarrow.table(arrays), path)
    return list(read_parquet(path))


def said(row: FleetRow) -> object:
    return json.loads(row.text)


def test_read_json_lines__counts_lines_and_skips_empty_ones() -> None:
    assert [(1, b"{}"), (4, b"{ }")] == [(row.number, row.text) for row in lines(b"{}\n\n   \n{ }")]


def test_read_json_lines__an_empty_file_has_no_rows() -> None:
    assert [] == lines(b"")


def test_read_json_lines__a_line_of_ten_megabytes_is_set_aside_and_the_next_goes_on() -> None:
    rows = lines(b'{"note": "' + b"a" * 10_000_000 + b'"}\n{}\n')
    assert [1, 2] == [row.number for row in rows]
    assert rows[0].problem is not None and "C002" == rows[0].problem.code and len(rows[0].text) < 1000
    assert rows[1].problem is None


def test_read_json_lines__a_mark_of_the_byte_order_is_no_part_of_the_first_row() -> None:
    assert b"{}" == lines(b"\xef\xbb\xbf{}\r\n")[0].text


def test_read_json_lines__tells_how_much_is_read() -> None:
    told: list[int] = []
    content = b"{}\n" * 3
    list(read_json_lines(io.BytesIO(content), "f.jsonl", told.append))
    assert [3, 6, 9] == told


def test_read_parquet__takes_structs_maps_lists_and_text_of_json(tmp_path: Path) -> None:
    rows = table(
        tmp_path,
        {
            "unit": ["long5", "long5"],
            "odometer_km": [90000.0, float("nan")],
            "findings": [[("slips", "yes")], None],
            "background": [{"usage": "towing", "age": None}, None],
            "complaint": [["slips"], None],
            "measured": ['{"slip_gear_3": {"value": 250, "unit": "rpm"}}', None],
        },
        findings=pyarrow.map_(pyarrow.string(), pyarrow.string()),
    )
    assert {
        "unit": "long5",
        "odometer_km": 90000,
        "findings": {"slips": "yes"},
        "background": {"usage": "towing"},
        "complaint": ["slips"],
        "measured": {"slip_gear_3": {"value": 250, "unit": "rpm"}},
    } == said(rows[0])
    assert {"unit": "long5"} == said(rows[1])


def test_read_parquet__a_date_is_told_with_its_row_and_the_rest_goes_on(tmp_path: Path) -> None:
    rows = table(tmp_path, {"unit": ["long5", "long5"], "odometer_km": [datetime.date(2026, 1, 1), None]})
    assert rows[0].problem is not None and "odometer_km holds a date" in rows[0].problem.what
    assert rows[1].problem is None


def test_read_parquet__text_that_is_no_json_is_judged_as_it_stands(tmp_path: Path) -> None:
    assert {"findings": "{slips"} == said(table(tmp_path, {"findings": ["{slips"]})[0])


def test_read_parquet__a_row_that_is_too_long_is_set_aside(tmp_path: Path) -> None:
    row = table(tmp_path, {"note": ["a" * 300_000]})[0]
    assert row.problem is not None and "C002" == row.problem.code


@pytest.mark.parametrize("content", [b"", b"PAR1", b'{"unit": "long5"}\n', b"PAR1" + b"\0" * 100 + b"PAR1"])
def test_read_parquet__what_is_no_table_is_told(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "f.parquet"
    path.write_bytes(content)
    with pytest.raises(ShiftloreError, match=r"is no whole Parquet file.*Write it anew"):
        list(read_parquet(path))


def test_read_parquet__a_table_without_rows_has_none(tmp_path: Path) -> None:
    assert [] == table(tmp_path, {"unit": []}, unit=pyarrow.string())


def test_cut_chunks__by_rows_and_by_bytes() -> None:
    rows = [FleetRow(i, b"{}") for i in range(1, 6)]
    assert [2, 2, 1] == [len(chunk.rows) for chunk in cut_chunks(rows, 2)]
    long = [FleetRow(i, b"a" * (CHUNK_BYTES // 2)) for i in range(1, 4)]
    assert [2, 1] == [len(chunk.rows) for chunk in cut_chunks(long, 100)]


def test_cut_chunks__a_mark_says_what_is_in_it_and_where_it_stands() -> None:
    first, again, moved, other = (
        next(cut_chunks([FleetRow(number, text)])).mark
        for number, text in ((1, b"{}"), (1, b"{}"), (2, b"{}"), (1, b"{ }"))
    )
    assert first == again and 3 == len({first, moved, other})
