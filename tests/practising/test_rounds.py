"""A round as a state machine: what is known, what is paid, what stays possible; held against `simulating`."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from support.practice import exercise_of, round_of

from shiftlore.basics import UsageProblem
from shiftlore.practising import (
    IN_ORDER,
    NOT_FOUND,
    Move,
    Round,
    begin_round,
    introduce,
    list_checks,
    list_jobs,
    name_act,
    run_planner,
)
from shiftlore.practising.rounds import P_TINY, check_act, follow, p_truth, replay, sort_shown, weigh_told
from shiftlore.simulating import Action, plan_and_persist, start_work, work_on

SCAN = Move("check", ("module_scan",))
CURE = Move("job", ("replace_shift_solenoid_sol_c",))
IDLE = Move("job", ("level_correction",))


def test_begin_round__the_first_complaints_are_known_and_no_more() -> None:
    current = round_of()
    said = [name for one in current.complaints[:3] for name in (one.finding, *one.covers)]
    assert set(said) == set(current.work.state.evidence)
    assert 3 == len(introduce(current))


def test_follow__anything_else_names_the_rest_and_then_no_more() -> None:
    current, more = round_of(), Move("more")
    for _ in range(len(current.complaints)):
        current = follow(current, more).round
    assert set(current.exercise.vehicle.complaints) == set(current.work.state.evidence)
    assert ("No, that is all.",) == follow(current, more).says


def test_follow__an_answer_is_known_and_costs_nothing() -> None:
    done = follow(round_of(), Move("ask", ("slips",))).round
    assert 0 == done.work.state.evidence["slips"]
    assert (0.0, 0.0) == (done.spent, done.minutes)


def test_follow__a_check_costs_what_the_planner_reckons_and_shows_all_that_it_reveals() -> None:
    current = round_of()
    situation = current.exercise.bench.situation
    cost, minutes, _ = situation.reach_check(situation.check_index("module_scan"), 0)
    done = follow(current, SCAN)
    assert (cost, minutes) == (done.round.spent, done.round.minutes)
    assert set(current.exercise.bench.reveals["module_scan"]) <= set(done.round.work.state.evidence)
    assert "Code: shift solenoid C stuck or not working right" in done.says[0]


def test_follow__what_a_check_has_shown_outdoes_an_unsure_owner() -> None:
    exercise = exercise_of(4, 3)
    reveals = exercise.bench.reveals
    check, name = next((key, name) for key, names in reveals.items() for name in names if name in exercise.unsure)
    seen = follow(follow(begin_round(exercise), Move("ask", (name,))).round, Move("check", (check,))).round
    assert exercise.vehicle.readings[name] == seen.work.state.evidence[name]
    assert seen.work.state.evidence == follow(seen, Move("ask", (name,))).round.work.state.evidence


def test_follow__the_right_job_ends_it() -> None:
    done = round_of(SCAN, CURE)
    assert ("cured", True, True) == (done.outcome, done.found, done.made[-1].cured)
    with pytest.raises(UsageProblem, match="The round is over"):
        follow(done, SCAN)


def test_follow__a_job_in_vain_costs_a_comeback_and_is_ruled_out() -> None:
    done = round_of(IDLE)
    situation = done.exercise.bench.situation
    place = situation.job_index("level_correction")
    assert situation.batch_cost((place,)) + situation.comeback_cost == pytest.approx(done.spent, rel=1e-12)
    assert "" == done.outcome
    assert IDLE.ids[0] not in [act.ids[0] for act in list_jobs(done)]


def test_follow__giving_it_back_counts_the_owner_who_starts_over() -> None:
    done = round_of(Move("leave"))
    assert ("left", False) == (done.outcome, done.found)
    assert done.exercise.bench.situation.uncured_cost == done.spent
    assert ("given_up", "Given up") == (round_of(Move("give_up")).outcome, name_act(done, Move("give_up")))


def test_follow__the_right_suspicion_is_found_though_nothing_was_repaired() -> None:
    cause = exercise_of().causes[0]
    other = next(key for key in exercise_of().bench.compiled.causes if key != cause)
    assert round_of(Move("think", (cause,)), Move("leave")).found
    assert not round_of(Move("think", (cause,)), Move("think", (other,)), Move("leave")).found


def test_follow__hints_are_counted() -> None:
    assert 2 == round_of(Move("hint"), SCAN, Move("hint")).hints


def test_follow__the_same_hint_counts_once() -> None:
    """Nothing new is known after a suspicion, or a question that was asked before."""
    cause, again = Move("think", exercise_of().causes), Move("ask", ("worse_cold",))
    for between in ((), (cause,), (again,)):
        assert 1 == round_of(again, Move("hint"), *between, Move("hint")).hints


@pytest.mark.parametrize(
    ("acts", "wrong", "told"),
    [
        ((SCAN,), SCAN, "was made already"),
        ((IDLE,), IDLE, "was done already"),
        ((), Move("check", ("crystal_ball",)), "no check crystal_ball"),
        ((), Move("job", ("new_car",)), "no job new_car"),
        ((), Move("job", (*IDLE.ids, *IDLE.ids)), "stands there twice"),
        ((), Move("ask", ("mood",)), "no finding mood"),
        ((), Move("think", ("gremlins",)), "cannot have gremlins"),
        ((), Move("sing"), "nothing that can be done here"),
        ((), Move("check"), "nothing that can be done here"),
    ],
)
def test_check_act__what_cannot_be_done_is_told(acts: tuple[Move, ...], wrong: Move, told: str) -> None:
    with pytest.raises(UsageProblem, match=told):
        check_act(round_of(*acts), wrong)


def test_check_act__what_stands_alone_is_not_joined() -> None:
    situation = exercise_of().bench.situation
    alone = next(job.id for job in situation.jobs if job.alone)
    with pytest.raises(UsageProblem, match="by itself"):
        check_act(round_of(), Move("job", (alone, *IDLE.ids)))


def test_replay__the_planners_own_choices_cost_what_simulate_reckons() -> None:
    """Against `simulating.work_on`, which runs the same vehicle with the planner's habit."""
    exercise = exercise_of()
    start = start_work(exercise.bench, exercise.vehicle, exercise.tell_all())
    run = work_on(exercise.bench, exercise.vehicle, start, plan_and_persist, exercise.luck)
    typed = replay(exercise, [Move(kind, ids) for kind, ids, _ in run.acts])
    assert run.total == pytest.approx(typed.spent, rel=1e-12)
    assert run.labour_minutes == pytest.approx(typed.minutes, rel=1e-12)
    assert run == run_planner(exercise).run


def test_replay__a_dear_way_costs_what_simulate_reckons() -> None:
    exercise = exercise_of(3, 5)
    acts = [act for act in list_checks(begin_round(exercise))[::30] if act.kind == "check"]
    acts += list_jobs(begin_round(exercise))[:3]
    waiting = [Action(act.kind, act.ids) for act in acts]
    start = start_work(exercise.bench, exercise.vehicle, exercise.tell_all())
    run = work_on(
        exercise.bench, exercise.vehicle, start,
        lambda at, state: waiting.pop(0) if waiting else Action("leave"), exercise.luck,
    )  # fmt: skip
    typed = replay(exercise, [*acts, Move("leave")])
    assert run.total == pytest.approx(typed.spent, rel=1e-12)
    assert [not cured for _, _, cured in run.acts] == [not made.cured for made in typed.made[:-1]]


def test_weigh_told__is_ten_times_the_logarithm_of_the_odds() -> None:
    """Source: Good 1950; odds worked out here from the engine's posterior."""
    exercise = exercise_of()
    current = round_of()
    after = follow(current, SCAN).round
    compiled, cause = exercise.bench.compiled, exercise.vehicle.causes[0]
    odds = []
    for state in (current.work.state, after.work.state):
        p = compiled.faults.sum_over_causes(compiled.engine.posterior(dict(state.evidence))[0])[cause]
        odds.append(p / (1 - p))
    expected = 10 * np.log10(odds[1] / odds[0])
    assert expected == pytest.approx(weigh_told(exercise, current.work, after.work.state), abs=1e-6)
    assert expected == pytest.approx(after.made[0].decibans, abs=1e-6)


ACTS = st.lists(st.integers(0, 10_000), min_size=1, max_size=5)


@given(picks=ACTS, seed=st.integers(0, 3))
@settings(max_examples=12, deadline=None)
def test_follow__belief_never_contradicts_the_truth_and_money_adds_up(picks: list[int], seed: int) -> None:
    current = round_of(level=4, seed=seed)
    spent = 0.0
    for pick in picks:
        choices = [*list_checks(current), *list_jobs(current), Move("more"), Move("hint")]
        choices += [Move("ask", (name,)) for name in list(current.exercise.vehicle.readings)[:40]]
        act = choices[pick % len(choices)]
        before = len(current.made)
        current = follow(current, act).round
        spent += sum(one.cost for one in current.made[before:])
        assert spent == pytest.approx(current.spent, rel=1e-12)
        assert all(one.cost >= 0 and one.minutes >= 0 for one in current.made)
        if current.outcome:
            break
        assert np.all(p_truth(current.exercise, current.work.left, current.work.state) > P_TINY)


def showing(**states: int) -> Round:
    """Give a round on the usual vehicle with these readings changed."""
    exercise = exercise_of()
    vehicle = replace(exercise.vehicle, readings={**exercise.vehicle.readings, **states})
    return begin_round(replace(exercise, vehicle=vehicle))


def test_sort_shown__a_scan_that_found_codes_does_not_list_that_it_found_none() -> None:
    """Beside codes that were found, "in order: no codes" was read as that there are none."""
    names = ["no_codes_module_scan", "code_misfire", "engine_codes"]
    told = sort_shown(showing(code_misfire=1, no_codes_module_scan=0, engine_codes=0), names)
    assert {"checks": ["Code: misfire"], "sound": [], "absent": []} == told
    found_none = sort_shown(showing(code_misfire=0, no_codes_module_scan=1), names[:1])
    assert ["No codes by a scan of the transmission module"] == found_none["checks"]


def test_sort_shown__only_what_was_measured_is_in_order() -> None:
    told = sort_shown(showing(fluid_level=0, fluid_smell_burnt=0), ["fluid_level", "fluid_smell_burnt"])
    assert {"checks": [], "sound": ["Fluid level: right"], "absent": ["Fluid smells burnt"]} == told


def test_sort_shown__no_reverse_is_not_had_at_once() -> None:
    told = sort_shown(showing(no_reverse=1), ["no_reverse", "engage_delay_reverse"])
    assert {"checks": ["No reverse"], "sound": [], "absent": []} == told


def test_sort_shown__what_a_sign_says_in_general_is_not_named_beside_it() -> None:
    names = ["code_electrical_any", "code_speed_sensor_output_speed"]
    assert 1 == len(sort_shown(showing(**dict.fromkeys(names, 1)), names)["checks"])
    assert 1 == len(sort_shown(showing(code_electrical_any=1, code_speed_sensor_output_speed=0), names)["checks"])


def test_follow__a_check_says_apart_what_is_right_and_what_was_not_found() -> None:
    checks = list_checks(round_of())[:16]
    heads = [[text.partition(":")[0] for text in follow(round_of(), act).says] for act in checks]
    assert {"It shows nothing wrong.", "It shows"} >= {first for first, *_ in heads}
    ways = {tuple(rest) for _, *rest in heads}
    assert {(IN_ORDER,), (NOT_FOUND,), (IN_ORDER, NOT_FOUND), ()} >= ways and {IN_ORDER, NOT_FOUND} <= {*sum(ways, ())}


def test_follow__who_denied_a_noise_in_general_names_the_one_that_there_is() -> None:
    current = showing(noise_any=0, noise_whine=1)
    done = follow(current, Move("ask", ("noise_any",)))
    assert done.says[0].startswith("Yes. ") and done.round.work.state.evidence["noise_whine"] == 1
    assert "noise_any" not in done.round.work.state.evidence
