"""A compiled unit and a compiled case, in use."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from support.trade import compiled_of, make_case, shipped, small_case, small_unit, unit_of

from shiftlore.basics import ImpossibleEvidence, UnknownId
from shiftlore.cases import Answer as CaseAnswer
from shiftlore.cases import Case
from shiftlore.compiling import Answer, compile_case, compile_unit, list_known, read_answers
from shiftlore.compiling.exporting import prune_network
from shiftlore.network import enumerate_posteriors

ANSWERS = {"gear_slips_2": "yes", "fluid_colour": "dark", "line_pressure_idle": "no"}


def test_compile_unit__an_unknown_id_names_the_nearest() -> None:
    with pytest.raises(UnknownId, match="long5"):
        compile_unit(shipped(), "long-5")


def test_p_faults__is_a_pmf_and_causes_follow() -> None:
    compiled = small_case(ANSWERS)
    assert 1 == pytest.approx(compiled.p_faults.sum(), abs=1e-12)
    assert compiled.faults.sum_over_causes(compiled.p_faults) == pytest.approx(compiled.p_causes, abs=0)


def test_p_faults__without_answers_is_the_prior() -> None:
    compiled = compiled_of(odometer_km=200_000.0)
    assert compiled.faults.prior == pytest.approx(compiled.p_faults, abs=1e-14)


def test_compile_case__a_complaint_counts_as_yes() -> None:
    told = compile_case(small_unit(), Case("long5", complaint=("gear_slips_2",)))
    assert small_case({"gear_slips_2": "yes"}).p_faults == pytest.approx(told.p_faults, abs=1e-15)


def test_compile_case__an_answer_outweighs_the_complaint_of_the_same_id() -> None:
    case = Case("long5", complaint=("gear_slips_2",), findings={"gear_slips_2": CaseAnswer("gear_slips_2", "no")})
    assert {"gear_slips_2": 0} == compile_case(small_unit(), case).evidence


def test_compile_case__a_code_is_its_finding() -> None:
    assert small_case({"P0732": "yes"}).evidence == small_case({"gear_slips_2": "yes"}).evidence


def test_read_answers__a_stored_code_outweighs_one_that_is_not() -> None:
    """Several codes answer the finding of a converter clutch circuit."""
    answers, _ = read_answers(unit_of("long5"), make_case("long5", {"P0740": "yes", "P0743": "no"}))
    assert [("code_tcc_circuit", "yes")] == [(answer.finding, answer.grade) for answer in answers]
    answers, _ = read_answers(unit_of("long5"), make_case("long5", {"P0743": "no", "P0740": "yes"}))
    assert ["yes"] == [answer.grade for answer in answers]


def test_read_answers__what_carries_no_weight_is_told() -> None:
    answers, unused = read_answers(unit_of("long5"), make_case("long5", {"P0805": "yes", "slips": "yes"}))
    assert (("P0805",), ["slips"]) == (unused, [answer.finding for answer in answers])


def test_read_answers__doubt_has_its_number() -> None:
    case = Case("long5", findings={"slips": CaseAnswer("slips", "yes", "think_so")})
    answers, _ = read_answers(unit_of("long5"), case)
    assert shipped().words.doubts["think_so"] == answers[0].p_right


@given(st.permutations(list(ANSWERS.items())))
@settings(max_examples=6, deadline=None)
def test_compile_case__the_order_of_answers_does_not_matter(items: list[tuple[str, str]]) -> None:
    assert small_case(ANSWERS).p_faults == pytest.approx(small_case(dict(items)).p_faults, abs=1e-14)


def test_with_answers__equals_a_fresh_case() -> None:
    grown = small_case({"gear_slips_2": "yes"}).with_answers(
        [Answer("fluid_colour", "dark"), Answer("line_pressure_idle", "no")]
    )
    assert small_case(ANSWERS).p_faults == pytest.approx(grown.p_faults, abs=1e-15)


def test_without_answer__undoes_it_with_all_that_it_stands_for() -> None:
    before = small_case({"fluid_colour": "dark"})
    after = before.with_answers([Answer("no_codes", "yes")]).without_answer("no_codes")
    assert before.evidence == after.evidence
    assert before.p_faults == pytest.approx(after.p_faults, abs=0)


def test_with_answers__a_sign_of_a_cause_raises_it() -> None:
    before, after = small_case(), small_case({"fluid_colour": "black"})
    pump = before.causes.index("worn_pump")
    assert after.p_causes[pump] > before.p_causes[pump]


def test_open_findings__are_those_without_an_answer() -> None:
    compiled = small_case(ANSWERS)
    assert set(compiled.expansion.findings) == {*compiled.open_findings(), *compiled.evidence}
    assert not set(compiled.open_findings()) & set(compiled.evidence)


def test_prepare__the_same_life_has_the_same_engine() -> None:
    first, second = small_case({"gear_slips_1": "yes"}), small_case({"gear_slips_2": "yes"})
    assert first.engine is second.engine
    assert first.engine is not small_case(background={"usage": "towing"}).engine


def test_compile_case__equals_enumeration_on_the_small_knowledge() -> None:
    """Counting all 22 faults x 2^10 states x 3 colours, with a doubted answer among the answers."""
    evidence = {"gear_slips_2": 1, "fluid_colour": np.array([0.1, 0.8, 0.1]), "line_pressure_idle": 0}
    compiled = small_case()
    pruned = prune_network(compiled.network, [*evidence, "fault"])
    expected = enumerate_posteriors(pruned, evidence).p_states["fault"]
    assert expected == pytest.approx(compiled.engine.posterior(evidence)[0], abs=1e-12)


def test_predict__equals_answering_it() -> None:
    compiled = small_case(ANSWERS)
    predicted = compiled.engine.predict(compiled.evidence, ["gear_slips_1"])["gear_slips_1"]
    joint = predicted[1] * compiled.p_faults
    after = small_case({**ANSWERS, "gear_slips_1": "yes"}).p_faults
    assert joint / joint.sum() == pytest.approx(after, abs=1e-12)


def test_list_known__a_unit_that_is_not_there_knows_only_the_units() -> None:
    known = list_known(shipped(), "nothing")
    assert ({}, tuple(shipped().sheets)) == (known.findings, known.units)


def test_known_of__speaks_of_the_units_own_instances() -> None:
    known = list_known(shipped(), "long5")
    assert ("no", "yes") == known.findings["ratio_code_gear_5"]
    assert "ratio_code_gear_6" not in known.findings
    assert "P0732" in known.codes and "pan_drop" in known.checks


def test_jobs_done__a_template_stands_for_all_of_its_instances() -> None:
    templates = compiled_of().expansion.job_templates
    template = next(template for job, template in templates.items() if job != template)
    several = tuple(job for job, own in templates.items() if own == template)
    assert several == compiled_of(done=(template,)).jobs_done
    assert several[:1] == compiled_of(done=several[:1]).jobs_done


def test_compile_case__two_cases_with_doubted_answers_can_be_compared() -> None:
    findings = {"fluid_colour": CaseAnswer("fluid_colour", "dark", "think_so")}
    one, two = (compile_case(small_unit(), Case("long5", findings=findings)) for _ in range(2))
    assert one == one and one != two


DONE = {"done": ("replace_pressure_solenoid_pcs",)}


def test_carry_over__nothing_done_changes_nothing() -> None:
    compiled = compiled_of({"P0732": "yes"})
    assert compiled.p_faults is compiled.faults_now
    assert compiled.p_causes.tolist() == compiled.causes_now.tolist()


def test_carry_over__by_the_definition_pair_by_pair() -> None:
    """Breese and Heckerman 1996: each cause is left by chance; all of a pair must be put right; none is never cured."""
    compiled = compiled_of({"P0732": "yes"}, **DONE)
    left, survives = np.zeros(len(compiled.causes)), compiled.p_survives
    p_cured = 0.0
    for p, member in zip(compiled.p_faults, compiled.faults.members, strict=True):
        for cause in member:
            left[cause] += p * survives[cause]
        p_cured += p * np.prod([1 - survives[cause] for cause in member]) if member else 0.0
    assert left / (1 - p_cured) == pytest.approx(compiled.causes_now, rel=1e-9)


def test_carry_over__many_rows_at_once() -> None:
    compiled = compiled_of({"P0732": "yes"}, **DONE)
    rows = np.array([compiled.p_faults, compiled.faults.prior])
    assert np.array([compiled.judge_now(row) for row in rows]) == pytest.approx(compiled.judge_now(rows), rel=1e-12)
    assert [1.0, 1.0] == pytest.approx(compiled.carry_over(rows).sum(axis=1), abs=1e-12)


def test_carry_over__all_put_right_and_still_there_names_the_jobs() -> None:
    compiled = compiled_of({"P0732": "yes"}, **DONE)
    touched = int(np.argmin(compiled.p_survives))
    surely = replace(compiled)
    surely.__dict__["p_survives"] = np.where(np.arange(len(compiled.causes)) == touched, 0.0, 1.0)
    with pytest.raises(ImpossibleEvidence, match="replace_pressure_solenoid_pcs"):
        surely.carry_over(np.eye(len(compiled.p_faults))[1 + touched])


def test_weigh_left__what_is_lost_is_the_probability_of_a_cure() -> None:
    compiled = compiled_of({"P0732": "yes"}, **DONE)
    lost = compiled.p_faults @ (1 - compiled.faults.survival.persists(compiled.p_survives))
    assert 1 - lost == pytest.approx(compiled.weigh_left(compiled.p_faults).sum(), abs=1e-12)
