"""Vehicles of a unit, drawn and worked on."""

from functools import cache

import numpy as np
import pytest
from support.trade import unit_of

from shiftlore.simulating import simulate_unit
from shiftlore.simulating.habits import do_likeliest, plan_and_persist
from shiftlore.simulating.simulation import (
    Run,
    draw_luck,
    draw_vehicles,
    start_work,
    summarise_runs,
    work_on,
)
from shiftlore.simulating.unit_bench import Action, set_up_bench


@cache
def _bench():
    return set_up_bench(unit_of())


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

    run = work_on(bench, vehicle, start_work(bench, vehicle), policy, draw_luck(bench, vehicle, (1, 0)))
    assert set(bench.reveals[bench.situation.checks[0].id]) <= set(seen[1].evidence)
    assert (1, False) == (run.checks, run.cured)
    assert run.total >= bench.situation.uncured_cost


def test_work_on__sure_job_ends_it():
    bench, vehicle = _bench(), _vehicles()[0]
    cures = bench.situation.cures[:, np.searchsorted(bench.weighing.kept, vehicle.causes[0])]
    job = bench.situation.jobs[int(np.argmax(cures))].id
    runs = [
        work_on(
            bench,
            vehicle,
            start_work(bench, vehicle),
            lambda at, state: Action("job", (job,)) if not state.done.any() else Action("leave"),
            draw_luck(bench, vehicle, (seed, 0)),
        )
        for seed in range(20)
    ]
    assert len(vehicle.causes) > 1 or any(run.cured for run in runs)


def test_plan_and_persist__repeats_neither_check_nor_job():
    bench = _bench()
    for vehicle in _vehicles()[:1]:
        run = work_on(bench, vehicle, start_work(bench, vehicle), plan_and_persist, draw_luck(bench, vehicle, (1, 0)))
        acts = [name for _, ids, _ in run.acts for name in ids]
        assert len(set(acts)) == len(acts)


def test_simulate_unit__planner_costs_owners_less_than_the_habits_of_a_shop():
    """Beside the competent ways the difference needs hundreds of vehicles: README, and `shiftlore simulate`."""
    ways = ["planner", "fixed_order", "overhaul"]
    found = {result.policy: result.mean_total for result in simulate_unit(unit_of(), 4, 7, only=ways).policies}
    assert found["planner"] < min(total for name, total in found.items() if name != "planner")


@cache
def _two_vehicles():
    """Two vehicles worked on in two ways, and what was told of it."""
    told = []
    return simulate_unit(unit_of(), 2, 5, only=["overhaul", "planner"], tell_done=told.append), told


def test_simulate_unit__same_seed_same_result():
    again = simulate_unit(unit_of(), 2, 5, only=["overhaul", "planner"])
    assert again.policies == _two_vehicles()[0].policies


def test_simulate_unit__only_the_ways_asked_for_and_every_vehicle_told():
    result, told = _two_vehicles()
    assert ["planner", "overhaul"] == [policy.policy for policy in result.policies]
    assert ([1, 2], 2, "long5") == (told, result.vehicles, result.unit)


def _fixed(*actions):
    """A way of working that does these acts and then lets the vehicle go."""
    waiting = list(actions)
    return lambda at, state: waiting.pop(0) if waiting else Action("leave")


def test_work_on__leaving_at_once_costs_an_uncured_vehicle():
    bench, vehicle = _bench(), _vehicles()[0]
    run = work_on(bench, vehicle, start_work(bench, vehicle), _fixed(), draw_luck(bench, vehicle, (1, 0)))
    assert (bench.situation.uncured_cost, False, 0, ()) == (run.total, run.cured, run.checks, run.acts)


def test_work_on__a_job_in_vain_costs_its_batch_and_a_comeback():
    bench = _bench()
    vehicle = next(vehicle for vehicle in _vehicles() if len(vehicle.causes) == 1)
    cures = bench.situation.cures[:, np.searchsorted(bench.weighing.kept, vehicle.causes[0])]
    idle = int(np.flatnonzero(cures == 0.0)[0])
    act = Action("job", (bench.situation.jobs[idle].id,))
    run = work_on(bench, vehicle, start_work(bench, vehicle), _fixed(act), draw_luck(bench, vehicle, (1, 0)))
    situation = bench.situation
    expected = situation.batch_cost((idle,)) + situation.comeback_cost + situation.uncured_cost
    assert expected == pytest.approx(run.total, rel=1e-12)
    assert situation.batch_minutes((idle,)) == pytest.approx(run.labour_minutes, rel=1e-12)
    assert (("job", act.ids, 0),) == run.acts


def test_work_on__checks_that_share_an_opening_pay_it_once():
    bench, vehicle = _bench(), _vehicles()[0]
    situation = bench.situation
    shared = max((m for m in situation.check_masks if m), key=situation.check_masks.count)
    pair = [i for i, m in enumerate(situation.check_masks) if m == shared and not situation.checks[i].needs_closed][:2]
    acts = [Action("check", (situation.checks[i].id,)) for i in pair]
    run = work_on(bench, vehicle, start_work(bench, vehicle), _fixed(*acts), draw_luck(bench, vehicle, (1, 0)))
    own = sum(situation.checks[i].cost for i in pair)
    expected = own + float(situation.access.round_trip(shared)) + situation.uncured_cost
    assert expected == pytest.approx(run.total, rel=1e-12)


RUNS = [Run(100, True, 1, 10, ()), Run(300, False, 3, 30, ())]


def test_draw_luck__the_same_job_comes_out_the_same_in_every_way_of_working():
    """What two ways share must not differ by chance: the difference of equal ways is nothing, on every vehicle."""
    ways = {"one": do_likeliest, "two": lambda at, state: do_likeliest(at, state)}
    _, two = simulate_unit(unit_of(), 12, 4, policies=ways).policies
    assert (0.0, 0.0, 0.0) == (two.dearer, two.dearer_low, two.dearer_high)


def test_summarise_runs__differences_are_taken_vehicle_by_vehicle():
    later = [Run(150, True, 1, 10, ()), Run(350, False, 3, 30, ())]
    result = summarise_runs("p", later, RUNS)
    assert (50.0, 50.0, 50.0) == (result.dearer, result.dearer_low, result.dearer_high)


def test_summarise_runs__interval_by_hand():
    result = summarise_runs("p", RUNS, RUNS)
    # mean 200, deviation 141.42, standard error 100
    assert pytest.approx((200, 200 - 195.996398, 200 + 195.996398), abs=1e-5) == (
        result.mean_total,
        result.low,
        result.high,
    )
    assert (0.5, 2.0, 20.0) == (result.share_cured, result.mean_checks, result.mean_labour_minutes)


def test_summarise_runs__one_run_has_no_spread():
    result = summarise_runs("p", RUNS[:1], RUNS[:1])
    assert (100.0, 100.0, 100.0) == (result.low, result.mean_total, result.high)


def test_draw_luck__jobs_of_one_kind_come_out_alike():
    bench, vehicle = _bench(), _vehicles()[0]
    luck, kinds = draw_luck(bench, vehicle, (1, 0)), [job.kind for job in bench.situation.jobs]
    alike = [
        place
        for place, kind in enumerate(kinds)
        if kind == bench.situation.jobs[bench.situation.job_index("plain_service")].kind
    ]
    assert len(alike) > 3 and (luck[:, alike] == luck[:, alike[:1]]).all()
    assert len({*luck[0].tolist()}) == len({job.kind or job.id for job in bench.situation.jobs})
