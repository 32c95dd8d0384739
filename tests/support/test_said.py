"""The sentences are in order, and the score of a reader is counted right."""

import re

import pytest

from shiftlore.compiling import compile_unit
from shiftlore.knowledge import collect_knowledge, find_knowledge
from support.said import (
    BUILD,
    CONDITIONS,
    ODOMETER,
    UNSEEN,
    allow_implied,
    contradicts,
    load_said,
    make_sentence,
    read_today,
    score,
)  # fmt: skip
from support.trade import shipped

CODE = re.compile(r"[PU][0-9A-F]{4}")
LEAST_UNSEEN, LEAST_ALL = 110, 340

SAID = make_sentence(
    {
        "id": "T1",
        "unit": "step",
        "text": "200 thousand km. Slips in third, maybe, harsh 1-2 when hot, no codes, no reverse or it slips there.",
        "gold": {
            "slips_gear_3": {"is": True, "doubt": "think_so"},
            "shift_harsh_1_2": {"is": True, "when": ["hot"]},
            "fluid_level": ["low", "very_low"],
        },
        "background": {"service_record": "never"},
        "odometer_km": 200000,
        "either": [{"no_reverse": True, "reverse_slips": True}],
        "one_of": [{"gear_missing_4": True, "shift_missing_3_4": True}],
        "optional": {"worse_hot": True, "slips": True},
        "wrong": {"worse_cold": True, "fluid_level": "high"},
    }
)
WHOLE = {
    "slips_gear_3": {"is": "yes", "doubt": "think_so"},
    "shift_harsh_1_2": {"is": "yes", "when": ["hot"]},
    "fluid_level": "very_low",
    "service_record": "never",
    ODOMETER: 201000,
    "no_reverse": {"is": "yes", "doubt": "think_so"},
    "reverse_slips": "yes",
    "shift_missing_3_4": "yes",
}


def score_of(answers):
    return score(lambda _unit, _text: answers, [SAID])


@pytest.fixture(scope="module")
def trade():
    return collect_knowledge(find_knowledge())[0]


def test_score__all_found():
    done = score_of(WHOLE)
    assert (8, 8, 1.0, 1.0, 0.0) == (done.gold, done.found, done.recall, done.precision, done.opposites)
    assert () == done.missed == done.surplus == done.opposed


def test_score__nothing_given():
    done = score_of({})
    assert (0.0, 1.0, 0.0) == (done.recall, done.precision, done.opposites)
    assert ("T1", "gear_missing_4", ("yes",)) in done.missed


def test_score__an_optional_answer_is_right_but_not_asked_for():
    done = score_of({"slips": "yes"})
    assert (0, 1, 1) == (done.found, done.given, done.right)


def test_score__what_was_not_said_costs_precision_alone():
    done = score_of({**WHOLE, "tcc_cycles": "yes"})
    assert (1.0, 10, 1, 0) == (done.recall, done.given, len(done.surplus), done.opposite)


@pytest.mark.parametrize(
    ("key", "answer", "opposite"),
    [
        ("slips_gear_3", "no", True),
        ("slips", "no", True),
        ("worse_cold", "yes", True),
        ("worse_cold", "no", False),
        ("fluid_level", "high", True),
        ("fluid_level", "right", False),
        ("warning_lamp", "yes", False),
        ("shift_missing_3_4", "no", True),
    ],
)
def test_contradicts__the_other_sign_and_what_the_sentence_names(key, answer, opposite):
    assert opposite is contradicts(SAID, key, answer)
    assert int(opposite) == score_of({key: answer}).opposite


def test_score__doubt_and_condition_are_counted_apart():
    bare = score_of({key: answer["is"] if isinstance(answer, dict) else answer for key, answer in WHOLE.items()})
    assert (8, 3, 0, 1, 0) == (bare.found, bare.doubts, bare.doubts_kept, bare.ties, bare.ties_kept)
    done = score_of(WHOLE)
    assert (3, 2, 1, 1) == (done.doubts, done.doubts_kept, done.ties, done.ties_kept)


def test_score__a_condition_of_one_answer_counts_as_said():
    assert 2 == score_of({"shift_harsh_1_2": {"is": "yes", "when": ["hot"]}}).right
    turned = score_of({"shift_harsh_1_2": {"is": "yes", "when": ["cold"]}})
    assert (2, 1, 1, 0) == (turned.given, turned.right, turned.opposite, turned.ties_kept)


@pytest.mark.parametrize(
    ("gold", "given", "right"),
    [
        (200000, 197000, True),
        (200000, 124274, False),
        (200000, {"at_least": 200000}, False),
        ({"at_least": 300000}, {"at_least": 300000}, True),
        ({"at_least": 300000}, 300000, False),
    ],
)
def test_score__distance(gold, given, right):
    said = make_sentence({"id": "T2", "unit": "cvt", "text": "", ODOMETER: gold})
    assert right is bool(score(lambda _unit, _text: {ODOMETER: given}, [said]).found)


def test_score__adds_up_over_sentences():
    other = make_sentence({"id": "T3", "unit": "cvt", "text": "", "gold": {"slips": False}})
    done = score(lambda unit, _text: {"slips": "yes"} if unit == "cvt" else {}, [SAID, other])
    assert (9, 0, 1, 1) == (done.gold, done.found, done.given, done.opposite)
    assert "recall 0.0% (0 of 9)" in str(done)


def test_load_said__two_parts_without_overlap():
    build, unseen = load_said(BUILD), load_said(UNSEEN)
    everything = [*build, *unseen]
    assert LEAST_UNSEEN <= len(unseen)
    assert LEAST_ALL <= len(everything)
    assert len(everything) == len({one.id for one in everything}) == len({one.text for one in everything})


@pytest.mark.parametrize("part", [BUILD, UNSEEN])
def test_load_said__each_answer_can_be_entered_for_its_unit(part, trade):
    wrong, expansions = [], {}
    for said in load_said(part):
        if said.unit not in expansions:
            expansions[said.unit] = compile_unit(trade, said.unit).expansion.findings
        for pool in (said.gold, *said.groups, said.optional, said.wrong):
            for key, answers in pool.items():
                finding = expansions[said.unit].get(key)
                background = trade.backgrounds.get(key)
                known = finding.grades if finding else tuple(background.shares) if background else ()
                fine = key == ODOMETER or (key in trade.codes if CODE.fullmatch(key) else set(answers) <= set(known))
                wrong += [] if fine else [(said.id, key)]
    assert [] == wrong


@pytest.mark.parametrize("part", [BUILD, UNSEEN])
def test_load_said__nothing_is_right_and_wrong_at_once(part):
    for said in load_said(part):
        for key, answers in said.wrong.items():
            assert not set(answers) & set(said.allows(key)), (said.id, key)


def test_conditions__are_those_of_the_trade(trade):
    assert CONDITIONS == {record.condition: key for key, record in trade.findings.items() if record.condition}


def test_read_today__gives_codes_as_codes(trade):
    read = read_today(trade)
    assert "yes" == read("step", "P0741 stored")["P0741"]["is"]
    assert "yes" == read("step", "slips in third")["slips_gear_3"]["is"]


def test_allow_implied__the_general_of_a_special_and_the_finding_of_a_code():
    said = make_sentence({"id": "S", "unit": "step", "text": "", "gold": {"slips_gear_3": "yes", "P0741": "yes"}})
    (allowed,) = allow_implied(shipped(), [said])
    assert {"slips": ("yes",), "code_tcc_slip": ("yes",)}.items() <= (allowed.optional or {}).items()
    sound = make_sentence({"id": "S", "unit": "step", "text": "", "gold": {"slips_gear_3": "no"}})
    assert "slips" not in (allow_implied(shipped(), [sound])[0].optional or {})
