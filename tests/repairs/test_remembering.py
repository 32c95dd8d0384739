"""Published repairs become remembered cases; what is shipped is what the lists and the rules say."""

import os
from functools import cache
from pathlib import Path

import pytest
from support.remembering import hash_lists, remember_repair, remember_repairs, write_memory
from support.trade import ROOT, shipped

from shiftlore.repairs import read_repairs
from shiftlore.repairs.confirmed import Repair
from shiftlore.repairs.memory import PUBLISHED_PATH, from_bytes, gather_memory

FOLDER = ROOT / "tests" / "repairs"
SAMPLED, MOST_MOVED = 101, 0.1
"""Of the repairs that were entered by hand every so many is judged anew, and this share of its belief may have moved since the file was made."""


@cache
def repairs() -> tuple[Repair, ...]:
    return read_repairs(FOLDER, shipped())


def test_remember_repairs__what_it_presented_and_what_the_rules_alone_believe(tmp_path: Path) -> None:
    entered = tmp_path / "A.yaml"
    entered.write_text("shiftlore: 1\nunit: step-fwd\nfindings: {slips_gear_3: yes}\n")
    facts = ("slips in third", "no code")
    repair = Repair("A", "s", "repair", "step-fwd", facts, ("band",), "Band worn", entered=entered)
    (one,) = remember_repairs(shipped(), [repair])
    assert ("A", "published", "slips in third; no code", "band", "step-fwd") == (
        one.id, one.source, one.told, one.area, one.vehicle,
    )  # fmt: skip
    assert "yes" == one.signs["slips_gear_3"]
    assert 1.0 == pytest.approx(sum(one.beliefs.values()), abs=1e-9)
    assert one == remember_repair(shipped().with_rules_alone(), repair)


def test_remember_repairs__one_that_cannot_be_read_is_left_out(tmp_path: Path) -> None:
    entered = tmp_path / "A.yaml"
    entered.write_text("shiftlore: 1\nunit: step\nfindings: {no_such_finding: yes}\n")
    assert [] == remember_repairs(shipped(), [Repair("A", "s", "repair", "step", ("x",), ("band",), entered=entered)])


def test_hash_lists__follows_lists_and_entered_cases(tmp_path: Path) -> None:
    (tmp_path / "entered").mkdir()
    found = set()
    for name, text in (("a.yaml", "- id: A\n"), ("a.yaml", "- id: B\n"), ("entered/A.yaml", "unit: step\n")):
        (tmp_path / name).write_text(text)
        found.add(hash_lists(tmp_path))
    assert 3 == len(found)
    (tmp_path / "a.yaml").write_bytes(b"- id: B\r\n")
    assert hash_lists(tmp_path) in found


def test_published__is_made_from_the_lists_as_they_are() -> None:
    """If this fails: SHIFTLORE_REGENERATE=yes pytest tests/repairs/test_remembering.py -k anew"""
    memory = from_bytes(PUBLISHED_PATH.read_bytes())
    assert hash_lists(FOLDER) == memory.made_from
    assert {repair.id for repair in repairs()} == {memory.id_of(place) for place in range(len(memory))}


def test_published__is_what_the_rules_believe_today() -> None:
    """A sample; if this fails, the rules have moved: make the file anew, as above."""
    memory = from_bytes(PUBLISHED_PATH.read_bytes())
    place = {memory.id_of(i): i for i in range(len(memory))}
    alone = shipped().with_rules_alone()
    for repair in [one for one in repairs() if one.entered is not None][::SAMPLED]:
        now, kept = remember_repair(alone, repair), memory.beliefs_of(place[repair.id])
        assert now is not None
        moved = sum(abs(now.beliefs.get(cause, 0.0) - p) for cause, p in kept.items()) / 2
        assert moved <= MOST_MOVED, repair.id
        assert now.told == memory.recall(place[repair.id]).told


@pytest.mark.skipif(not os.environ.get("SHIFTLORE_REGENERATE"), reason="ranks every repair anew: some minutes")
def test_remember_repairs__anew_from_the_lists() -> None:
    memory = gather_memory(remember_repairs(shipped(), repairs()), hash_lists(FOLDER))
    PUBLISHED_PATH.write_bytes(write_memory(memory))
