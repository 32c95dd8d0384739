"""Defects are read from words, and refused in words."""

from pytest import mark, raises
from support.trade import shipped

from shiftlore.basics import UsageProblem
from shiftlore.sheets import KINDS, DriveDefect, UnitSheet, read_defect


def sheet_of(unit: str) -> UnitSheet:
    return shipped().sheets[unit]


@mark.parametrize(
    ("text", "read"),
    [
        ("slip:c1:0.3", DriveDefect("slip", "c1", 0.3)),
        ("slip:c1", DriveDefect("slip", "c1", KINDS["slip"].usual)),
        ("solenoid:sol_c:off", DriveDefect("solenoid", "sol_c", 0.0)),
        ("solenoid:tcc:on", DriveDefect("solenoid", "tcc", 1.0)),
        ("lockup_slip:0.5", DriveDefect("lockup_slip", "", 0.5)),
        ("stall_off:-0.2", DriveDefect("stall_off", "", -0.2)),
        ("freeze:input_rpm:5", DriveDefect("freeze", "input_rpm", 5.0)),
        ("dropout:output_speed:0.4", DriveDefect("dropout", "output_rpm", 0.4)),
        (" hunting ", DriveDefect("hunting", "", 1.0)),
    ],
)
def test_read_defect__reads(text: str, read: DriveDefect) -> None:
    assert read == read_defect(text, sheet_of("long6"))


@mark.parametrize(
    ("text", "says"),
    [
        ("slipp:c1", r"no defect is called slipp\. Write one of: slip"),
        ("slip", r"needs the element that it is of.*c1, c2"),
        ("slip:k1", r"Write one of: c1, c2, c3, b1, b2\."),
        ("slip:c1:2", r"2 is no size for slip\. Write a number from 0 to 1\."),
        ("slip:c1:much", r"much is no size"),
        ("slip:c1:nan", r"nan is no size"),
        ("slip:c1:0.1:4", r"too many parts\. Write slip:element:size"),
        ("solenoid:sol_a", r"Write solenoid:id:on or solenoid:id:off"),
        ("solenoid:sol_z:on", r"sol_a, sol_b"),
        ("dropout:speed", r"engine_rpm, input_rpm"),
        ("lockup_slip:c1:0.2", r"too many parts"),
        ("", r"no defect is called"),
    ],
)
def test_read_defect__refuses_with_what_to_write(text: str, says: str) -> None:
    with raises(UsageProblem, match=says):
        read_defect(text, sheet_of("long6"))


@mark.parametrize("word", ["slip", "flare", "bind"])
def test_read_defect__a_one_way_clutch_has_no_oil(word: str) -> None:
    with raises(UsageProblem, match="needs the element"):
        read_defect(f"{word}:f1", sheet_of("trans6"))
    assert "f1" == read_defect("lost:f1", sheet_of("trans6")).part


def test_kinds__usual_size_is_one_that_may_be_written() -> None:
    assert all(kind.low <= kind.usual <= kind.high and kind.says for kind in KINDS.values())
