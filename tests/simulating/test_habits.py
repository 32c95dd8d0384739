"""The habits of shops, on a shipped unit."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from support.trade import unit_of

from shiftlore.simulating.habits import WORTH_TRYING, do_best_value, do_likeliest, list_habits, plan_and_persist
from shiftlore.simulating.unit_bench import LEAVE, Action, WorkState, set_up_bench


@cache
def _bench(unit_id="long5"):
    return set_up_bench(unit_of(unit_id))


def _state(unit_id="long5", **fields):
    situation = _bench(unit_id).situation
    done, checked = np.zeros(len(situation.jobs), dtype=bool), np.zeros(len(situation.checks), dtype=bool)
    return replace(
        _bench(unit_id).believe(WorkState(_bench(unit_id).compiled, np.zeros(0), 0, checked, done)), **fields
    )


def _sure_of(job, unit_id="long5"):
    """A belief under which one job surely helps."""
    touches = _bench(unit_id).situation.touches[_bench(unit_id).situation.job_index(job)]
    belief = np.zeros(touches.shape)
    belief[int(np.argmax(touches))] = 1.0
    return belief


def _follow(habit, unit_id="long5", most=40):
    """What a habit does on a vehicle on which every check finds nothing and nothing is ever sure."""
    bench, state, done = _bench(unit_id), _state(unit_id), []
    for _ in range(most):
        action = habit(bench, state)
        if action.kind != "check":
            return [*done, action]
        done.append(action)
        checked = state.checked.copy()
        checked[bench.situation.check_index(action.ids[0])] = True
        state = replace(state, checked=checked)
    return done


COMPETENT = ["best_value", "careful", "likeliest_cheapest"]


def test_list_habits__the_planner_first_then_the_competent_ways_and_four_habits():
    habits = ["cheapest_check", "likeliest_cause", "fixed_order", "overhaul"]
    assert ["planner", *COMPETENT, *habits] == list(list_habits(_bench()))


@pytest.mark.parametrize("name", COMPETENT)
@pytest.mark.parametrize("unit_id", ["long5", "trans4", "cvt"])
def test_competent__scan_then_road_test_then_fluid(name, unit_id):
    done = _follow(list_habits(_bench(unit_id))[name], unit_id)
    records = _bench(unit_id).compiled.expansion.checks
    looks = [records[action.ids[0]].visit_order for action in done if action.kind == "check"]
    assert [1, 2, 3] == looks[:3]


def _looked(**fields):
    """A state in which the first looks are made."""
    checked = _state().checked.copy()
    records = _bench().compiled.expansion.checks
    checked[[i for i, check in enumerate(_bench().situation.checks) if records[check.id].visit_order]] = True
    return _state(checked=checked, **fields)


def test_best_value__the_most_chance_for_the_money_a_comeback_counted():
    bench, state = _bench(), _looked()
    action, situation = list_habits(bench)["best_value"](bench, state), _bench().situation
    values = []
    for place in range(len(situation.jobs)):
        p = float(bench.stand(state).touches[place] @ state.belief)
        values.append(p / (situation.batch_cost((place,)) + situation.comeback_cost * (1 - p)) if p >= 0.005 else 0.0)
    assert situation.jobs[int(np.argmax(values))].id == action.ids[0]


def test_careful__looks_further_only_while_the_best_job_is_unsure():
    bench = _bench()
    assert "check" == list_habits(bench)["careful"](bench, _looked()).kind
    job = next(job.id for job in bench.situation.jobs if not job.alone and job.cures.max() > 0.9)
    assert "job" == list_habits(bench)["careful"](bench, _looked(belief=_sure_of(job))).kind


def test_likeliest_cheapest__the_cheapest_of_the_jobs_that_cure_it():
    bench = _bench()
    job = next(job.id for job in bench.situation.jobs if not job.alone and job.cures.max() > 0.9)
    state = _looked(belief=_sure_of(job))
    chosen = bench.situation.job_index(list_habits(bench)["likeliest_cheapest"](bench, state).ids[0])
    cause = int(np.argmax(bench.situation.hypotheses.cause_probabilities(state.belief)))
    prices = {j: bench.situation.batch_cost((j,)) for j in np.flatnonzero(bench.situation.cures[:, cause] >= 0.5)}
    assert min(prices.values()) == prices[chosen]


def test_fixed_order__fluid_pan_codes_and_pressure_and_nothing_that_only_sounds_like_them():
    made = [action.ids[0] for action in _follow(list_habits(_bench())["fixed_order"]) if action.kind == "check"]
    assert ["fluid_look", "pan_drop", "generic_scan", "module_scan", "line_pressure_gauge"] == made[:5]
    records = _bench().compiled.expansion.checks
    assert [1, 2, 3, 3, 4] == [records[check].habit_order for check in made[:5]]
    assert not {"back_pressure_test", "converter_clutch_by_scan", "pressure_switch_look"} & set(made[:5])


@pytest.mark.parametrize("unit_id", ["long5", "long8"])
def test_fixed_order__behind_the_habit_from_the_least_taken_apart_to_the_most(unit_id):
    bench = _bench(unit_id)
    made = [action.ids[0] for action in _follow(list_habits(bench)["fixed_order"], unit_id) if action.kind == "check"]
    orders = [bench.compiled.expansion.checks[check].habit_order for check in made]
    rest = [
        bench.situation.check_masks[bench.situation.check_index(check)].bit_count()
        for check, order in zip(made, orders, strict=True)
        if not order
    ]
    assert rest == sorted(rest)
    assert 0 not in orders[: sum(order > 0 for order in orders)]


def test_fixed_order__stops_checking_when_one_job_is_sure_enough():
    job = next(job.id for job in _bench().situation.jobs if not job.alone and job.cures.max() > 0.9)
    action = list_habits(_bench())["fixed_order"](_bench(), _state(belief=_sure_of(job)))
    assert "job" == action.kind


def test_cheapest_check__counts_the_opening():
    bench = _bench()
    first = list_habits(bench)["cheapest_check"](bench, _state())
    costs = {check.id: bench.situation.reach_check(i, 0)[0] for i, check in enumerate(bench.situation.checks)}
    assert min(costs.values()) == costs[first.ids[0]]


def test_cheapest_check__gives_up_checking_after_so_many():
    assert "job" == _follow(list_habits(_bench())["cheapest_check"])[-1].kind


def test_do_likeliest__checks_nothing_and_does_what_most_probably_helps():
    job = next(job.id for job in _bench().situation.jobs if not job.alone and job.cures.max() > 0.9)
    state = _state(belief=_sure_of(job))
    action = do_likeliest(_bench(), state)
    assert "job" == action.kind
    p = _bench().situation.touches @ state.belief
    assert p[_bench().situation.job_index(action.ids[0])] >= max(WORTH_TRYING, p[_bench().situation.job_index(job)])


def test_do_likeliest__the_cheapest_last_resort_where_nothing_is_worth_trying():
    situation = _bench().situation
    done = ~np.isin(np.arange(len(situation.jobs)), _bench().exchanges)
    action = do_likeliest(_bench(), _state(done=done))
    costs = {situation.jobs[job].id: situation.batch_cost((job,)) for job in _bench().exchanges}
    assert min(costs.values()) == costs[action.ids[0]]


def test_do_likeliest__leaves_it_when_all_is_done():
    assert LEAVE == do_likeliest(_bench(), _state(done=np.ones(len(_bench().situation.jobs), dtype=bool)))


def test_overhaul__at_once_then_what_is_likeliest():
    bench, habit = _bench(), list_habits(_bench())["overhaul"]
    first = habit(bench, _state())
    assert ("job", True) == (first.kind, bench.compiled.expansion.jobs[first.ids[0]].by_habit)
    done = _state().done.copy()
    done[bench.situation.job_index(first.ids[0])] = True
    later = _state(done=done)
    assert do_likeliest(bench, later) == habit(bench, later) != first


def _uncured_at(cost):
    """The bench where an uncured vehicle costs so much."""
    return replace(_bench(), situation=_bench().situation.vary(uncured_cost=cost))


def test_plan_and_persist__leaves_it_where_no_job_is_worth_its_price():
    bench, state = _uncured_at(0.0), _state()
    assert LEAVE == do_best_value(bench, state) == plan_and_persist(bench, state)


@pytest.mark.parametrize("uncured", [300.0, 1000.0, 8000.0])
def test_do_best_value__does_what_costs_less_than_it_takes_off(uncured):
    # by hand: the price of a job, a comeback counted, against its chance times what an uncured vehicle costs
    bench, state = _uncured_at(uncured), _looked()
    situation, pays = bench.situation, []
    for place, job in enumerate(situation.jobs):
        p = float(bench.stand(state).touches[place] @ state.belief)
        price = situation.batch_cost((place,)) + situation.comeback_cost * (1 - p)
        pays += [job.id] if price < p * uncured else []
    action = do_best_value(bench, state)
    assert bool(pays) == (action.kind == "job")
    assert set(action.ids) <= set(pays)


def test_careful__looks_further_before_it_leaves_a_vehicle():
    bench, state = _uncured_at(100.0), _looked()
    assert LEAVE == do_best_value(bench, state)
    assert "check" == list_habits(bench)["careful"](bench, state).kind


def test_action__what_is_left_to_do_is_named():
    assert ("leave", ()) == (LEAVE.kind, Action("leave").ids)
