"""The `where` words are those of the format's table, names of gears fit ids, and a sheet is fitted to a vehicle."""

import pytest
from support.trade import shipped, unit_of

from shiftlore.cases import Vehicle
from shiftlore.compiling import compile_unit
from shiftlore.sheets.unit_sheets import Pattern, SheetGear, is_where_word, vary_sheet, where_words

# The table of knowledge/README.md: from, to, the usual word.
USUAL = [
    (None, "element", "any"), (None, "gear", "any"), ("element", "gear", "applied"), ("element", "shift", "coming_on"),
    ("solenoid", "element", "controlled"), ("solenoid", "gear", "controlled"), ("solenoid", "shift", "switching"),
    ("gear", "shift", "into"), ("shift", "gear", "into"), ("pressure_switch", "element", "monitored"),
    ("element", "element", "same"), ("gear", "gear", "same"), ("speed_sensor", "gear", "any"),
]  # fmt: skip


@pytest.mark.parametrize(("parent", "target", "usual"), USUAL)
def test_where_words__begin_with_the_usual_one(parent, target, usual):
    assert usual == where_words(parent, target)[0]


def test_where_words__there_are_none_between_single_records():
    assert () == where_words(None, None)


@pytest.mark.parametrize(
    ("word", "parent", "target", "expected"),
    [
        ("lost_off", "solenoid", "gear", True),
        ("lost", "solenoid", "gear", False),
        ("reverse", None, "gear", True),
        ("reverse", "element", "gear", False),
        ("in_first", "element", None, True),
        ("in_lockup", "solenoid", None, True),
        ("in_first", "shift", None, True),
        ("in_coast", "element", None, True),
        ("in_coast", "solenoid", None, False),
        ("lost_even", "solenoid", None, True),
        ("lost_even", "gear", None, False),
        ("type_output", "speed_sensor", None, True),
        ("type_output", None, None, False),
    ],
)
def test_is_where_word__fits_the_two_ends(word, parent, target, expected):
    assert expected == is_where_word(word, parent, target)


@pytest.mark.parametrize(("name", "ident"), [("1", "1"), ("R", "r"), ("2 prime", "2_prime"), ("R-2", "r_2")])
def test_id__is_fit_for_expanded_ids(name: str, ident: str) -> None:
    assert ident == SheetGear(name, None, {}).id


def test_pattern__is_written_alike_in_every_process():
    """A set of texts has another order in each; of eight, theirs is the alphabet's once in 40,000 times."""
    assert str(list("abcdefgh")) in repr(Pattern(frozenset("hgfedcba")))


def forward(sheet):
    return [name for name, gear in sheet.gears.items() if gear.kind == "forward"]


def test_vary_sheet__nothing_known_changes_nothing():
    sheet = shipped().sheets["step"]
    assert (sheet, {}) == vary_sheet(sheet, None, "")


@pytest.mark.parametrize(("unit", "speeds"), [("step", 4), ("step-fwd", 5), ("dct", 8), ("step-rwd", 12), ("step", 1)])
def test_vary_sheet__a_kind_has_as_many_gears_as_the_vehicle(unit, speeds):
    sheet, wrong = vary_sheet(shipped().sheets[unit], speeds, "")
    assert ([str(n + 1) for n in range(speeds)], {}) == (forward(sheet), wrong)
    assert "R" in sheet.gears and {*sheet.lockup_gears, sheet.failsafe_gear or "R"} <= {*sheet.gears}


def test_vary_sheet__a_gear_more_works_like_the_last_but_one():
    """Two clutches take turns: the eighth gear is one of the even ones."""
    kind = shipped().sheets["dct"]
    assert kind.gears["6"].on == vary_sheet(kind, 8, "")[0].gears["8"].on


@pytest.mark.parametrize(
    ("unit", "speeds", "layout", "key", "what"),
    [
        ("long5", 4, "", "speeds", "long5 has 5 forward gears, not 4"),
        ("cvt", 6, "", "speeds", "cvt has no gears to count"),
        ("step-fwd", None, "rwd", "layout", "step-fwd drives by fwd, not rwd"),
        ("trans6", None, "rwd", "layout", "trans6 drives by fwd, not rwd"),
    ],
)
def test_vary_sheet__what_the_sheet_contradicts_is_told(unit, speeds, layout, key, what):
    sheet, wrong = vary_sheet(shipped().sheets[unit], speeds, layout)
    assert ([key], what) == (list(wrong), wrong[key][0]) and sheet == shipped().sheets[unit]


def test_vary_sheet__all_wheel_drive_brings_what_it_needs():
    awd = compile_unit(shipped(), Vehicle("step-fwd", None, "awd")).expansion
    rwd = compile_unit(shipped(), Vehicle("step", None, "rwd")).expansion
    either = unit_of("step").expansion
    brought = {key for key, cause in awd.causes.items() if "transfer_case" in cause.cause.scope.needs}
    assert brought and not brought & set(rwd.causes) and brought <= set(either.causes), brought
    assert not {key for key, cause in rwd.causes.items() if "fwd" in cause.cause.scope.needs}
    assert {key for key, cause in either.causes.items() if "fwd" in cause.cause.scope.needs}


def test_compile_unit__a_four_speed_has_no_fifth_gear():
    four = compile_unit(shipped(), Vehicle("step", 4, "rwd")).expansion
    assert "slips_gear_4" in four.findings and "slips_gear_5" not in four.findings
    assert "shift_flares_3_4" in four.findings and "shift_flares_4_5" not in four.findings
