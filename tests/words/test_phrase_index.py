"""The index knows every phrase, joins words that belong together, and mends slips."""

import pytest
from support.english import english, split_words

from shiftlore.knowledge import collect_knowledge
from shiftlore.words import build_index
from shiftlore.words.phrase_index import make_phrase, match_phrase


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


@pytest.fixture
def match(folder):
    index = build_index(collect_knowledge(folder())[0])

    def find(phrase, text):
        return match_phrase(make_phrase(split_words(phrase), 1.0, english()), split_words(text), index)

    return find


def test_match_phrase__whole_and_in_order_is_perfect(match):
    found = match("low line pressure", "it has low line pressure")
    assert (1.0, 1.0, (2, 3, 4)) == (found.coverage, found.tightness, found.places)


def test_match_phrase__scattered_is_less_and_disorder_less_still(match):
    said = ("line pressure low", "line idle fluid pressure", "pressure line")
    together, scattered, turned = (
        fit.coverage * fit.tightness for fit in (match("line pressure", one) for one in said)
    )
    assert together > scattered > 0
    assert together > turned > 0


def test_match_phrase__nothing_found_is_none(match):
    assert match("line pressure", "the colour is dark") is None


def test_match_phrase__a_part_covers_a_part(match):
    assert 0 < match("line pressure", "pressure").coverage < 1


def test_match_phrase__a_negation_must_stand_before_what_it_denies(match):
    assert match("no pressure", "no pressure").tightness > match("no pressure", "no dark fluid pressure").tightness


def test_match_phrase__an_upshift_is_a_shift(match):
    assert match("shift late", "upshift late").stems == {"shift", "lat"}
