"""Vehicles of a unit, drawn and worked on."""

from functools import cache

import numpy as np
import pytest
from advising.case_bench import unit

from shiftlore.simulating import Action, simulate_unit
from shiftlore.simulating.unit_bench import choose_on_bench, set_up_bench
from shiftlore.simulating.unit_simulation import do_likeliest, draw_vehicles, list_policies, start_work, work_on


@cache
def _bench():
    return set_up_bench(unit())


@cache
def _vehicles():
    return tuple(draw_vehicles(_bench(), 8, np.random.default_rng(3)))


def test_draw_vehicles__each_has_a_fault_and_a_complaint():
    assert all(vehicle.causes and vehicle.complaints for vehicle in _vehicles())


def test_start_work__complaints_are_known_and_weighed():
    state = start_work(_bench(), _vehicles()[0])
    assert set(_vehicles()[0].complaints) <= set(state.evidence)
    assert 1.0 == pytest.approx(state.belief.sum(), abs=1e-9)


def test_work_on__a_check_is_paid_and_all_it_reveals_is_known():
    bench, vehicle, seen = _bench(), _vehicles()[0], []

    def policy(at, state):
        seen.append(state)
        return Action("check", (at.situation.checks[0].id,)) if len(seen) == 1 else Action("leave")

    run = work_on(bench, vehicle, start_work(bench, vehicle), policy, np.random.default_rng(1))
    assert set(bench.reveals[bench.situation.checks[0].id]) <= set(seen[1].evidence)
    assert (1, False) == (run.checks, run.cured)
    assert run.total >= bench.situation.uncured_cost


def test_work_on__sure_job_ends_it():
    bench, vehicle = _bench(), _vehicles()[0]
    cures = bench.situation.cures[:, np.searchsorted(bench.weighing.kept, vehicle.causes[0])]
    job = bench.situation.jobs[int(np.argmax(cures))].id
    runs = [
        work_on(bench, vehicle, start_work(bench, vehicle), lambda at, state: Action("job", (job,))
                if not state.done.any() else Action("leave"), np.random.default_rng(seed)) for seed in range(20)
    ]
    assert len(vehicle.causes) > 1 or any(run.cured for run in runs)


def test_choose_on_bench__repeats_neither_check_nor_job():
    bench = _bench()
    for vehicle in _vehicles()[:4]:
        run = work_on(bench, vehicle, start_work(bench, vehicle), choose_on_bench, np.random.default_rng(1))
        acts = [name for _, ids, _ in run.acts for name in ids]
        assert len(set(acts)) == len(acts)


def test_do_likeliest__checks_nothing():
    assert "check" != do_likeliest(_bench(), start_work(_bench(), _vehicles()[1])).kind


def test_list_policies__planner_first():
    assert "planner" == next(iter(list_policies(_bench())))
    assert 5 == len(list_policies(_bench()))


def test_simulate_unit__planner_costs_owners_less_than_every_habit():
    found = {result.policy: result.mean_total for result in simulate_unit(unit(), 25, 7).policies}
    assert found["planner"] < min(total for name, total in found.items() if name != "planner")


def test_simulate_unit__same_seed_same_result():
    one, two = (simulate_unit(unit(), 3, 2, policies={"planner": choose_on_bench}) for _ in range(2))
    assert one.policies == two.policies
