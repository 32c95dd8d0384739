"""A statement names gears, shifts and parts; only what the unit has, and the general finding where nothing is named."""

import pytest
from support.trade import shipped, unit_of

from shiftlore.words.naming import Names
from shiftlore.words.vocabulary import choose_vocabulary

ENGLISH = choose_vocabulary(shipped())


def named(template, text, unit="long6"):
    tokens = [token for token in ENGLISH.split(text) if token.is_telling]
    expansion = None if unit is None else unit_of(unit).expansion
    return [one.id for one in Names(shipped(), ENGLISH, expansion).name(template, tokens, tokens)]


@pytest.mark.parametrize(
    ("template", "text", "ids"),
    [
        ("slips_gear", "slips in third", ["slips_gear_3"]),
        ("slips_gear", "slips in second, fourth and sixth", ["slips_gear_2", "slips_gear_4", "slips_gear_6"]),
        ("slips_gear", "slips in 9th", ["slips"]),
        ("gear_missing", "reverse is gone", ["no_reverse"]),
        ("shift_harsh", "harsh 2-3 shift", ["shift_harsh_2_3"]),
        ("shift_harsh", "bangs into third", ["shift_harsh_2_3"]),
        ("shift_harsh", "bang going out from third", ["shift_harsh_3_4"]),
        ("shift_harsh", "hard shifts", ["shift_harsh_any"]),
        ("shift_flares", "flares between 2nd and 3rd", ["shift_flares_2_3"]),
        ("fluid_level", "fluid is low", ["fluid_level"]),
        ("service_record", "never serviced", ["service_record"]),
        ("speed_sensor_reading", "the output speed sensor reads nothing", ["speed_sensor_reading_output_speed"]),
        ("cvt_revs_surge", "revs surge", []),
    ],
)
def test_name__what_is_said(template, text, ids):
    assert ids == named(template, text)


def test_name__a_gear_that_stands_apart():
    tokens = [token for token in ENGLISH.split("in third it slips") if token.is_telling]
    names = Names(shipped(), ENGLISH, unit_of("long6").expansion)
    assert ["slips_gear_3"] == [one.id for one in names.name("slips_gear", tokens[-1:], tokens)]


def test_name__the_nearest_of_several_that_stand_apart():
    tokens = [token for token in ENGLISH.split("fourth whines and in third it slips") if token.is_telling]
    names = Names(shipped(), ENGLISH, unit_of("long6").expansion)
    assert ["slips_gear_3"] == [one.id for one in names.name("slips_gear", tokens[-1:], tokens)]


@pytest.mark.parametrize(
    ("template", "text", "unit", "ids"),
    [
        ("element_burnt", "the C1 plates were burnt", "long6", ["element_burnt_c1"]),
        ("air_test", "C2 and B1 blow through", "long6", ["air_test_c2", "air_test_b1"]),
        ("solenoid_short_to_case", "solenoid C shorted to case", "step-rwd", ["solenoid_short_to_case_sol_c"]),
        ("solenoid_short_to_case", "pressure control solenoid C shorted", "step-rwd", ["solenoid_short_to_case_pcs_c"]),
        ("solenoid_click_missing", "no click from solenoid A when fed", "trans4", ["solenoid_click_missing_sol_a"]),
        ("solenoid_click_missing", "a solenoid does not click", "trans4", []),
        ("solenoid_click_missing", "solenoid Z does not click", "trans4", []),
    ],
)
def test_name__parts_by_their_letter_or_number(template, text, unit, ids):
    sentence = ENGLISH.split(text)
    tokens = [token for token in sentence if token.is_telling]
    found = Names(shipped(), ENGLISH, unit_of(unit).expansion).name(template, tokens, sentence)
    assert ids == [one.id for one in found]


def test_name__of_any_unit_where_it_is_not_known():
    assert ["slips_gear_9"] == named("slips_gear", "slips in 9th", None)
    assert [] == named("apply_pressure", "pressure low at clutch C1", None)


def test_name__labels_are_those_of_the_unit():
    tokens = ENGLISH.split("slips in third")
    found = Names(shipped(), ENGLISH, unit_of("long6").expansion).name("slips_gear", tokens, tokens)
    assert ["Slips in gear 3"] == [one.label for one in found]


@pytest.mark.parametrize(
    ("one", "other", "expected"),
    [
        ("engage_harsh_drive", "engage_harsh_reverse", True),
        ("slips_gear", "slips_gear", True),
        ("engage_delay_drive:long", "engage_delay_reverse", True),
        ("noise_whine", "noise_in_gear_only", False),
        ("engage_harsh_drive", "engage_delay_reverse", False),
    ],
)
def test_are_twins__called_the_same_but_for_the_place(one, other, expected):
    assert expected == Names(shipped(), ENGLISH, None).are_twins(one, other)
