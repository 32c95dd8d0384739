"""What a later sentence makes of an earlier one; and what tells nothing, as it is another thing's, or only guessed or heard."""

import pytest
import yaml
from support.said import CONDITIONS, DATA
from support.trade import shipped, unit_of

from shiftlore.words import read_report
from shiftlore.words.sequels import came_back, narrow, without_general
from shiftlore.words.statements import SaidAnswer, Statement
from shiftlore.words.trained import Segment
from shiftlore.words.turns import TurnPhrase
from shiftlore.words.vocabulary import Token


def answers(text):
    return {one.id: one.answer for one in read_report(shipped(), unit_of("step").expansion, text).answers}


def tried(key, answer="yes"):
    said = SaidAnswer("background", key, "", answer, 1.0, (), template=key)
    return Statement(Segment(0, 1, f"{key}:{answer}", 1.0), (said,), (Token("x", "x", start=10, end=11),))


@pytest.mark.parametrize(
    ("key", "answer", "start", "expected"),
    [
        ("replaced_solenoids", "yes", 20, "for_a_time"),
        ("replaced_module", "yes", 20, "for_a_time"),
        ("software_updated", "no_cure", 20, "for_a_time"),
        ("adaptation_reset", "no_cure", 20, "for_a_time"),
        ("software_updated", "before_it", 20, "before_it"),
        ("replaced_solenoids", "yes", 5, "yes"),
        ("replaced_solenoids", "no", 20, "no"),
        ("overheated", "yes", 20, "yes"),
        ("software_updated", "no_cure", 20, "for_a_time"),
        ("adaptation_reset", "no_cure", 20, "for_a_time"),
        ("adaptation_reset", "just_now", 20, "just_now"),
    ],
)
def test_came_back__what_was_tried_helped_for_a_time(key, answer, start, expected):
    one = came_back(shipped(), tried(key, answer), [TurnPhrase("returned", start, start + 4, start + 4)])
    assert expected == one.answers[0].answer


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("TCM REPLACED 3 MTHS AGO, SAME COMPLAINT BACK AFTER 2 WKS", ("replaced_module", "for_a_time")),
        ("P0741 two years ago. New converter was fitted, code gone for a year.", ("replaced_converter", "for_a_time")),
        ("Replaced all the solenoids. The fault came back after a month.", ("replaced_solenoids", "for_a_time")),
        ("They did a software update, helped for a week.", ("software_updated", "for_a_time")),
        ("Replaced all the solenoids, came back at once.", ("replaced_solenoids", "yes")),
    ],
)
def test_follow_up__a_cure_that_did_not_last(text, expected):
    assert expected in answers(text).items()


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("fluid was black, changed it, now red", ("fluid_colour", "clear")),
        ("fluid was low, topped up, now ok", ("fluid_level", "right")),
        ("fluid was black, is brown", ("fluid_colour", "black")),
    ],
)
def test_as_now__what_is_now_counts(text, expected):
    assert expected in answers(text).items()


def test_as_now__what_was_is_left_out_where_it_is_not_said_how_it_is_now():
    assert "fluid_colour" not in answers("fluid was black, now I have to see")


def test_follow_up__what_is_over_is_left_out():
    assert "jerk_on_off_throttle" not in answers("Clunk on taking up drive. Fitted a mount, clunk gone.")


def test_without_general__none_of_a_kind_where_one_is_there():
    said = [
        SaidAnswer("finding", key, "", answer, 1.0, (), template=key)
        for key, answer in (("noise_any", "no"), ("noise_whine", "yes"))
    ]
    assert ["noise_whine"] == [one.id for one in without_general(shipped(), said)]
    assert ["noise_any"] == [one.id for one in without_general(shipped(), said[:1])]


@pytest.mark.parametrize(
    ("said", "expected"),
    [
        ({"no_drive_any": "yes", "no_reverse": "no"}, {"no_drive_forward": "yes", "no_reverse": "no"}),
        ({"no_drive_any": "yes", "no_drive_forward": "no"}, {"no_reverse": "yes", "no_drive_forward": "no"}),
        ({"no_drive_any": "yes", "no_reverse": "yes"}, {"no_drive_any": "yes", "no_reverse": "yes"}),
        ({"no_drive_any": "no", "no_reverse": "no"}, {"no_drive_any": "no", "no_reverse": "no"}),
        (
            {"no_drive_any": "yes", "no_reverse": "no", "no_drive_forward": "no"},
            {"no_reverse": "no", "no_drive_forward": "no"},
        ),
    ],
)
def test_narrow__what_nobody_denies_is_left(said, expected):
    given = [SaidAnswer("finding", key, "", answer, 1.0, (), template=key) for key, answer in said.items()]
    assert expected == {one.id: one.answer for one in narrow(shipped(), given)}


def read(text, unit="long5"):
    said = read_report(shipped(), unit_of(unit).expansion, text)
    return {one.id: one.answer for one in said.answers}, said.not_understood


@pytest.mark.parametrize(
    ("text", "key"),
    [
        ("the neighbour says it is the torque converter", "converter_bad_seen"),
        ("my mechanic thinks the pump is worn", "pump_worn_seen"),
        ("they told me the valve body is worn", "valve_bore_worn"),
        ("could the pump be worn", "pump_worn_seen"),
        ("the valve body might be worn", "valve_bore_worn"),
        ("the shop says the input shaft is broken", "gears_or_bearings_damaged"),
        ("sounds like a worn bearing", "gears_or_bearings_damaged"),
        ("a worn pump would cause this", "pump_worn_seen"),
        ("friend reckons the wiring is broken", "harness_outside_fault"),
        ("dealer believes the mount is broken", "mount_broken"),
        ("somebody said low fluid can do this", "fluid_level"),
        ("wrong fluid can make it slip", "wrong_fluid"),
    ],
)
def test_is_untold__a_guess_about_a_part_is_left_to_the_person(text, key):
    said, left = read(text)
    assert key not in said and left


@pytest.mark.parametrize(
    ("text", "key"),
    [
        ("opened it, the pump is worn", "pump_worn_seen"),
        ("mechanic opened it and says the pump is worn", "pump_worn_seen"),
        ("mechanic found the pump worn", "pump_worn_seen"),
        ("pump worn", "pump_worn_seen"),
        ("garage says there is metal in the pan", "pan_steel_chips"),
        ("dealer says the engine mount is torn", "mount_broken"),
        ("my wife says it slips in third", "slips_gear_3"),
        ("I think it slips in third", "slips_gear_3"),
        ("a whine could be heard in third", "noise_whine"),
    ],
)
def test_is_untold__what_was_seen_or_is_noticed_by_anybody_tells(text, key):
    assert "yes" == read(text)[0].get(key)


@pytest.mark.parametrize(("text", "doubt"), [("could be low on fluid", True), ("low on fluid", False)])
def test_is_untold__what_is_cheap_to_look_at_is_doubted(text, doubt):
    said = read_report(shipped(), unit_of("long5").expansion, text).answers
    assert [("fluid_level", doubt)] == [(one.id, bool(one.doubt)) for one in said]


def test_is_untold__a_part_alone_that_is_named():
    said, left = read("the transfer case binds in tight turns", "step-rwd")
    assert "transfer_case_fault_seen" not in said and left
    assert "yes" == read("transfer case leaks", "step-rwd")[0].get("transfer_case_fault_seen")


TOLD = [
    (kind, entry)
    for kind, entries in yaml.load((DATA / "told.yaml").read_text(encoding="utf-8"), yaml.CSafeLoader).items()
    for entry in entries
]


@pytest.mark.parametrize(("kind", "entry"), TOLD)
def test_is_untold__sentences_whose_reach_is_easily_misjudged(kind, entry):
    report = read_report(shipped(), unit_of("long5").expansion, entry["text"])
    said = {CONDITIONS[name]: "yes" for one in report.answers for name in one.when}
    said |= {one.id: one.answer for one in report.answers}
    assert entry.get("says", {}).items() <= said.items()
    never = {key: one if isinstance(one, list) else [one] for key, one in entry.get("never", {}).items()}
    assert [] == [key for key, wrong in never.items() if said.get(key) in wrong]
    assert report.not_understood or not entry.get("left")


@pytest.mark.parametrize(
    ("text", "key"),
    [
        ("the trouble began recently", "recent_repair"),
        ("I bought it three years ago", "rebuilt"),
        ("20 to 30 thousand a year on the motorway", "high_speed_only"),
        ("school runs, two miles a day", "leak_amount"),
        ("it jerks from 20 to 30", "speed_band_45_100"),
        ("they already did a software update", "software_outdated"),
        ("I checked the oil cold", "worse_cold"),
        ("I was told never to tow but I do sometimes", "usage"),
        ("was towed with the wheels on the ground", "usage"),
        ("it's not third, it's fourth that slips", "gear_missing_3"),
    ],
)
def test_is_untold__what_tells_of_something_else(text, key):
    assert key not in answers(text)


@pytest.mark.parametrize(
    ("text", "key"),
    [
        ("it leaks a litre a week", "leak_amount"),
        ("shudders only between 50 and 90", "speed_band_45_100"),
        ("I tow a caravan", "usage"),
        ("it began after the fluid change", "recent_service"),
    ],
)
def test_is_untold__what_tells_of_it_all_the_same(text, key):
    said = read_report(shipped(), unit_of("step").expansion, text).answers
    assert key in {*answers(text), *(CONDITIONS[name] for one in said for name in one.when)}


@pytest.mark.parametrize(
    ("text", "id_"),
    [
        ("he says it slips, I say no", "slips"),
        ("my mate says it slips, it doesn't", "slips"),
        ("I thought it was slipping, but no", "slips"),
        ("customer reports a whine, I could not hear any", "noise_whine"),
        ("told it leaks, found no leak", "leak_outside"),
        ("before it banged 3-2 coming to a stop, now it flares 3-4", "down_harsh_3_2"),
        ("before it was slipping, now it bangs into second", "slips"),
        ("the diff had too much backlash and oil was low", "fluid_level"),
    ],
)
def test_is_untold__what_is_taken_back_or_was_before(text, id_):
    assert answers(text).get(id_) in (None, "no")


@pytest.mark.parametrize(
    ("text", "id_"),
    [
        ("customer says it slips in third, found no codes", "slips_gear_3"),
        ("he says it bangs into second, hot it doesn't", "shift_harsh_1_2"),
        ("before it bangs into reverse it waits", "engage_harsh_reverse"),
    ],
)
def test_is_untold__what_still_stands(text, id_):
    assert "yes" == answers(text).get(id_)


@pytest.mark.parametrize(
    ("text", "key"),
    [
        ("driveshaft replaced, no better", "replaced_unit"),
        ("turbo rebuilt last month", "rebuilt"),
        ("oil cooler rebuilt", "rebuilt"),
        ("oil cooler rebuilt", "leak_cooler"),
        ("air filter replaced last month", "air_path_restricted"),
        ("transfer case rebuilt", "transfer_case_fault_seen"),
    ],
)
def test_is_untold__work_on_another_part_is_none_on_the_gearbox(text, key):
    assert key not in answers(text)


@pytest.mark.parametrize(
    ("text", "key"),
    [
        ("battery replaced and module replaced without cure", "replaced_module"),
        ("replaced the turbo, rebuilt the gearbox", "rebuilt"),
        ("the gearbox was replaced, no better", "replaced_unit"),
        ("new radiator, and the cooler leaks", "leak_cooler"),
    ],
)
def test_is_untold__work_on_the_gearbox_is_told_beside_other_work(text, key):
    assert key in answers(text)
