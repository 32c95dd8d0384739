"""The batch programme by counts per level."""

import numpy as np
import pytest
from support.situations import EIGHT_JOBS, SHOP_TREE, draw_tree_jobs, one_job_per_cause

from shiftlore.planning import AccessNode, AccessTree, evaluate_plan, plan_exactly
from shiftlore.planning.counting import count_steps, plan_by_counts


def _groups(rows):
    levels = {}
    for job, row in enumerate(rows):
        levels.setdefault(row[3], []).append(job)
    return [sorted(group, key=lambda job: -rows[job][1] / rows[job][2]) for group in levels.values()]


def test_plan_by_counts__b13_keeps_p_over_c_order_and_pays_for_it():
    tree = AccessTree((AccessNode("standing"), AccessNode("cluster", "standing", 6.0, 0.0)))
    rows = [("a0", 0.4, 9, "cluster"), ("a1", 0.4, 7, "cluster"), ("a2", 0.2, 5, "cluster")]
    situation, belief = one_job_per_cause(rows, tree)
    assert pytest.approx(24.2, abs=1e-9) == plan_by_counts(situation, belief, _groups(rows))[0]


@pytest.mark.parametrize(("test_cost", "total"), [(0.0, 7.453), (0.3, 8.224)])
def test_plan_by_counts__b12_worked_example(test_cost, total):
    situation, belief = one_job_per_cause(EIGHT_JOBS, SHOP_TREE, test_cost=test_cost)
    assert pytest.approx(total, abs=1e-9) == plan_by_counts(situation, belief, _groups(EIGHT_JOBS))[0]


def test_plan_by_counts__b13_within_two_percent_of_exact_on_random_trees():
    # 300 random trees of the source: exact in 95 %, 0.95 % above at worst
    ratios = []
    for seed in range(60):
        rng = np.random.default_rng(seed)
        tree, rows = draw_tree_jobs(rng)
        situation, belief = one_job_per_cause(rows, tree, test_cost=rng.uniform(0, 1))
        exact = plan_exactly(situation, belief, range(len(rows)))[0]
        ratios.append(plan_by_counts(situation, belief, _groups(rows))[0] / exact)
    assert min(ratios) >= 1 - 1e-9
    assert max(ratios) < 1.02
    assert np.mean(np.array(ratios) < 1 + 1e-9) > 0.85


def test_plan_by_counts__total_is_what_its_batches_cost():
    situation, belief = one_job_per_cause(EIGHT_JOBS, SHOP_TREE, test_cost=0.3, comeback_cost=0.4, opened=2)
    total, batches = plan_by_counts(situation, belief, _groups(EIGHT_JOBS))
    assert total == pytest.approx(evaluate_plan(situation, belief, batches).expected_total, abs=1e-9)


def test_count_steps__pairs_of_states():
    # one level of 2 jobs: states 0, 1, 2; ordered pairs with the later not smaller: 6
    assert 6 == count_steps([2])
    assert 18 == count_steps([2, 1])
