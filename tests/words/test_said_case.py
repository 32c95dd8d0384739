"""What was said becomes a case that is read back; what contradicts it stays out, and an onset is kept."""

import pytest
from support.trade import shipped, unit_of

import shiftlore
from shiftlore.cases import render_case
from shiftlore.words import Report, SaidAnswer, make_case, read_report

UNIT = "step"
LONG = (
    "Came in on the hook. Owner says it slips in third. Low on fluid. "
    "Codes P0733 and P0741 stored, 182 000 km, used as a taxi."
)


def report(text):
    return read_report(shipped(), unit_of(UNIT).expansion, text)


@pytest.mark.parametrize(
    "answers, kept",
    [
        ([("no_codes_generic_scan", "yes"), ("code_misfire", "yes")], {"code_misfire"}),
        ([("no_codes_generic_scan", "yes"), ("code_misfire", "no")], {"no_codes_generic_scan", "code_misfire"}),
        ([("no_codes_generic_scan", "yes"), ("slips", "yes")], {"no_codes_generic_scan", "slips"}),
    ],
)
def test_make_case__what_contradicts_what_was_said_to_be_there_is_left_out(answers, kept):
    said = tuple(SaidAnswer("finding", key, key, grade, 1.0, (), template=key) for key, grade in answers)
    case = make_case(shipped(), Report(said, said="no codes, but a misfire code"), "step-fwd")
    assert kept == set(case.findings)
    assert ("no codes, but a misfire code",) == case.said


def test_make_case__an_either_or_of_a_sign_and_a_history_is_no_answer():
    both = (
        SaidAnswer("finding", "slips", "", "yes", 1.0, ()),
        SaidAnswer("background", "rebuilt", "", "used", 1.0, ()),
    )
    assert () == make_case(shipped(), Report(either=(both,)), "step-fwd").either


@pytest.mark.parametrize(
    ("text", "after"),
    [
        ("slips in third since the fluid change", ("recent_service",)),
        ("slips in third. New battery fitted just before.", ("battery_work",)),
        ("slips in third. New battery fitted.", None),
    ],
)
def test_make_case__what_it_began_after(text, after):
    case = make_case(shipped(), report(text), UNIT)
    assert after == (case.onset.after if case.onset else None)


def test_make_case__is_a_case_that_is_read_back(tmp_path):
    path = tmp_path / "case.yaml"
    path.write_text(render_case(make_case(shipped(), report(LONG), UNIT)), encoding="utf-8")
    case = shiftlore.read_case(path, shipped())
    assert (182000, "low", "yes") == (
        case.odometer_km,
        case.findings["fluid_level"].grade,
        case.findings["P0733"].grade,
    )
    assert "slips_gear_3" in case.complaint
