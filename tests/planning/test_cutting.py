"""Cutting a fixed order into batches."""

from itertools import product

import numpy as np
import pytest
from support.models import draw_model
from support.situations import EIGHT_JOBS, SHOP_TREE, draw_tree_jobs, one_job_per_cause

from shiftlore.planning import evaluate_plan
from shiftlore.planning.batches import end_plan
from shiftlore.planning.cutting import cut_orders


def _every_cut(order):
    """Every way to cut an order into batches."""
    for cuts in product([False, True], repeat=len(order) - 1):
        batches = [[order[0]]]
        for job, cut in zip(order[1:], cuts, strict=True):
            batches.append([job]) if cut else batches[-1].append(job)
        yield tuple(tuple(batch) for batch in batches)


@pytest.mark.parametrize(("test_cost", "total"), [(0.0, 7.453), (0.3, 8.224)])
def test_cut_orders__b12_bottom_up_order_cut_optimally(test_cost, total):
    situation, belief = one_job_per_cause(EIGHT_JOBS, SHOP_TREE, test_cost=test_cost)
    found, plans = cut_orders(situation, belief[None], np.array([[0, 1, 2, 3, 5, 4, 7, 6]]))
    assert pytest.approx(total, abs=1e-9) == found[0]
    assert pytest.approx(total, abs=1e-9) == evaluate_plan(situation, belief, plans[0]).expected_total


@pytest.mark.parametrize("seed", range(30))
def test_cut_orders__b20_equals_every_cut_of_the_order(seed):
    # when to test, for a fixed order: Ottosen and Jensen 2010
    rng = np.random.default_rng(seed)
    tree, rows = draw_tree_jobs(rng)
    situation, belief = one_job_per_cause(rows, tree, test_cost=rng.uniform(0, 2), comeback_cost=rng.uniform(0, 2))
    order = rng.permutation(len(rows))
    best = min(evaluate_plan(situation, belief, cut).expected_total for cut in _every_cut([int(j) for j in order]))
    assert best == pytest.approx(cut_orders(situation, belief[None], order[None])[0][0], abs=1e-9)


@pytest.mark.parametrize("seed", range(20))
def test_cut_orders__places_the_end_well(seed):
    rng = np.random.default_rng([4, seed])
    situation, oracle = draw_model(rng, pairs=2)
    order = rng.permutation(situation.ordinary)
    heads = {cut[:length] for cut in _every_cut([int(j) for j in order]) for length in range(len(cut) + 1)}
    best = min(end_plan(situation, oracle.belief, head)[0] for head in heads)
    assert best == pytest.approx(cut_orders(situation, oracle.belief[None], order[None])[0][0], abs=1e-9)


def test_cut_orders__many_beliefs_at_once_as_one_by_one():
    rng = np.random.default_rng(2)
    situation, _ = one_job_per_cause(EIGHT_JOBS, SHOP_TREE, test_cost=0.3)
    weights = rng.dirichlet(np.ones(8), 5)
    orders = np.array([rng.permutation(8) for _ in range(5)])
    together = cut_orders(situation, weights, orders)[0]
    alone = [cut_orders(situation, weights[i : i + 1], orders[i : i + 1])[0][0] for i in range(5)]
    assert alone == pytest.approx(together, abs=1e-9)


def test_cut_orders__totals_scale_with_the_weights():
    situation, belief = one_job_per_cause(EIGHT_JOBS, SHOP_TREE, test_cost=0.3)
    order = np.arange(8)[None]
    whole, tenth = (cut_orders(situation, w, order)[0][0] for w in (belief[None], 0.1 * belief[None]))
    assert 0.1 * whole == pytest.approx(tenth, rel=1e-9)
