"""Answers of a case become evidence."""

import numpy as np
import pytest
from support.trade import shipped, small_unit, unit_of

from shiftlore.compiling import Answer, evidence_of, fill_in_answers, grades_of
from shiftlore.compiling.answers import find_code, list_aliases, name_for_codes
from shiftlore.gearing.facts import Instance


def test_find_code__letters_in_any_case() -> None:
    expansion = small_unit().expansion
    assert "gear_slips_2" == find_code(small_unit().knowledge, expansion, "p0732")


def test_find_code__unknown_and_not_on_this_unit() -> None:
    assert find_code(small_unit().knowledge, small_unit().expansion, "P0999") is None
    assert find_code(shipped(), unit_of("long5").expansion, "P0805") is None


@pytest.mark.parametrize(("code", "finding"), [
    ("P0732", "ratio_code_gear_2"), ("P0731", "ratio_code_gear_1"), ("P0741", "code_tcc_slip"),
    ("P0750", "code_solenoid_circuit_sol_a"), ("P0748", "code_solenoid_circuit_pcs"),
])
def test_find_code__meaning_of_the_standard(code: str, finding: str) -> None:
    """Source: SAE J2012, definitions of the P07xx codes."""
    assert finding == find_code(shipped(), unit_of("long5").expansion, code)


def test_list_aliases__leads_only_to_findings_of_the_unit() -> None:
    for unit in ("long5", "cvt"):
        expansion = unit_of(unit).expansion
        assert set(list_aliases(shipped(), expansion).values()) <= set(expansion.findings)


def test_name_for_codes__a_letter_becomes_shift_or_pressure() -> None:
    assert {"sol_a", "on_off", "shift_a"} == name_for_codes("solenoid", Instance("sol_a", "A", "on_off", ("A", "sol_a")))
    assert "pressure_b" in name_for_codes("solenoid", Instance("pcs", "P", "pressure_control", ("B",)))
    assert {"input", "speed"} == name_for_codes("speed_sensor", Instance("speed", "S", "input", ("A",)))


def test_fill_in_answers__no_codes_answers_the_whole_group() -> None:
    filled = fill_in_answers(small_unit().expansion, [Answer("no_codes", "yes", 0.8)])
    assert 8 == len(filled)
    assert {("no", 0.8)} == {(answer.grade, answer.p_right) for answer in filled[1:]}


def test_fill_in_answers__what_was_given_wins() -> None:
    given = [Answer("no_codes", "yes"), Answer("gear_slips_2", "yes")]
    filled = fill_in_answers(small_unit().expansion, given)
    assert [Answer("gear_slips_2", "yes")] == [answer for answer in filled if answer.finding == "gear_slips_2"]


def test_fill_in_answers__the_other_answer_fills_nothing() -> None:
    assert [Answer("no_codes", "no")] == fill_in_answers(small_unit().expansion, [Answer("no_codes", "no")])


def test_fill_in_answers__a_group_answered_as_a_whole_keeps_its_stand_in_out() -> None:
    filled = fill_in_answers(unit_of("long5").expansion, [Answer("no_codes_module_scan", "yes")])
    assert "no_codes_generic_scan" not in {answer.finding for answer in filled}


def test_evidence_of__sure_answers_are_positions() -> None:
    evidence = evidence_of(small_unit().expansion, [Answer("fluid_colour", "black"), Answer("gear_slips_1", "no")])
    assert {"fluid_colour": 2, "gear_slips_1": 0} == evidence


def test_evidence_of__doubt_is_spread_over_the_other_grades() -> None:
    evidence = evidence_of(small_unit().expansion, [Answer("fluid_colour", "dark", 0.8)])
    assert [0.1, 0.8, 0.1] == pytest.approx(evidence["fluid_colour"], abs=1e-15)


def test_evidence_of__doubt_of_one_half_says_nothing_of_a_yes_no() -> None:
    evidence = evidence_of(small_unit().expansion, [Answer("gear_slips_1", "yes", 0.5)])
    assert [0.5, 0.5] == list(np.asarray(evidence["gear_slips_1"]))


def test_grades_of__every_finding_with_its_grades() -> None:
    assert ("red", "dark", "black") == grades_of(small_unit().expansion)["fluid_colour"]


def test_find_code__the_only_pressure_solenoid_is_meant_whatever_its_letter() -> None:
    """Source: SAE J2012 gives letters; a unit with one pressure control solenoid is often lettered otherwise."""
    code = shipped().codes["P0748"]
    assert ("pressure_control", "line") == code.sole_of
    for unit in ("long5", "trans4"):
        facts = unit_of(unit).expansion.facts
        sole = [item.id for item in facts.instances("solenoid") if item.type in code.sole_of]
        found = find_code(shipped(), unit_of(unit).expansion, "P0748")
        assert len(sole) != 1 or f"{code.finding}_{sole[0]}" == found


def test_find_code__what_the_unit_has_not_goes_to_the_rest() -> None:
    expansion = unit_of("long5").expansion
    found = {find_code(shipped(), expansion, code) for code in shipped().codes}
    rests = {key for key, record in expansion.finding_records.items() if record.rest_of}
    assert rests and rests <= found
