"""A report becomes answers ready for a case; what was not understood is told, and nothing is answered that was not said."""

import time

import pytest
import yaml
from hypothesis import given, settings
from hypothesis import strategies as st
from support.said import (
    ASIDE,
    BUILD,
    CONDITIONS,
    DATA,
    FRESH,
    UNSEEN,
    allow_implied,
    load_said,
    read_today,
    score,
    score_statements,
)
from support.trade import shipped, unit_of

from shiftlore.words import read_report

UNIT = "step"
# Recall, precision (at least) and opposites (at most), measured when the reader was last learned.
FLOORS = {
    BUILD: (0.87, 0.923, 0.008),
    UNSEEN: (0.74, 0.87, 0.023),
    FRESH: (0.795, 0.87, 0.018),
    ASIDE: (0.675, 0.795, 0.041),
}
# Of the answers that hold a condition of their own, the share that is read with it.
LEAST_TIED = {FRESH: 0.65, ASIDE: 0.4}
LONG = (
    "Came in on the hook. Owner says it slips in third. Low on fluid. "
    "Codes P0733 and P0741 stored, 182 000 km, used as a taxi."
)


def report(text, unit=UNIT):
    return read_report(shipped(), unit_of(unit).expansion, text)


def answers(text, unit=UNIT):
    """Give the answers by their ids, and the conditions that are tied to one of them as if they stood by themselves."""
    return say_conditions(report(text, unit).answers)


def say_conditions(said):
    tied = {CONDITIONS[name]: "yes" for one in said for name in one.when}
    return {**tied, **{one.id: one.answer for one in said}}


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("slips in third", {"slips_gear_3": "yes"}),
        ("never slips in third", {"slips_gear_3": "no"}),
        ("bangs into second", {"shift_harsh_1_2": "yes"}),
        ("P0741 stored", {"P0741": "yes"}),
        ("no P0741", {"P0741": "no"}),
        ("low on fluid", {"fluid_level": "low"}),
        ("slips when it pulls away, worse when hot", {"slips_pull_away": "yes", "worse_hot": "yes"}),
        ("slips in second, fourth and sixth", {"slips_gear_2": "yes", "slips_gear_4": "yes", "slips_gear_6": "yes"}),
    ],
)
def test_read_report__what_was_said(text, expected):
    assert expected.items() <= answers(text).items()


@pytest.mark.parametrize(
    "text",
    [
        "fluid is low",
        "Owner says it slips in third, no noise, fluid is low.",
        "Owner says it slips in third, no noise, low on fluid.",
    ],
)
def test_read_report__a_low_level_however_it_is_said(text):
    assert "low" == answers(text).get("fluid_level")


@pytest.mark.parametrize(
    ("text", "never"),
    [
        ("makes it shift at once when warm", ("worse_hot", "yes")),
        ("P0733 and P0741 stored", ("code_communication_lost", "yes")),
        ("works again after the key is cycled", ("recent_repair", "yes")),
        ("squeal from the bellhousing area", ("leak_front", "yes")),
        ("reverse lamps work only some of the time", ("no_drive_forward", "yes")),
        ("no noise", ("noise_any", "yes")),
        ("at heavy throttle on a motorway slip road", ("slips", "yes")),
    ],
)
def test_read_report__nothing_that_was_not_said(text, never):
    assert never not in answers(text).items()


@pytest.mark.parametrize("text", ["3rd", "in third", "going from 1st to 2nd", "first gear"])
def test_read_report__a_gear_alone_says_nothing(text):
    assert {} == answers(text)


@pytest.mark.parametrize(
    "text", ["fluid", "the torque converter", "R", "in reverse", "the coolant", "valve body, pump and filter"]
)
def test_read_report__a_part_alone_says_nothing(text):
    assert {} == answers(text)


def test_read_report__the_same_words_tell_what_noise_and_where():
    said = answers("loud knock from the bell housing")
    assert {"noise_knock": "yes", "noise_from_front": "yes"}.items() <= said.items()


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("shift shock, 1-2 and 2-3", {"shift_harsh_1_2": "yes", "shift_harsh_2_3": "yes"}),
        ("bangs into gear each time I select drive", {"engage_harsh_drive": "yes"}),
    ],
)
def test_read_report__what_is_said_in_general_is_said_of_the_gear_that_stands_apart(text, expected):
    assert expected.items() <= answers(text).items()


def test_read_report__a_place_of_which_something_else_is_said_is_not_meant():
    assert "engage_harsh_reverse" not in answers("bangs into gear, reverse is fine")


@pytest.mark.parametrize("text", ["rebuilt last month", "converter replaced, no change"])
def test_read_report__what_is_only_wished_for_was_not_done(text):
    assert answers(text)
    assert not {"rebuilt", "replaced_converter"} & set(answers(f"they quoted that it should be {text}"))


def test_read_report__a_code_is_read_by_its_name_alone():
    assert {"P0733": "yes", "P0741": "yes"} == answers("P0733 and P0741 stored")


def test_read_report__one_statement_says_what_it_is_and_when():
    said = answers("slips in third when hot")
    assert {"slips_gear_3": "yes", "worse_hot": "yes"}.items() <= said.items()


def test_read_report__tells_what_was_not_understood():
    assert ("xyzzy frobs the quux",) == report("slips in third. xyzzy frobs the quux").not_understood
    assert () == report("slips in third").not_understood
    assert () == report("it slips in third, and the fluid smells burnt").not_understood


@pytest.mark.parametrize(
    ("text", "unread"),
    [("jerky and slipping in third", "jerky"), ("wheel bearing noise and wheel loose", "loose"), ("delayed and harsh into drive", "delayed"),
     ("slow and lazy to take drive", ""), ("torn and split mount", ""), ("hard and jerky shifts", "")],
)  # fmt: skip
def test_read_report__one_word_beside_and_is_not_swallowed(text, unread):
    """Nobody saw that the wheel is loose; but of what is only said twice nothing is left."""
    left = " ".join(report(text).not_understood)
    assert bool(unread) == bool(left) and unread in left


@pytest.mark.parametrize(
    ("text", "expected"),
    [("loud bang then no drive", {"no_drive_any": "yes"}), ("slips then no drive", {"slips": "yes", "no_drive_any": "yes"}),
     ("check engine light and harsh shifting", {"warning_lamp": "yes", "shift_harsh_any": "yes"}),
     ("no forward gears but reverse works", {"no_drive_forward": "yes", "no_reverse": "no"}),
     ("reverse is gone but forward works", {"no_reverse": "yes", "no_drive_forward": "no"})],
)  # fmt: skip
def test_read_report__a_clause_behind_then_but_and_is_read_by_itself(text, expected):
    assert expected.items() <= answers(text).items() and not report(text).not_understood


@pytest.mark.parametrize("text", ["lost drive", "suddenly no drive", "lost drive on the motorway, coasted to the side"])
def test_read_report__who_lost_drive_does_not_say_how_long_it_drove(text):
    assert "drive_gone_after_start" not in answers(text)
    assert "drive_gone_after_start" in answers("drives half a minute after starting, then loses all drive")


def test_read_report__a_word_for_soundness_beside_it_leaves_it_to_the_person():
    assert "yes" != answers("bangs into second normal").get("shift_harsh_1_2")


def test_read_report__one_word_says_when_at_the_end_of_a_clause():
    assert {"shift_flares_2_3": "yes", "worse_hot": "yes"} == answers("2-3 flare hot")
    assert "worse_hot" not in answers("2-3 flare, hot coffee spilt")


def test_read_report__doubt_is_kept():
    (one,) = [one for one in report("I think it slips in third").answers if one.id == "slips_gear_3"]
    assert "think_so" == one.doubt


def test_read_report__conditions_are_tied_to_their_complaints():
    said = report("bangs into second when cold, slips in third when hot").answers
    assert {("shift_harsh_1_2", ("cold",)), ("slips_gear_3", ("hot",))} == {(one.id, one.when) for one in said}
    assert {"slips_gear_3": ("hot",)} == {one.id: one.when for one in report("slips in third when hot").answers}


@pytest.mark.parametrize(
    "text", ["no slip when hot", "does not bang into second when cold", "hot or cold makes no odds"]
)
def test_read_report__a_condition_of_what_is_not_so_is_none(text):
    assert "yes" not in [answer for key, answer in answers(text).items() if key in ("worse_hot", "worse_cold")]


def test_read_report__what_is_said_of_one_place_and_not_of_another():
    said = answers("bangs into drive, not reverse")
    assert ("yes", None) == (said.get("engage_harsh_drive"), said.get("no_reverse"))
    assert "yes" != answers("slips in third, not in fourth").get("gear_missing_4")


def test_read_report__a_part_of_a_statement_says_something_beside_it():
    said = answers("the cooler pipe is weeping")
    assert {"leak_cooler": "yes", "leak_amount": "drips"}.items() <= said.items()


def test_read_report__a_code_said_by_the_names_of_parts_alone():
    assert "yes" == answers("brake switch code").get("code_brake_switch")


def test_read_report__a_time_in_words():
    assert "long" == answers("four seconds before reverse goes in").get("engage_delay_reverse")


def test_read_report__one_of_two():
    (group,) = report("slips in third or slips in fourth gear, not sure which").either
    assert ["slips_gear_3", "slips_gear_4"] == [one.id for one in group]


def test_read_report__a_question_is_passed_over_unless_it_is_asked_on_purpose():
    assert {} == answers("does it slip in third?")
    (asked,) = read_report(shipped(), None, "does it slip in third?", is_question=True).answers
    assert ("slips_gear_3", "yes", None) == (asked.id, asked.answer, asked.doubt)


def test_read_report__gears_joined_by_or_are_one_of_them():
    (group,) = report("harsh 1-2 or 2-3 upshift").either
    assert ["shift_harsh_1_2", "shift_harsh_2_3"] == [one.id for one in group]
    assert () == report("harsh 1-2 and 2-3 upshift").either


def test_read_report__none_of_a_kind_yields_to_one_of_it():
    said = answers("No noise at all. Whines in third.")
    assert ("yes", None) == (said.get("noise_whine"), said.get("noise_any"))


def test_read_report__what_is_said_of_both_ranges():
    said = answers("harsh engagement of both drive and reverse")
    assert ("yes", "yes") == (said.get("engage_harsh_drive"), said.get("engage_harsh_reverse"))


def test_read_report__ids_are_those_of_the_unit():
    known = unit_of("cvt").expansion.findings
    for text in ("slips in third", "harsh 2-3 shift", LONG):
        assert all(one.id in known or one.code or one.kind == "background" for one in report(text, "cvt").answers)


@settings(max_examples=40, deadline=None)
@given(st.text(max_size=80))
def test_read_report__whatever_is_typed(text):
    said = report(text)
    assert all(0 <= one.score <= 1 for one in said.answers)
    assert all(span in text for span in said.not_understood)


def test_read_report__a_paragraph_in_a_blink():
    """A turn of a session shall take less than 50 ms (issue 10); generous, as machines differ."""
    report(LONG)
    start = time.process_time()
    report(LONG)
    assert time.process_time() - start < 0.2


@pytest.mark.parametrize("part", FLOORS)
def test_read_report__measured_on_sentences(part):
    """Print recall, precision and opposites; the floors keep what was reached. Aim: 85 %, 90 %, under 1 %."""
    reached = score(read_today(shipped()), allow_implied(shipped(), load_said(part)))
    print(f"\n{part}: {reached}")
    recall, precision, opposites = FLOORS[part]
    assert reached.recall >= recall and reached.precision >= precision and reached.opposites <= opposites
    assert reached.ties_kept >= LEAST_TIED.get(part, 0) * reached.ties


def test_read_report__measured_on_statements_of_the_street():
    """Every tenth of 8,700 statements, labelled by people who knew the list of findings alone; nothing is built on these."""
    recall, precision, opposites = score_statements(shipped())
    print(f"\nstreet: recall {recall:.1%}, precision {precision:.1%}, opposites {opposites:.1%}")
    assert recall >= 0.56 and precision >= 0.645 and opposites <= 0.03


@pytest.mark.parametrize(
    "text", ["no codes", "no codes stored", "no codes at all", "no fault codes", "slips, no codes"]
)
def test_read_report__no_codes_however_it_is_said(text):
    assert "yes" == answers(text).get("no_codes_generic_scan")


@pytest.mark.parametrize(
    ("text", "condition"),
    [
        ("slips when cold", "worse_cold"),
        ("harsh shifts when hot", "worse_hot"),
        ("shudders when warm", "worse_hot"),
        ("only when hot", "worse_hot"),
    ],
)
def test_read_report__when_it_shows_is_said_by_two_words(text, condition):
    assert "yes" == say_conditions(read_report(shipped(), None, text).answers).get(condition)


@pytest.mark.parametrize(
    "text", ["never when hot", "it is fine when cold", "slips, but not when cold", "smooth when warm"]
)
def test_read_report__when_it_does_not_show_is_no_condition(text):
    answers = say_conditions(read_report(shipped(), None, text).answers)
    assert "yes" not in (answers.get("worse_hot"), answers.get("worse_cold"))


@pytest.mark.parametrize(
    ("text", "id_", "answer"),
    [
        ("does not move in drive, reverse works", "no_reverse", "no"),
        ("stuck in third, second is fine", "gear_missing_2", None),
        ("stalls when I put it in drive, not in reverse", "engine_stalls_in_drive", "yes"),
        ("the lock-up never comes in", "tcc_never_applies", "yes"),
        ("speedo drops to zero now and then", "speedometer_erratic", "yes"),
    ],
)
def test_read_report__plain_ways_to_say_it(text, id_, answer):
    assert answer == answers(text).get(id_)


@pytest.mark.parametrize(
    "text", ["P0741 and P0730 stored", "P0700 only", "done 90,000 miles", "240,000 km on the clock"]
)
def test_read_report__codes_and_the_distance_leave_nothing_unread(text):
    assert () == report(text).not_understood


def test_read_report__a_contrast_that_names_nothing():
    assert "no_reverse" not in answers("stalls in drive, not in reverse")


def test_read_report__measured_on_plain_phrases():
    """Every seventh of the phrases that the reader failed on, and of their like; of these none was learned from."""
    phrases = yaml.load((DATA / "plain_aside.yaml").read_text(encoding="utf-8"), yaml.CSafeLoader)
    asked = [(key, grade, text) for key, said in phrases.items() for grade, texts in said.items() for text in texts]
    read = [
        {one.template or one.id: one.answer for one in read_report(shipped(), None, text).answers} for *_, text in asked
    ]
    right = sum(grade == found.get(key) for (key, grade, _), found in zip(asked, read, strict=True))
    wrong = sum(found.get(key, grade) != grade for (key, grade, _), found in zip(asked, read, strict=True))
    print(f"\nplain phrases: {right} of {len(asked)} right, {wrong} with another grade")
    assert 0.5 * len(asked) <= right and wrong <= 0.035 * len(asked)


@pytest.mark.parametrize(
    ("text", "id_"),
    [
        ("fluid never changed, no codes", "no_codes_generic_scan"),
        ("the revs go up but the car doesn't speed up", "slips"),
    ],
)
def test_read_report__one_thing_in_spite_of_a_joint(text, id_):
    assert "yes" == answers(text).get(id_)


@pytest.mark.parametrize(
    ("text", "unit", "expected"),
    [
        ("no gears 1 3 5", "dct", {"dct_odd_gears_missing", "gear_missing_1", "gear_missing_3", "gear_missing_5"}),
        ("gears 2, 4, 6 gone", "dct", {"dct_even_gears_missing", "gear_missing_2", "gear_missing_4", "gear_missing_6"}),
        ("only 2 4 6 work", "dct", {"dct_odd_gears_missing"}),
        ("only 1 3 5 work", "dct", {"dct_even_gears_missing"}),
        ("no 3 5 and reverse", "trans6", {"gear_missing_3", "gear_missing_5", "no_reverse"}),
        ("bangs into 2 and 3", "trans6", {"shift_harsh_1_2", "shift_harsh_2_3"}),
    ],
)
def test_read_report__a_list_of_gears(text, unit, expected):
    assert expected == {
        one.id for one in read_report(shipped(), unit_of(unit).expansion, text).answers if one.answer == "yes"
    }


@pytest.mark.parametrize(
    ("text", "expected"),
    [("third not second", set()), ("it's reverse not drive", set()), ("slips in third not second", {"slips_gear_3"}),
     ("has 1 3 5 and no reverse", {"no_reverse"}), ("no third and no fourth", {"gear_missing_3", "gear_missing_4"})],
)  # fmt: skip
def test_read_report__a_place_that_is_only_set_off(text, expected):
    assert expected == {one.id for one in read_report(shipped(), unit_of("trans6").expansion, text).answers}


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        (
            "burnt smell in traffic, dealer replaced the mechatronic, no better",
            {"fluid_smell_burnt", "stop_and_go_worst", "replaced_valve_body"},
        ),
        (
            "clunks into reverse, dealer replaced the mechatronic, no better",
            {"engage_harsh_reverse", "replaced_valve_body"},
        ),
        ("clunks, dealer replaced the mechatronic, no better", {"replaced_valve_body"}),
    ],
)
def test_read_report__work_in_vain_takes_nothing_before_it_along(text, expected):
    report = read_report(shipped(), unit_of("dct").expansion, text)
    assert expected == {one.id for one in report.answers}
    assert text[:6] != "clunks" or len(expected) > 1 or "clunks" in report.not_understood
