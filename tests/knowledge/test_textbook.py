"""A textbook case is read with its answers as written."""

from shiftlore.knowledge.textbook import read_textbook_case

TEXT = """\
id: worn_pump
cause: worn_pump
says: It whined.
unit: step-rwd
findings: {burnt: no, fluid_colour: dark, level: {is: low, doubt: think_so}, P0732: true}
source: judgement
"""


def test_read_textbook_case__answers(taken):
    case, told = taken(read_textbook_case, TEXT)
    expected = {"burnt": "no", "fluid_colour": "dark", "level": {"is": "low", "doubt": "think_so"}, "P0732": "yes"}
    assert ([], expected, None) == (told, case.findings, case.odometer_km)


def test_read_textbook_case__an_unknown_doubt_is_told(taken):
    _, told = taken(read_textbook_case, TEXT.replace("think_so", "maybe"))
    assert [("a.yaml:5:67", "K014")] == told
