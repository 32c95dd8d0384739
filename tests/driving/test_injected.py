"""Defects are read from words, refused in words, and end where they belong."""

from collections.abc import Callable, Mapping

from pytest import approx, mark, raises

from shiftlore.basics import UsageProblem
from shiftlore.driving import read_defect
from shiftlore.driving.driveable import prepare_unit
from shiftlore.driving.injected import work_defects
from shiftlore.driving.shifting import Wrongs
from shiftlore.sheets import LOCK_DRAG, SheetSolenoid, UnitSheet

Sheets = Callable[[str], UnitSheet]


def _wrongs(sheet: UnitSheet, *texts: str) -> Wrongs:
    return work_defects(prepare_unit(sheet), [read_defect(text, sheet) for text in texts])


def test_work_defects__adds_losses_up(sheet_of: Sheets) -> None:
    assert 0.75 == approx(_wrongs(sheet_of("long6"), "slip:c1:0.5", "slip:c1:0.5").lost_share["c1"])


def test_work_defects__a_solenoid_takes_and_adds_what_gearing_says(sheet_of: Sheets) -> None:
    # C2 is applied without power: dead, it binds in 1; stuck on, it is missing in 3, 5 and reverse.
    off = _wrongs(sheet_of("long6"), "solenoid:sol_c:off")
    assert {"c2"} == set(off.adds["1"])
    assert set() == set(off.takes["3"])
    on = _wrongs(sheet_of("long6"), "solenoid:sol_c:on")
    assert {"3", "5", "R"} == {gear for gear, parts in on.takes.items() if "c2" in parts}


def test_work_defects__a_pattern_of_solenoids_gives_another_gear(sheet_of: Sheets) -> None:
    # Solenoid A of long5 is on in 1, 2 and 3; without it the pattern of 3 is B alone, which is that of 4.
    wrongs = _wrongs(sheet_of("long5"), "solenoid:sol_a:off")
    assert ({"c2"}, {"b1"}) == (set(wrongs.adds["3"]), set(wrongs.takes["3"]))


def test_work_defects__solenoids_of_converter_clutch_and_line(sheet_of: Sheets) -> None:
    sheet = sheet_of("long6")
    assert _wrongs(sheet, "solenoid:tcc:off").lock_never
    assert LOCK_DRAG == _wrongs(sheet, "solenoid:tcc:on").lock_stuck
    assert _wrongs(sheet, "solenoid:line:off").pressure_full
    assert _wrongs(sheet, "solenoid:line:on").pressure_share < 0.5


def test_work_defects__in_a_lumped_unit_an_element_is_all_its_gears(sheet_of: Sheets) -> None:
    wrongs = _wrongs(sheet_of("bare3"), "lost:b1")
    assert {"2": 1.0, "R": 1.0} == wrongs.lost_share
    with raises(UsageProblem, match="no gear sets"):
        _wrongs(sheet_of("bare3"), "stuck:b1")


def _with_solenoid(sheet: UnitSheet, controls: Mapping[str, float], acts: str) -> UnitSheet:
    solenoid = SheetSolenoid(
        "s1",
        "S1",
        type="on_off",
        controls=controls,
        on_in=None,
        unpowered="releases",
        acts=acts,
        code_letter="",
        codes=(),
    )
    return sheet.vary(solenoids={"s1": solenoid})


def test_work_defects__a_solenoid_of_a_lumped_unit_gives_the_gear_that_is_left(sheet_of: Sheets) -> None:
    wrongs = _wrongs(_with_solenoid(sheet_of("bare3"), {"b1": 1.0}, "directly"), "solenoid:s1:off")
    assert ({"1"}, {"2"}) == (set(wrongs.adds["2"]), set(wrongs.takes["2"]))
    assert ({"R"}, set()) == (set(wrongs.takes["R"]), set(wrongs.adds["R"]))


def test_work_defects__says_what_the_sheet_does_not_tell(sheet_of: Sheets) -> None:
    with raises(UsageProblem, match="does not tell what s1 does in gear 1"):
        _wrongs(_with_solenoid(sheet_of("bare3"), {}, "by_pattern"), "solenoid:s1:on")
    with raises(UsageProblem, match="states no failsafe gear"):
        _wrongs(sheet_of("bare3"), "module_off:10")


@mark.parametrize(
    ("text", "field", "value"),
    [
        ("lockup_slip:0.6", "lock_share", 0.4),
        ("lockup_stuck:0.2", "lock_stuck", 0.2),
        ("lockup_never", "lock_never", True),
        ("lockup_shudder:0.2", "shudder", 0.2),
        ("engage_late:1.5", "engage_late_s", 1.5),
        ("low_pressure:0.7", "pressure_share", 0.3),
        ("module_off:30", "failsafe_s", 30.0),
        ("flare:b1:0.2", "slow_fill", {"b1": 0.2}),
        ("bind:b1:0.2", "slow_release", {"b1": 0.2}),
    ],
)
def test_work_defects__every_kind_ends_in_its_field(text: str, field: str, value: object, sheet_of: Sheets) -> None:
    assert value == approx(getattr(_wrongs(sheet_of("long6"), text), field))
    assert {"b1"} == _wrongs(sheet_of("long6"), text, "stuck:b1").stuck
