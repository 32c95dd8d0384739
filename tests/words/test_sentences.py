"""A sentence becomes the answers that are in it."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from support.sentences import SAID

from shiftlore.knowledge import collect_knowledge, find_knowledge
from shiftlore.words import build_index, read_free_text

AMONG_FIRST = 5
LEAST_SHARE = 0.9
PIECES = ["no", "not", "slips", "fine", "in", "2nd", "reverse", ",", "but", "and", "hot", "P0741", "2-3"]


@pytest.fixture(scope="module")
def trade():
    knowledge, _ = collect_knowledge(find_knowledge())
    return knowledge, build_index(knowledge, ("finding", "background"))


def read(trade, sentence):
    return {one.expanded_id: one.answer for one in read_free_text(trade[0], sentence, trade[1])}


def test_read_free_text__finds_nine_of_ten_answers_among_the_first_five(trade):
    missed, total = [], 0
    for sentence, expected in SAID:
        found = {one.expanded_id: one.answer for one in read_free_text(trade[0], sentence, trade[1], AMONG_FIRST)}
        total += len(expected)
        missed += [(sentence, key) for key, answer in expected.items() if found.get(key, "missing") != answer]
    assert len(missed) <= (1 - LEAST_SHARE) * total, missed


def test_read_free_text__several_things_in_one_sentence(trade):
    found = read(trade, "bangs into second when hot, fine when cold, no codes")
    assert {
        "shift_harsh_1_2": "yes",
        "worse_hot": "yes",
        "worse_cold": "no",
        "no_codes_generic_scan": "yes",
    }.items() <= found.items()


@pytest.mark.parametrize(
    ("sentence", "finding", "answer"),
    [
        ("no slipping", "slips", "no"),
        ("does not slip", "slips", "no"),
        ("never slips", "slips", "no"),
        ("it slips", "slips", "yes"),
        ("not slipping any more", "slips", "no"),
        ("shudders and does not slip", "slips", "no"),
        ("no reverse", "no_reverse", "yes"),
        ("reverse works fine", "no_reverse", "no"),
        ("fluid does not smell burnt", "fluid_smell_burnt", "no"),
        ("shifts fine until hot then slips", "slips", "yes"),
        ("no codes but slips", "slips", "yes"),
        ("fluid level ok", "fluid_level", "right"),
        ("does not slip after a cold start", "slips", "no"),
        ("low on fluid", "fluid_level", "low"),
        ("will not crank sometimes", "intermittent", "yes"),
        ("no drive all at once", "began_suddenly", "yes"),
        ("wiring checked good", "harness_outside_fault", "no"),
        ("check engine light is not on", "warning_lamp", "no"),
        ("fuse not blown", "fuse_blown", "no"),
        ("no problem in reverse", "reverse_slips", "no"),
        ("never slipped until last week", "slips", None),
        ("used to slip, now will not move", "slips", None),
        ("won't go over 40 mph", "speed_band_45_100", None),
        ("does not shudder when the lock up is unplugged", "shudder_goes_released", None),
        ("no clunk in reverse", "no_reverse", None),
        ("pressure test ok in all ranges", "no_drive_any", None),
        ("my mechanic thinks it's the valve body", "replaced_valve_body", None),
        ("worse when hot", "grew_slowly", None),
        ("at 60,000 miles", "warning_lamp", None),
        ("fluid changed, no help", "recent_service", None),
        ("fluid changed, no help", "replaced_fluid", "yes"),
        ("replaced the speed sensor twice, same problem", "replaced_unit", None),
    ],
)
def test_read_free_text__hears_what_is_denied(trade, sentence, finding, answer):
    assert answer == read(trade, sentence).get(finding)


@pytest.mark.parametrize(
    ("sentence", "expected"),
    [
        ("harsh 3-4 shift", "shift_harsh_3_4"),
        ("flare between 2nd and 3rd", "shift_flares_2_3"),
        ("slips in third", "slips_gear_3"),
        ("no fifth gear", "gear_missing_5"),
        ("bangs into 2nd", "shift_harsh_1_2"),
        ("P0734", "ratio_code_gear_4"),
    ],
)
def test_read_free_text__names_the_gear_or_shift(trade, sentence, expected):
    assert "yes" == read(trade, sentence).get(expected)


def test_read_free_text__a_code_is_kept_with_its_name(trade):
    first = read_free_text(trade[0], "P0741 stored", trade[1])[0]
    assert ("P0741", "code_tcc_slip", "yes") == (first.code, first.id, first.answer)


def test_read_free_text__a_code_denied(trade):
    assert "no" == read(trade, "no P0741").get("code_tcc_slip")


def test_read_free_text__backgrounds_too(trade):
    assert {"service_record": "never", "usage": "towing"}.items() <= read(
        trade, "never serviced, used for towing"
    ).items()


def test_read_free_text__only_what_the_unit_has(trade):
    found = read_free_text(trade[0], "slips in reverse", trade[1], among=["slips"])
    assert ["slips"] == [one.id for one in found]


def test_read_free_text__without_an_index_of_its_own(folder):
    knowledge, _ = collect_knowledge(folder())
    assert [("gear_slips", "2", "yes")] == [
        (one.id, one.instance, one.answer) for one in read_free_text(knowledge, "slipping in 2nd")
    ]


def test_read_free_text__tells_the_words_and_a_score(trade):
    first = read_free_text(trade[0], "it smells burnt", trade[1])[0]
    assert (("smells", "burnt"), True) == (first.matched, 0.3 <= first.score <= 1)


@settings(max_examples=60, deadline=None)
@given(st.text(max_size=80) | st.lists(st.sampled_from(PIECES)).map(" ".join))
def test_read_free_text__never_fails_and_is_the_same_each_time(trade, sentence):
    found = read_free_text(trade[0], sentence, trade[1])
    assert found == read_free_text(trade[0], sentence, trade[1])
    assert len(found) == len({(one.kind, one.id, one.instance) for one in found})
