"""Plain words find what they speak of, in any order and spelling, always in the same order."""

from itertools import permutations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from support.trade import shipped

import shiftlore
from shiftlore.basics import UnknownId
from shiftlore.knowledge import collect_knowledge, find_knowledge
from shiftlore.words import find_words, pick_meant, read_report
from shiftlore.words.search import add_said, build_index, find_named


@pytest.fixture(scope="module")
def index():
    return build_index(collect_knowledge(find_knowledge())[0])


@pytest.mark.parametrize(
    ("words", "expected"),
    [
        ("P0741", "P0741"),
        ("p0741", "P0741"),
        ("slipping reverse", "reverse_slips"),
        ("2-3 shift harsh", "shift_harsh"),
        ("burnt fluid smell", "fluid_smell_burnt"),
        ("pan drop", "pan_drop"),
        ("line pressure", "line_pressure_gauge"),
        ("oil change", "plain_service"),
        ("second-hand gearbox", "used_unit_fit"),
        ("solenoid resistnce", "solenoid_resistance"),
        ("milky", "fluid_milky"),
        ("rumble strip", "shudder_light_throttle"),
    ],
)
def test_find_words__the_best_hit(index, words, expected):
    assert expected == find_words(index, words)[0].id


def test_find_words__a_code_finds_its_finding_too(index):
    assert [("code", "P0741"), ("finding", "code_tcc_slip")] == [
        (hit.kind, hit.id) for hit in find_words(index, "P0741")[:2]
    ]


def test_find_words__the_order_of_words_changes_no_hit(index):
    found = [
        {hit.id for hit in find_words(index, list(words), most=500)}
        for words in permutations(["fluid", "burnt", "smell"])
    ]
    assert 1 == len({frozenset(ids) for ids in found})


def test_find_words__a_phrase_ranks_above_scattered_words(index):
    hits = {hit.id: hit.score for hit in find_words(index, "fluid low", kinds=["finding"])}
    assert hits["fluid_level"] == max(hits.values())


def test_find_words__only_the_kinds_asked_for(index):
    assert {"job"} == {hit.kind for hit in find_words(index, "fluid filter", kinds=["job"])}


def test_find_words__tells_which_words_it_found(index):
    assert ("burnt", "smell") == find_words(index, "burnt xyzzyx smell")[0].matched


@pytest.mark.parametrize("words", ["", "   ", "the of and", "xyzzyxq", "\x00", "?"])
def test_find_words__nothing_to_find(index, words):
    assert [] == [hit for hit in find_words(index, words) if hit.score > 0.9]


@settings(max_examples=30, deadline=None)
@given(st.text(max_size=40))
def test_find_words__is_the_same_each_time(index, text):
    hits = find_words(index, text)
    assert hits == find_words(index, text)
    assert all(0 < hit.score <= 1 for hit in hits)


@pytest.mark.parametrize(
    ("words", "expected"), [("squeal", "noise_squeal"), ("motorhome", "vehicle_type"), ("limp home", "failsafe_mode")]
)
def test_find__words_that_only_the_learned_reader_knows(words, expected):
    assert expected == shiftlore.find(shipped(), words)[0].id


def test_add_said__each_record_once_and_only_the_kinds_asked_for():
    said = read_report(shipped(), None, "squeals").answers
    hits = find_words(shipped(), "squeals")
    found = add_said(shipped(), hits, said)
    assert len({(hit.kind, hit.id) for hit in found}) == len(found)
    assert hits == add_said(shipped(), hits, said, kinds=("job",))


@pytest.mark.parametrize(("words", "job"), [
    ("fluid change", "plain_service"), ("only top up", "level_correction"), ("used gearbox", "used_unit_fit"),
    ("new radiator", "radiator_and_flush"), ("gearbox rebuild", "overhaul"), ("explained", "explain_normal"),
    ("repair the gearbox", ""), ("stop leak", ""), ("clear fault memory", ""), ("sell it", ""), ("xyzzy", ""),
])  # fmt: skip
def test_find_named__what_is_ordered_and_not_what_has_a_word_in_common(words, job):
    named, nearest, why = find_named(shipped(), words, "job", {*shipped().jobs})
    assert job == (named[0][0] if named else "") and len(nearest) <= 3 and (words == "stop leak") == bool(why)
    assert not find_named(shipped(), words, "job", {"filter_renew"})[0]


@pytest.mark.parametrize(
    ("words", "expected"),
    [
        ("P9999", None),
        ("P07", None),
        ("c2", None),
        ("Ignition under load", "ignition_look"),
        ("coolant in the oil", "coolant_in_fluid"),
        ("pan", "pan_drop"),
        ("valve body", UnknownId),
        ("torque converter", UnknownId),
    ],
)
def test_pick_meant(words, expected):
    hits = find_words(shipped(), words, ("cause", "finding", "check", "job", "code"))
    if expected is UnknownId:
        with pytest.raises(UnknownId, match="may mean several things"):
            pick_meant(shipped(), words, hits)
    else:
        picked = pick_meant(shipped(), words, hits)
        assert expected == (picked[0].id if picked else None)
