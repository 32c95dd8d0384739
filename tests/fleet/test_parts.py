"""Parts on disk: found again where all that they depend on is the same, and no part that is damaged."""

from pathlib import Path

import pytest
from support.fleets import small_trade
from support.trade import shipped

from shiftlore.compiling import Learned, Overlay, with_overlay
from shiftlore.fleet.judging import JudgedChunk
from shiftlore.fleet.parts import Parts, mark_knowledge
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
