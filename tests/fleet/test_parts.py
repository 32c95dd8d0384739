"""Parts on disk: found again where all that they depend on is the same, and no part that is damaged."""

import io
import json
import sys
from pathlib import Path

import pytest
from support.fleets import small_rows, small_trade
from support.trade import shipped

from shiftlore.basics import ShiftloreError
from shiftlore.compiling import Learned, Overlay, with_overlay
from shiftlore.fleet.judging import ChunkTask, JudgedChunk, judge_chunk
from shiftlore.fleet.parts import Parts, mark_knowledge, write_table
from shiftlore.fleet.rows import FleetRow, cut_chunks

JUDGED = JudgedChunk(b'{"row":1}\n{"row":3}\n', b'{"row":2}\n', 2, 1)


@pytest.fixture
def parts(tmp_path: Path) -> Parts:
    made = Parts(tmp_path / "out.jsonl", "mark")
    made.open()
    return made


def key_of(parts: Parts, text: bytes = b"{}") -> tuple[int, str]:
    return parts.key_of(next(cut_chunks([FleetRow(1, text)])))


def test_save__is_loaded_as_it_was(parts: Parts) -> None:
    key = key_of(parts)
    parts.save(key, JUDGED)
    assert parts.has(key) and JUDGED == parts.load(key)
    assert ["out.jsonl.parts"] == [path.name for path in parts.folder.parent.iterdir()]


def test_has__no_part_of_other_rows_or_of_another_mark(parts: Parts) -> None:
    parts.save(key_of(parts), JUDGED)
    assert not parts.has(key_of(parts, b"{ }"))
    other = Parts(parts.folder.parent / "out.jsonl", "other")
    assert not other.has(key_of(other))


@pytest.mark.parametrize("content", [b"", b"{}", b'{"results": 2, "refused": 1, "bytes": 20}\n{"row":1}\n', b"\xff\n"])
def test_has__a_damaged_part_is_none(parts: Parts, content: bytes) -> None:
    key = key_of(parts)
    parts.save(key, JUDGED)
    (path,) = parts.folder.iterdir()
    path.write_bytes(content)
    assert not parts.has(key)


def test_close__takes_all_away(parts: Parts) -> None:
    parts.save(key_of(parts), JUDGED)
    parts.close()
    assert not parts.folder.exists()


def test_mark_knowledge__other_rules_and_overlays_have_others() -> None:
    one = Overlay(base_rates={"pump_worn": Learned(1.0, 2.0, 3.0, 4.0)})
    marks = [mark_knowledge(rules) for rules in (shipped(), small_trade(), with_overlay(shipped(), one))]
    assert 3 == len(set(marks))
    assert marks[0] == mark_knowledge(shipped())


def test_mark_knowledge__what_published_repairs_taught_counts() -> None:
    assert mark_knowledge(shipped()) != mark_knowledge(shipped().with_rules_alone())


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
