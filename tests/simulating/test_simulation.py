"""Simulated vehicles."""

from dataclasses import dataclass, replace

import numpy as np
import pytest
from support.models import draw_model, follow_planner
from support.situations import flat_jobs, one_job_per_cause

from shiftlore.planning import Check, Outcomes, TableOracle
from shiftlore.simulating import (
    Action,
    DrawnVehicle,
    QuickPlanner,
    Run,
    likeliest_cause_first,
    run_vehicle,
    simulate_policies,
    summarise_runs,
)
from shiftlore.simulating import follow_planner as planner_policy


@dataclass
class _Scripted:
    """A vehicle that answers 0 to everything and is cured by one job."""

    cured_by: str

    def answer(self, check_id):
        return 0

    def repair(self, job_ids):
        return self.cured_by in job_ids


def _bench():
    situation, belief = one_job_per_cause(
        flat_jobs([0.6, 0.4], [100, 200]), test_cost=10, test_minutes=20, comeback_cost=50, uncured_cost=1000
    )
    situation = replace(situation, checks=(Check("scan", 15, 8, "standing"),))
    table = Outcomes(("a", "b"), np.array([[0.9, 0.2], [0.1, 0.8]]))
    return situation, TableOracle(situation.hypotheses, belief, {"scan": table})


def test_run_vehicle__second_job_cures():
    run = run_vehicle(*_bench(), _Scripted("job1"), likeliest_cause_first)
    # 100 + 10 + 50 comeback + 200 + 10
    assert (370.0, True, 0) == (run.total, run.cured, run.checks)
    assert 40.0 == run.labour_minutes
    assert (("job", ("job0",), 0), ("job", ("job1",), 1)) == run.acts


def test_run_vehicle__nothing_cures():
    run = run_vehicle(*_bench(), _Scripted("none"), likeliest_cause_first)
    assert (110 + 50 + 210 + 50 + 1000, False) == (run.total, run.cured)


def test_run_vehicle__check_is_paid_and_its_answer_used():
    policy = lambda s, o: Action("check", ("scan",)) if s.checks else likeliest_cause_first(s, o)  # noqa: E731
    run = run_vehicle(*_bench(), _Scripted("job0"), policy)
    assert (125.0, 1, 28.0) == (run.total, run.checks, run.labour_minutes)


def test_run_vehicle__leaving_at_once_costs_an_uncured_vehicle():
    run = run_vehicle(*_bench(), _Scripted("job0"), lambda s, o: Action("leave"))
    assert (1000.0, False, ()) == (run.total, run.cured, run.acts)


def _draw_from(situation, oracle):
    tables = {name: outcomes.likelihoods for name, outcomes in oracle.tables.items()}

    def draw(rng):
        hypothesis = int(rng.choice(len(oracle.belief), p=oracle.belief))
        return situation, oracle, lambda luck: DrawnVehicle(situation, hypothesis, tables, luck)

    return draw


@pytest.mark.parametrize("seed", [3, 8])
def test_simulate_policies__mean_agrees_with_the_expected_total(seed):
    situation, oracle = draw_model(np.random.default_rng([91, seed]), causes=4, jobs=3, checks=2)
    (result,) = simulate_policies(_draw_from(situation, oracle), {"planner": planner_policy()}, 400, 5)
    expected = follow_planner(situation, oracle)
    standard_error = (result.high - result.low) / (2 * 1.96)
    assert abs(result.mean_total - expected) <= 4 * standard_error


def test_simulate_policies__planner_costs_less_than_the_habit():
    situation, oracle = _bench()
    planner, habit = simulate_policies(
        _draw_from(situation, oracle), {"planner": QuickPlanner(), "likeliest": likeliest_cause_first}, 300, 1
    )
    assert planner.mean_total < habit.mean_total
    assert ("planner", 300, 1.0) == (planner.policy, planner.vehicles, planner.share_cured)


def test_simulate_policies__same_seed_same_result():
    draw = _draw_from(*_bench())
    one, two = (simulate_policies(draw, {"planner": QuickPlanner()}, 50, 7) for _ in range(2))
    assert one == two


def test_drawn_vehicle__a_pair_needs_both_jobs():
    situation, _ = _bench()
    hypotheses = replace(situation.hypotheses, members=((0,), (1,), (0, 1)))
    situation = replace(situation, hypotheses=hypotheses)
    vehicle = DrawnVehicle(situation, 2, {}, np.random.default_rng(1))
    assert [False, True] == [vehicle.repair(("job0",)), vehicle.repair(("job1",))]


def test_summarise_runs__interval_by_hand():
    result = summarise_runs("p", [Run(100, True, 1, 10, ()), Run(300, False, 3, 30, ())])
    # mean 200, deviation 141.42, standard error 100
    assert pytest.approx((200, 200 - 195.996398, 200 + 195.996398), abs=1e-5) == (
        result.mean_total, result.low, result.high
    )
    assert (0.5, 2.0, 20.0) == (result.share_cured, result.mean_checks, result.mean_labour_minutes)
