"""Lower bounds never pass the optimum."""

import numpy as np
import pytest
from support.models import draw_model, find_optimum
from support.situations import EIGHT_JOBS, ROOT_ONLY, SHOP_TREE, draw_tree_jobs, one_job_per_cause

from shiftlore.planning import Hypotheses, Job, Situation, bound_inside, bound_known_fault, plan_exactly


def test_bound_known_fault__b06_two_jobs_for_one_fault():
    # worked value 1.1: Ottosen and Jensen 2008; .1 * .2 of the vehicles are left and pay 1000 here
    jobs = tuple(Job(f"A{i}", 1.0, 0.0, "standing", np.array([p])) for i, p in enumerate([0.8, 0.9]))
    situation = Situation(Hypotheses.of_single_causes(["f"]), ROOT_ONLY, jobs, uncured_cost=1000.0)
    assert pytest.approx(1.1 + 0.02 * 1000, abs=1e-9) == bound_known_fault(situation, np.ones(1))


def test_bound_known_fault__b05_four_faults():
    cures = np.array([[1, 1, 0, 0], [0, 1, 1, 0], [0, 0, 1, 1]], dtype=float)
    jobs = tuple(Job(f"A{i}", 1.0, 0.0, "standing", cures[i]) for i in range(3))
    situation = Situation(Hypotheses.of_single_causes("abcd"), ROOT_ONLY, jobs, uncured_cost=1e7)
    assert pytest.approx(1.0, abs=1e-9) == bound_known_fault(situation, np.array([0.2, 0.25, 0.4, 0.15]))


@pytest.mark.parametrize("seed", range(60))
def test_bound_known_fault__below_the_optimum_with_checks(seed):
    situation, oracle = draw_model(np.random.default_rng([21, seed]), pairs=2)
    if situation.hypotheses.is_single:
        assert bound_known_fault(situation, oracle.belief) <= find_optimum(situation, oracle) + 1e-9
    else:
        exact = plan_exactly(situation, oracle.belief, situation.ordinary)[0]
        assert bound_known_fault(situation, oracle.belief) <= exact + 1e-9


@pytest.mark.parametrize("test_cost", [0.0, 0.3])
def test_bound_inside__b12_order_with_things_open_plus_one_test(test_cost):
    situation, belief = one_job_per_cause(EIGHT_JOBS, SHOP_TREE, test_cost=test_cost)
    assert pytest.approx(6.483 + test_cost, abs=1e-6) == bound_inside(situation, belief)


@pytest.mark.parametrize("seed", range(40))
def test_bound_inside__below_the_exact_plan(seed):
    rng = np.random.default_rng([22, seed])
    tree, rows = draw_tree_jobs(rng)
    situation, belief = one_job_per_cause(
        rows, tree, test_cost=rng.uniform(0, 1), comeback_cost=rng.uniform(0, 1), uncured_cost=rng.uniform(5, 40),
        opened=tree.path_masks[-1],
    )
    exchange = Job("exchange", rng.uniform(3, 30), 0.0, rows[0][3], np.ones(len(rows)), gives_up=True)
    situation = Situation(**{**_fields(situation), "jobs": (*situation.jobs, exchange)})
    assert bound_inside(situation, belief) <= plan_exactly(situation, belief, situation.ordinary)[0] + 1e-9


def _fields(situation):
    return {name: getattr(situation, name) for name in situation.__dataclass_fields__}


def test_bound_inside__none_where_jobs_overlap():
    jobs = tuple(Job(f"A{i}", 1.0, 0.0, "standing", np.array([1.0])) for i in range(2))
    situation = Situation(Hypotheses.of_single_causes(["f"]), ROOT_ONLY, jobs, uncured_cost=10.0)
    assert bound_inside(situation, np.ones(1)) is None


def test_bound_inside__without_jobs_the_vehicle_leaves():
    situation = Situation(Hypotheses.of_single_causes(["f"]), ROOT_ONLY, (), uncured_cost=10.0)
    assert pytest.approx(10.0, abs=1e-9) == bound_inside(situation, np.ones(1))
