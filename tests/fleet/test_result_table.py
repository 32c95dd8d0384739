"""The table says what the lines say."""

import io
import json
import sys
from pathlib import Path

import pytest
from support.fleets import small_rows, small_trade

from shiftlore.basics import ShiftloreError
from shiftlore.fleet.judging import ChunkTask, judge_chunk
from shiftlore.fleet.result_table import write_table
from shiftlore.fleet.rows import FleetRow, cut_chunks

parquet = pytest.importorskip("pyarrow.parquet")


def lines_of(count: int, size: int = 2) -> list[bytes]:
    rows = [FleetRow(i, json.dumps(row).encode()) for i, row in enumerate(small_rows(count), 1)]
    return [judge_chunk(small_trade(), ChunkTask(chunk, "f.jsonl", "", 2)).results for chunk in cut_chunks(rows, size)]


def test_write_table__holds_what_the_lines_hold(tmp_path: Path) -> None:
    chunks = lines_of(5)
    table = parquet.read_table(io.BytesIO(b"".join(write_table(chunks, tmp_path))))
    wanted = [json.loads(line) for line in b"".join(chunks).splitlines()]
    assert wanted == [{key: row[key] for key in own} for row, own in zip(table.to_pylist(), wanted, strict=True)]


def test_write_table__one_group_of_rows_a_chunk(tmp_path: Path) -> None:
    table = parquet.ParquetFile(io.BytesIO(b"".join(write_table(lines_of(5), tmp_path))))
    assert 3 == table.num_row_groups


def test_write_table__the_same_bytes_each_time_and_nothing_left_beside(tmp_path: Path) -> None:
    first, second = (b"".join(write_table(lines_of(3), tmp_path)) for _ in range(2))
    assert first == second and [] == list(tmp_path.iterdir())


def test_write_table__without_rows_there_are_columns_all_the_same(tmp_path: Path) -> None:
    table = parquet.read_table(io.BytesIO(b"".join(write_table([b""], tmp_path))))
    assert 0 == table.num_rows and {"row", "areas", "causes"} <= set(table.column_names)


def test_write_table__an_id_is_a_text(tmp_path: Path) -> None:
    row = json.loads(lines_of(1)[0])
    content = b"".join(write_table([json.dumps({**row, "id": 7}).encode() + b"\n"], tmp_path))
    assert "7" == parquet.read_table(io.BytesIO(content)).to_pylist()[0]["id"]


def test_write_table__without_its_library_it_says_what_to_install(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "pyarrow.parquet", None)
    with pytest.raises(ShiftloreError, match=r"needs pyarrow\. Install it"):
        list(write_table([], tmp_path))
