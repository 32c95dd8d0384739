"""A compiled unit and a compiled case, in use."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from support.enumeration import enumerate_posteriors
from support.trade import compiled_of, make_case, shipped, small_case, small_unit, unit_of

from shiftlore.basics import ImpossibleEvidence
from shiftlore.cases import Answer, Case, Done
from shiftlore.compiling import Observation, compile_beforehand, compile_case, read_answers
from shiftlore.compiling.exporting import assemble_network, observe, prune_network
from shiftlore.compiling.faults import LIKELIEST_PAIRS
from shiftlore.exact import Doubted

ANSWERS = {"gear_slips_2": "yes", "fluid_colour": "dark", "line_pressure_idle": "no"}


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
    case = Case("long5", complaint=("gear_slips_2",), findings={"gear_slips_2": Answer("gear_slips_2", "no")})
    assert {"gear_slips_2": 0} == compile_case(small_unit(), case).evidence


def test_compile_case__a_code_is_its_finding() -> None:
    assert small_case({"P0732": "yes"}).evidence == small_case({"gear_slips_2": "yes"}).evidence


def test_read_answers__a_stored_code_outweighs_one_that_is_not() -> None:
    """Several codes answer the finding of a converter clutch circuit."""
    answers, _ = read_answers(unit_of("long5"), make_case("long5", {"P0740": "yes", "P0743": "no"}))
    assert [("code_tcc_circuit", "yes")] == [(answer.finding, answer.grade) for answer in answers]
    answers, _ = read_answers(unit_of("long5"), make_case("long5", {"P0743": "no", "P0740": "yes"}))
    assert ["yes"] == [answer.grade for answer in answers]


def test_telling__what_is_said_before_work_and_after_it_but_nothing_sound() -> None:
    found_after = {"fluid_level": Answer("fluid_level", "very_low"), "fluid_foam": Answer("fluid_foam", "no")}
    done = (Done("plain_service", "came_back", found_after=found_after),)
    compiled = compiled_of({"no_drive_any": "yes", "fluid_smell_burnt": "no"}, done=done)
    assert {"no_drive_any", "fluid_level"} == compiled.telling


def test_read_answers__what_carries_no_weight_is_told() -> None:
    answers, unused = read_answers(unit_of("long5"), make_case("long5", {"P0805": "yes", "slips": "yes"}))
    assert (("P0805",), ["slips"]) == (unused, [answer.finding for answer in answers])


def test_read_answers__doubt_has_its_number() -> None:
    case = Case("long5", findings={"slips": Answer("slips", "yes", "think_so")})
    answers, _ = read_answers(unit_of("long5"), case)
    assert shipped().words.doubts["think_so"] == answers[0].p_right


@given(st.permutations(list(ANSWERS.items())))
@settings(max_examples=6, deadline=None)
def test_compile_case__the_order_of_answers_does_not_matter(items: list[tuple[str, str]]) -> None:
    assert small_case(ANSWERS).p_faults == pytest.approx(small_case(dict(items)).p_faults, abs=1e-14)


def test_with_answers__is_the_same_case_on_the_same_faults() -> None:
    before = small_case({"gear_slips_2": "yes"})
    grown = before.with_answers([Observation("fluid_colour", "dark"), Observation("line_pressure_idle", "no")])
    assert grown.evidence == small_case(ANSWERS).evidence
    assert grown.engine is before.engine and grown.faults is before.faults
    joint = before.faults.prior * np.exp(before.engine.weigh(grown.evidence))
    assert joint / joint.sum() == pytest.approx(grown.p_faults, abs=1e-12)


def test_with_answers__is_near_a_fresh_case() -> None:
    """A fresh case opens its own pairs; on the small knowledge that moves little."""
    grown = small_case({"gear_slips_2": "yes"}).with_answers(
        [Observation("fluid_colour", "dark"), Observation("line_pressure_idle", "no")]
    )
    assert small_case(ANSWERS).p_causes == pytest.approx(grown.p_causes, abs=0.1)


SCAN = "no_codes_module_scan"


def test_held_by__an_answer_holds_what_it_alone_stands_for() -> None:
    compiled = compiled_of({"fluid_colour": "dark", SCAN: "yes"})
    assert ("fluid_colour",) == compiled.held_by("fluid_colour")
    assert {SCAN, "code_tcc_slip", "code_range_sensor"} <= set(compiled.held_by(SCAN))


def test_held_by__taking_it_back_is_never_having_given_it() -> None:
    before, after = compiled_of({"fluid_colour": "dark"}), compiled_of({"fluid_colour": "dark", SCAN: "yes"})
    left = {key: value for key, value in after.evidence.items() if key not in after.held_by(SCAN)}
    assert before.evidence == left
    expected = after.engine.weigh(left)
    assert expected == pytest.approx(after.engine.retract(after.evidence, [after.held_by(SCAN)])[0], abs=1e-9)


def test_held_by__what_was_given_outright_stays() -> None:
    compiled = compiled_of({"code_tcc_slip": "no", SCAN: "yes"})
    assert "code_tcc_slip" not in compiled.held_by(SCAN)
    assert "code_tcc_slip" in compiled.evidence


def test_compile_beforehand__has_the_likeliest_pairs_and_no_answers() -> None:
    compiled = compile_beforehand(unit_of("long5"), make_case("long5", {"slips": "yes"}, odometer_km=90_000.0))
    assert ({}, ()) == (compiled.evidence, compiled.answers)
    assert LIKELIEST_PAIRS == len(compiled.faults.sets)
    assert compiled.faults.prior == pytest.approx(compiled.p_faults, abs=1e-12)


def test_compile_beforehand__answers_given_later_are_weighed_on_these_pairs() -> None:
    before = compile_beforehand(small_unit(), make_case("long5"))
    later = before.with_answers([Observation("gear_slips_2", "yes"), Observation("fluid_colour", "black")])
    assert later.engine is before.engine
    assert 15 == len(later.faults.sets), "six causes have fifteen pairs"
    assert 1 == pytest.approx(later.p_faults.sum(), abs=1e-12)


def test_with_answers__a_sign_of_a_cause_raises_it() -> None:
    before, after = small_case(), small_case({"fluid_colour": "black"})
    pump = before.causes.index("worn_pump")
    assert after.p_causes[pump] > before.p_causes[pump]


def test_open_findings__are_those_without_an_answer() -> None:
    compiled = small_case(ANSWERS)
    assert set(compiled.expansion.findings) == {*compiled.open_findings(), *compiled.evidence}
    assert not set(compiled.open_findings()) & set(compiled.evidence)


def test_compile_case__equals_enumeration_on_the_small_knowledge() -> None:
    """Counting every world of faults, states, colours, with a doubted answer among the answers."""
    findings = {
        key: Answer(key, grade, "think_so" if key == "fluid_colour" else None) for key, grade in ANSWERS.items()
    }
    compiled = compile_case(small_unit(), Case("long5", findings=findings))
    assert isinstance(compiled.evidence["fluid_colour"], Doubted)
    seen = observe(compiled.evidence)
    network = assemble_network(compiled.engine.tables, compiled.expansion, compiled.evidence)
    expected = enumerate_posteriors(prune_network(network, [*seen, "fault"]), seen).p_states["fault"]
    assert expected == pytest.approx(compiled.p_faults, abs=1e-12)


def test_predict__equals_answering_it() -> None:
    compiled = small_case(ANSWERS)
    predicted = compiled.engine.predict(compiled.evidence, ["gear_slips_1"])["gear_slips_1"]
    joint = predicted[1] * compiled.p_faults
    after = compiled.with_answers([Observation("gear_slips_1", "yes")]).p_faults
    assert joint / joint.sum() == pytest.approx(after, abs=1e-12)


def test_jobs_done__a_template_stands_for_all_of_its_instances() -> None:
    templates = compiled_of().expansion.job_templates
    template = next(template for job, template in templates.items() if job != template)
    several = tuple(job for job, own in templates.items() if own == template)
    assert several == compiled_of(done=(Done(template),)).jobs_done
    assert several[:1] == compiled_of(done=(Done(several[0]),)).jobs_done


def test_compile_case__two_cases_with_doubted_answers_can_be_compared() -> None:
    findings = {"fluid_colour": Answer("fluid_colour", "dark", "think_so")}
    one, two = (compile_case(small_unit(), Case("long5", findings=findings)) for _ in range(2))
    assert one == one and one != two


DONE = {"done": (Done("replace_pressure_solenoid_pcs"),)}


def test_carry_over__nothing_done_changes_nothing() -> None:
    compiled = compiled_of({"P0732": "yes"})
    assert compiled.p_faults is compiled.faults_now
    assert compiled.p_causes.tolist() == compiled.causes_now.tolist()


def test_carry_over__by_the_definition_pair_by_pair() -> None:
    """Breese and Heckerman 1996: each cause is left by chance; all of a pair must be put right; none is never cured."""
    compiled = compiled_of({"P0732": "yes"}, **DONE)
    left, survives = np.zeros(len(compiled.causes)), compiled.works[0].missed
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
    work = compiled.works[0]
    touched = int(np.argmin(work.missed))
    surely = compiled.vary(works=(work.vary(missed=np.where(np.arange(len(work.missed)) == touched, 0.0, 1.0)),))
    with pytest.raises(ImpossibleEvidence, match="replace_pressure_solenoid_pcs"):
        surely.carry_over(np.eye(len(compiled.p_faults))[1 + touched])


def test_weigh_left__what_is_lost_is_the_probability_of_a_cure() -> None:
    compiled = compiled_of({"P0732": "yes"}, **DONE)
    lost = compiled.p_faults @ (1 - compiled.faults.survival.persists(compiled.works[0].missed))
    assert 1 - lost == pytest.approx(compiled.weigh_left(compiled.p_faults).sum(), abs=1e-12)


def test_judge_now__after_a_job_that_did_not_help_the_cause_it_cures_falls() -> None:
    done = compiled_of({"P0732": "yes"}, **DONE)
    before, now = done.p_causes, done.judge_now(done.p_faults)
    cured = [done.causes.index(cause) for job in done.jobs_done for cause in done.expansion.cures[job]]
    assert (now[cured] < before[cured]).all()
    assert now == pytest.approx(done.causes_now, abs=0)


def test_compile_case__sound_answers_rule_nothing_in_and_leave_nothing_out() -> None:
    findings = unit_of("long5").expansion.findings
    compiled = compiled_of({key: findings[key].grades[0] for key in list(findings)[:30]})
    assert 0.05 > compiled.left_out
    assert compiled.p_faults[0] > compiled.faults.prior[0], "a sound vehicle is likelier to have nothing known"


def test_causes_now__two_speed_codes_at_once_are_no_broken_wheel() -> None:
    """Each sensor reads its own wheel: both signals gone is what they share, plate, supply or plug."""
    one = compiled_of({"code_speed_sensor_output_speed": "yes", "no_reverse": "no"})
    both = compiled_of(
        {"code_speed_sensor_output_speed": "yes", "code_speed_sensor_input_speed": "yes", "no_reverse": "no"}
    )
    wheels = [i for i, key in enumerate(both.causes) if key.startswith("tone_wheel_damaged_cause")]
    shared = [both.causes.index(key) for key in ("conductor_plate_cracked", "fuse_or_relay_fault")]
    assert 2 == len(wheels) and one.causes == both.causes
    assert all(both.causes_now[wheels].max() < both.causes_now[place] for place in shared)
    assert one.causes_now[wheels].max() > both.causes_now[wheels].max()
