"""The index knows every phrase, joins words that belong together, and mends slips."""

import pytest

from shiftlore.knowledge import build_index, collect_knowledge


@pytest.fixture
def index(folder):
    return build_index(collect_knowledge(folder())[0])


def test_build_index__has_every_record_that_can_be_found(index):
    kinds = [entry.kind for entry in index.entries]
    assert {"finding": 4, "background": 1, "check": 1, "cause": 2, "job": 1, "code": 1} == {
        kind: kinds.count(kind) for kind in dict.fromkeys(kinds)
    }


def test_build_index__only_the_kinds_asked_for(folder):
    index = build_index(collect_knowledge(folder())[0], ("job",))
    assert ["overhaul"] == [entry.id for entry in index.entries]


def test_build_index__rare_stems_tell_more(index):
    assert index.telling("overhaul") > index.telling("wear") > index.telling("nowhere") == 0


def test_read__mends_a_slip(index):
    assert index.read("pressure")[0].stem == index.read("presure")[0].stem == index.read("pressrue")[0].stem


def test_read__joins_words_that_stand_as_one_elsewhere(folder):
    more = "findings:\n- {id: x, label: Lockup harsh, ask: Is lock-up harsh?, group: g, got_by: road, source: s}\n"
    index = build_index(collect_knowledge(folder({"findings/more.yaml": more}))[0])
    assert ["lockup", "harsh"] == [token.stem for token in index.read("lock up harsh")]
