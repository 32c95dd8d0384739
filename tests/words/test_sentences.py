"""A sentence becomes the answers that are in it."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from support.sentences import HELD_APART, SAID
from support.trade import unit_of

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


def answers(trade, sentence, most=200):
    """Give every answer of a sentence with how sure it is."""
    return {
        (one.kind, one.expanded_id, one.answer): one.score for one in read_free_text(trade[0], sentence, trade[1], most)
    }


def held_apart_read(trade):
    read_by = [
        (read_free_text(trade[0], sentence, trade[1], AMONG_FIRST), expected) for sentence, expected in HELD_APART
    ]
    found = [({one.expanded_id: one.answer for one in heard}, expected) for heard, expected in read_by]
    return sum(heard.get(key) == answer for heard, expected in found for key, answer in expected.items())


def test_read_free_text__three_of_five_answers_never_tuned_on(trade):
    # Measured when it was written: 25 of 36; 23 since finer findings compete. Nobody may tune words on these sentences.
    assert held_apart_read(trade) / sum(len(expected) for _, expected in HELD_APART) >= 0.6


PLAIN = ["slips", "whines", "it shudders", "it leaks", "fluid is milky", "warning lamp is on", "engine misfires",
         "harsh 3-4 shift", "slips in third", "bangs into second", "flares between second and third", "fluid is foamy"]  # fmt: skip


@pytest.mark.parametrize("denial", ["no", "never", "there is no", "it has never", "without"])
@pytest.mark.parametrize(
    "said", ["slip", "whine", "shudder", "leak", "judder", "noise", "misfire", "P0741", "vibration"]
)
def test_read_free_text__a_denial_is_never_surer_of_a_yes(trade, denial, said):
    plain, denied = answers(trade, said), answers(trade, f"{denial} {said}")
    surer = [key for key, score in denied.items() if key[2] == "yes" and score > plain.get(key, 0.0)]
    # What is itself an absence ("no codes") is said by a denial.
    assert [] == [key for key in surer if key in plain]
    assert [] == [key for key, _ in plain.items() if key[2] == "yes" and denied.get(key, 0.0) > plain[key]]


@pytest.mark.parametrize("said", PLAIN)
@pytest.mark.parametrize("dressed", ["{}.", "{}!!", "  {}", "{}  ", "({})", '"{}"', "{}, ", "\t{}\n"])
def test_read_free_text__punctuation_and_white_space_do_not_matter(trade, said, dressed):
    assert answers(trade, said) == answers(trade, dressed.format(said.replace(" ", "  ")))


@pytest.mark.parametrize("said", PLAIN)
@pytest.mark.parametrize("change", [str.upper, str.capitalize, str.title])
def test_read_free_text__capitals_do_not_matter(trade, said, change):
    assert answers(trade, said) == answers(trade, change(said))


@settings(max_examples=40, deadline=None)
@given(st.lists(st.sampled_from(PLAIN), min_size=2, max_size=4, unique=True), st.randoms(use_true_random=False))
def test_read_free_text__the_order_of_sentences_does_not_matter(trade, said, chance):
    turned = chance.sample(said, len(said))
    assert answers(trade, ". ".join(said)) == answers(trade, ". ".join(turned))


@settings(max_examples=40, deadline=None)
@given(st.lists(st.sampled_from(PLAIN), min_size=1, max_size=3, unique=True))
def test_read_free_text__a_sentence_more_takes_nothing_away(trade, said):
    whole = answers(trade, "; ".join(said))
    for one in said:
        heard = answers(trade, one)
        assert {key[1] for key in heard} <= {key[1] for key in whole}
        assert all(whole[key] >= score for key, score in heard.items() if key in whole)


@pytest.mark.parametrize("unit_id", ["long5", "trans6"])
def test_read_free_text__ids_come_out_ready_for_a_case(trade, unit_id):
    unit, knowledge = unit_of(unit_id), trade[0]
    among = {record.id for record in unit.expansion.finding_records.values()}
    for sentence, _ in (*SAID, *HELD_APART):
        for one in read_free_text(knowledge, sentence, trade[1], among=among):
            assert one.kind == "finding" and one.id in among
            if one.instance is None and knowledge.findings[one.id].scope.each is not None:
                continue  # the person still says which
            if one.expanded_id in unit.expansion.findings and one.answer is not None:
                assert one.answer in unit.expansion.findings[one.expanded_id].grades


def test_read_free_text__every_answer_is_one_that_the_record_takes(trade):
    for sentence, _ in (*SAID, *HELD_APART):
        for one in read_free_text(trade[0], sentence, trade[1]):
            if one.kind == "background":
                assert one.answer is None or one.answer in trade[0].backgrounds[one.id].shares
            else:
                assert one.answer is None or one.answer in trade[0].findings[one.id].grades
            assert 0.3 <= one.score <= 1 and one.matched


@pytest.mark.parametrize("most", [0, 1, 3, 12])
def test_read_free_text__gives_the_best_and_no_more(trade, most):
    sentence = "shudders, slips in third, whines, leaks, bangs into second and smells burnt"
    whole = read_free_text(trade[0], sentence, trade[1], most=100)
    assert whole[:most] == read_free_text(trade[0], sentence, trade[1], most=most)
    assert [one.score for one in whole] == sorted((one.score for one in whole), reverse=True)


@pytest.mark.parametrize(
    ("said", "finding"),
    [("recommends a rebuild", "rebuilt"), ("needs new solenoids", "replaced_solenoids"),
     ("suspects the pump whines", "noise_any"), ("used to leak", "leak_outside"), ("not sure whether it slips", "slips")],
)  # fmt: skip
def test_read_free_text__guesses_wishes_and_the_past_are_no_answers(trade, said, finding):
    assert finding not in read(trade, said)


def test_read_free_text__the_same_words_for_several_codes_leave_the_choice(trade):
    found = [one for one in read_free_text(trade[0], "pressure code", trade[1], most=50)
             if one.kind == "finding" and trade[0].findings[one.id].speaks_of == "one_code" and one.score >= 0.55]  # fmt: skip
    places = [one.matched for one in found]
    assert all(one.answer is None for one in found if places.count(one.matched) > 1)
