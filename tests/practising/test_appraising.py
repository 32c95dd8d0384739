"""Choices beside the planner's: the same numbers as the planner's own, and three parts that add up to what was spent."""

from functools import cache

import numpy as np
import pytest
from support.practice import exercise_of, round_of

from shiftlore.planning import choose_step
from shiftlore.planning.waiting import NEARLY
from shiftlore.practising import (
    Appraisal,
    JudgedAct,
    Move,
    Planned,
    Round,
    judge_act,
    judge_round,
    name_act,
    plan_next,
    run_planner,
)
from shiftlore.practising.appraising import AS_GOOD_MONEY, WHOLE_LOOK, list_not_asked
from shiftlore.simulating import decide_next, leaving_cost, prepare_work

SCAN, CURE = Move("check", ("module_scan",)), Move("job", ("replace_shift_solenoid_sol_c",))
LOOK = Move("check", ("road_test_plain",))
DEAR, IDLE = Move("check", ("unit_strip",)), Move("job", ("level_correction",))

ASKED = (Move("more"), Move("ask", ("slips_gear_3",)), Move("ask", ("engage_delay_reverse", "worse_cold")))


@cache
def played() -> Round:
    """Some questions, a scan, a job in vain, then the right one."""
    return round_of(*ASKED, SCAN, LOOK, IDLE, CURE)


@cache
def judged(place: int) -> JudgedAct:
    made = played().made[place]
    return judge_act(played().exercise, made, name_act(played(), made.act))


@cache
def verdict() -> Appraisal:
    choices = [judged(place) for place in range(len(played().made))]
    return judge_round(played(), choices, run_planner(played().exercise), lambda act: name_act(played(), act))


def test_plan_next__is_what_next_puts_first() -> None:
    """Against `decide_next` of `simulating`."""
    current = round_of(*ASKED)
    bench, state = current.exercise.bench, current.work.state
    planned, whole = plan_next(bench, state), decide_next(bench, state, WHOLE_LOOK)
    first, least = whole.steps[0], min(step.expected_total for step in whole.steps)
    assert first.ids == planned.act.ids
    nearly = [step.ids for step in whole.steps if step.expected_total <= (1 + NEARLY) * least]
    nearly += [step.ids for step in whole.steps[:2]]  # a look that is made before work, whatever it saves
    assert decide_next(bench, state).steps[0].ids in nearly
    assert first.expected_total == pytest.approx(planned.expected_total, rel=1e-3)
    assert planned.why


def test_plan_next__of_a_check_it_says_what_results_would_mean() -> None:
    planned = plan_next(round_of().exercise.bench, round_of().work.state)
    assert "check" == planned.act.kind and planned.outcomes
    assert all(0 < p <= 1 and " Th" in text for p, text in planned.outcomes)
    assert sorted(planned.outcomes, key=lambda one: -one[0]) == list(planned.outcomes)


def test_judge_act__the_planners_own_choice_is_never_dearer() -> None:
    current = round_of(*ASKED, SCAN)
    own = plan_next(current.exercise.bench, current.work.state).act
    made = round_of(*ASKED, SCAN, own).made[-1]
    found = judge_act(current.exercise, made, name_act(current, own))
    assert (True, 0.0, True) == (found.is_same, found.dearer, found.is_as_good)


def test_judge_act__a_choice_is_priced_as_the_planner_prices_it() -> None:
    """A check costs what the planner lists, or what it costs beside the best way on; against `choose_step`."""
    current = round_of()
    bench, state = current.exercise.bench, current.work.state
    prepared = prepare_work(bench, state)
    choice = choose_step(prepared.situation, prepared.oracle, WHOLE_LOOK)
    listed = next(step for step in choice.steps[1:] if step.kind == "check")
    best = min(plan_next(bench, state).expected_total, choice.upper_bound)
    beside = best + listed.cost.total + listed.cost.closing_later
    made = round_of(Move("check", listed.ids)).made[0]
    priced = judge_act(current.exercise, made, "").expected_total
    assert min(listed.expected_total, beside) == pytest.approx(priced, rel=1e-12)


def test_judge_act__what_costs_no_more_than_the_planners_step_is_never_told_as_dearer() -> None:
    """The planner looks before dear work though that costs more by the numbers: then the work is told as better."""
    current = round_of()
    prepared = prepare_work(current.exercise.bench, current.work.state)
    choice = choose_step(prepared.situation, prepared.oracle, WHOLE_LOOK)
    best = min(choice.steps, key=lambda step: step.expected_total)
    one = judge_act(current.exercise, round_of(Move(best.kind, best.ids)).made[0], "")
    assert one.dearer == one.expected_total - one.planned.expected_total <= 1e-9


def test_judge_act__a_look_is_never_dearer_than_its_own_price_and_what_it_opens() -> None:
    """A dipstick first was told as EUR 1,379 dearer: it had taken one of the two looks that are thought ahead."""
    exercise = exercise_of()
    tree = exercise.bench.situation.access
    prepared = prepare_work(exercise.bench, round_of().work.state)
    for check in sorted(prepared.checks)[::9]:
        made = round_of(Move("check", (check,))).made[0]
        one = judge_act(exercise, made, "")
        assert one.dearer <= made.cost + float(tree.close_costs[tree.path_mask(prepared.checks[check].access)]) + 1e-6


def test_judge_act__a_job_that_cannot_help_costs_its_price_and_the_comeback_more() -> None:
    """It changes no belief, so what it adds by expectation is about what it costs: price and comeback."""
    situation = played().exercise.bench.situation
    price = situation.batch_cost((situation.job_index("level_correction"),)) + situation.comeback_cost
    assert price == pytest.approx(judged(2).dearer, rel=0.25)
    assert not judged(2).is_as_good and judged(2).why


def test_judge_act__giving_back_costs_the_owner_who_starts_over() -> None:
    current = round_of(Move("leave"))
    one = judge_act(current.exercise, current.made[0], "Given back")
    assert leaving_cost(current.exercise.bench, round_of().work.state) == one.expected_total
    assert one.dearer > AS_GOOD_MONEY


def test_judge_act__a_check_of_which_the_result_is_known_adds_its_price() -> None:
    current = round_of(SCAN)
    bench = current.exercise.bench
    prepared = prepare_work(bench, current.work.state)
    known = next(
        check for check in bench.situation.checks if check.id not in prepared.checks and check.id != "module_scan"
    )
    made = round_of(SCAN, Move("check", (known.id,))).made[-1]
    one, tree = judge_act(current.exercise, made, ""), bench.situation.access
    best = choose_step(prepared.situation, prepared.oracle, WHOLE_LOOK).upper_bound
    opened = tree.path_mask(bench.compiled.expansion.checks[known.id].access)
    assert best + made.cost + float(tree.close_costs[opened]) == pytest.approx(one.expected_total, rel=1e-9)
    assert "known beforehand" in one.why


def test_judge_round__expectation_choices_and_chance_add_up_to_what_was_spent() -> None:
    told = verdict()
    assert played().spent == pytest.approx(told.expected + told.chosen_dearer + told.luck, abs=1e-6)
    assert told.expected == judged(0).planned.expected_total
    assert sum(one.dearer for one in told.choices) == pytest.approx(told.chosen_dearer, abs=1e-9)


def test_judge_round__says_what_it_was_and_what_the_planner_did() -> None:
    told = verdict()
    assert ("Shift solenoid C sticks off",) == told.causes
    assert "shift solenoid C" in told.says[0] and "{" not in told.says[0]
    assert told.planner_acts[-1] == "Shift solenoid C renewed" and told.planner_run.cured


def test_judge_round__chance_has_no_side_over_many_vehicles() -> None:
    """Checks alone are fair: over its results, weighed with their chances, what is expected after a check is what was
    expected before it, less its price. Here for the results of one check by the planner's own tables."""
    current = round_of()
    prepared = prepare_work(current.exercise.bench, current.work.state)
    table = prepared.oracle.outcomes("module_scan")
    joint = table.likelihoods @ prepared.oracle.belief
    assert 1.0 == pytest.approx(joint.sum(), abs=1e-9)
    posterior = (table.likelihoods * prepared.oracle.belief).sum(axis=0)
    assert np.allclose(prepared.oracle.belief, posterior, atol=1e-9)


def test_list_not_asked__names_what_the_owner_could_have_told_and_was_not_asked() -> None:
    """Each weighed anew: the odds of the truth with the answer, against those without it, from the engine."""
    current = round_of(SCAN)
    told = list_not_asked(current)
    assert told and all(one.decibans >= 3.0 for one in told)
    shown = told[0].shown
    exercise, compiled = current.exercise, current.exercise.bench.compiled
    nodes = compiled.expansion.findings
    name = next(
        key
        for key in nodes
        if shown
        in (
            nodes[key].label,
            f"{nodes[key].label}: yes",
            *(compiled.expansion.name_answer(key, grade) for grade in nodes[key].grades),
        )
        and exercise.vehicle.readings.get(key) is not None
    )
    begun = dict(current.made[0].before.state.evidence)
    odds = []
    for evidence in (begun, {**begun, name: exercise.vehicle.readings[name]}):
        p = compiled.faults.sum_over_causes(compiled.engine.posterior(evidence)[0])[exercise.vehicle.causes[0]]
        odds.append(p / (1 - p))
    assert 10 * np.log10(odds[1] / odds[0]) == pytest.approx(told[0].decibans, abs=1e-6)


def test_is_as_good__within_two_percent_or_two_of_the_currency() -> None:
    planned = Planned(SCAN, "", "", 1000.0)
    assert JudgedAct(IDLE, "", 1019.0, planned).is_as_good
    assert not JudgedAct(IDLE, "", 1021.0, planned).is_as_good
    assert not JudgedAct(IDLE, "", 979.0, planned).is_as_good and -21.0 == JudgedAct(IDLE, "", 979.0, planned).dearer
    assert not JudgedAct(IDLE, "", 1021.0, planned).is_same
    assert JudgedAct(SCAN, "", 1000.0, planned).is_same


def test_judge_act__dear_checks_are_told_as_dear() -> None:
    checks = {check.id for check in exercise_of().bench.situation.checks}
    dearest = max(exercise_of().bench.situation.checks, key=lambda check: check.cost).id
    assert dearest in checks
    made = round_of(Move("check", (dearest,))).made[0]
    one = judge_act(exercise_of(), made, "")
    assert one.dearer > 50.0 and (one.outcomes or one.why)
