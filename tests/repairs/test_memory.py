"""Remembered cases as arrays, and the published repairs that come with the program."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from support.remembering import write_memory
from support.trade import shipped

from shiftlore.repairs import Remembered, shorten
from shiftlore.repairs.memory import LEAST_BELIEF, PUBLISHED_PATH, choose_published, from_bytes, gather_memory

FIRST = Remembered(
    "A1", "published", "slips in third", "pump", ("pump_worn",), "long5", {"pump_worn": 0.75, "filter_clogged": 0.25},
    {"slips_gear_3": "yes", "fluid_colour": "black"}, "Pump “worn” · out", "bulletin / sha1 0",
)  # fmt: skip
SECOND = replace(FIRST, id="B2", told="", causes=(), signs={}, beliefs={"cooler_leak": 1.0}, cause="")
THIRD = replace(FIRST, id="C3", causes=("a", "b"), beliefs={})


def test_gather_memory__gives_every_record_back() -> None:
    memory = gather_memory([FIRST, SECOND, THIRD])
    assert 3 == len(memory)
    assert [FIRST, SECOND, THIRD] == [memory.recall(place) for place in range(3)]
    assert ["A1", "B2", "C3"] == [memory.id_of(place) for place in range(3)]


def test_gather_memory__beliefs_add_up_to_one_and_the_smallest_are_left_out() -> None:
    memory = gather_memory([replace(FIRST, beliefs={"a": 3.0, "b": 1.0, "c": 4.0 * LEAST_BELIEF * 0.9})])
    assert {"a", "b"} == {*memory.beliefs_of(0)}
    assert 0.75 == pytest.approx(memory.beliefs_of(0)["a"], rel=0.01)


def test_gather_memory__nothing_is_remembered_at_first() -> None:
    assert 0 == len(gather_memory([]))


_NAMES = st.text(st.characters(exclude_categories=["Cs"]), max_size=12)


@given(st.lists(st.tuples(_NAMES, _NAMES, st.dictionaries(_NAMES, st.floats(0.01, 1.0), max_size=4)), max_size=5))
def test_from_bytes__whatever_was_written_is_read_back(rows: list) -> None:
    records = [replace(FIRST, id=name, told=told, beliefs=beliefs, signs={told: name}) for name, told, beliefs in rows]
    memory = gather_memory(records, "hash")
    again = from_bytes(write_memory(memory))
    assert (memory.source, "hash", len(records)) == (again.source, again.made_from, len(again))
    for place, record in enumerate(records):
        read = again.recall(place)
        assert replace(record, beliefs={}) == replace(read, beliefs={})
        kept = memory.beliefs_of(place)
        assert [*kept] == [*read.beliefs]
        assert np.allclose([*kept.values()], [*read.beliefs.values()], rtol=1e-3)


@pytest.mark.parametrize("content", [b"", b"PK nonsense", b"\x00" * 100])
def test_from_bytes__damage_is_noticed(content: bytes) -> None:
    with pytest.raises((ValueError, KeyError, EOFError, OSError)):
        from_bytes(content)


def test_choose_published__comes_with_the_rules_and_not_without_what_repairs_taught() -> None:
    published = choose_published(shipped())
    assert published is not None and published is choose_published(shipped())
    assert choose_published(shipped().with_rules_alone()) is None
    assert choose_published(replace(shipped())) is None


def test_published__holds_facts_that_the_knowledge_knows() -> None:
    memory = from_bytes(PUBLISHED_PATH.read_bytes())
    assert {*memory.tables["areas"]} <= {*shipped().areas}
    assert {*memory.tables["causes"]} <= {*shipped().causes}
    assert {*memory.tables["templates"]} <= {*shipped().causes}
    assert {*memory.tables["units"]} <= {*shipped().sheets}
    assert all(len(maker.rpartition("sha1 ")[2]) == 10 for maker in memory.tables["makers"])
    assert all(len(memory.recall(place).told) <= 100 for place in range(len(memory)))


def test_shorten__one_line_of_whole_facts() -> None:
    assert "" == shorten([])
    assert "a b" == shorten(["a\n b."])
    assert "first fact; second" == shorten(["first fact.", "second", "a third that is too long"], 20)
    assert len(shorten(["word " * 50])) <= 100
