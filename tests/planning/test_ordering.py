"""Orders by probability over cost, against brute force and published examples."""

from dataclasses import replace
from itertools import combinations, pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from support.exact_solver import draw_hard, find_exactly
from support.models import draw_model, find_optimum, make_alike
from support.situations import (
    EIGHT_JOBS,
    ROOT_ONLY,
    SHOP_TREE,
    cost_inside,
    cost_of_order,
    draw_tree_jobs,
    every_order,
    flat_jobs,
    one_job_per_cause,
    order_plainly,
    single_causes,
)

from shiftlore.planning import AccessNode, AccessTree, Hypotheses, PricedJob, Situation
from shiftlore.planning.batches import evaluate_plan, plan_exactly
from shiftlore.planning.ordering import (
    bound_each_fault,
    bound_inside,
    bound_known_fault,
    carry_out_inside,
    order_by_access,
    order_with_updates,
)


def _order_rows(rows, tree, opened=0):
    levels = [tree.index[row[3]] for row in rows]
    return order_by_access([row[1] for row in rows], [row[2] for row in rows], levels, tree, opened).tolist()


def test_order_by_access__b01_p_over_c_order():
    # rule: Kadane and Simon 1977; numbers constructed, minimum by brute force
    p, costs = [0.4, 0.3, 0.2, 0.1], [8, 2, 5, 0.5]
    assert (3, 1, 0, 2) == order_plainly(p, costs)
    assert pytest.approx(8.1, abs=1e-9) == cost_of_order((3, 1, 0, 2), p, costs)
    assert pytest.approx(8.1, abs=1e-9) == min(cost_of_order(order, p, costs) for order in every_order(4))


def test_order_by_access__b01_by_probability_or_by_cost_alone_is_dearer():
    p, costs = [0.4, 0.3, 0.2, 0.1], [8, 2, 5, 0.5]
    assert pytest.approx(10.75, abs=1e-9) == cost_of_order((0, 1, 2, 3), p, costs)
    assert pytest.approx(8.5, abs=1e-9) == cost_of_order((3, 1, 2, 0), p, costs)


@pytest.mark.parametrize("seed", range(40))
def test_order_by_access__b01_random_equals_brute_force(seed):
    rng = np.random.default_rng(seed)
    n = rng.integers(2, 7)
    p, costs = rng.dirichlet(np.ones(n)), rng.uniform(0.1, 9, n)
    best = min(cost_of_order(order, p, costs) for order in every_order(n))
    assert best == pytest.approx(cost_of_order(order_plainly(p, costs), p, costs), abs=1e-9)


def test_order_by_access__b03_look_then_repair():
    # formula: Heckerman, Breese and Rommelse 1995 (from memory); numbers constructed
    p, look, repair = [0.5, 0.3, 0.2], [4, 1, 2], [10, 6, 1]
    order = order_plainly(p, look)
    assert (1, 0, 2) == order
    assert pytest.approx(11.2, abs=1e-9) == cost_of_order(order, p, look) + sum(np.multiply(p, repair))


def test_order_by_access__b15_pass_fail_tests_until_the_first_reject():
    # textbook case of three circuit-board tests; the printed cost and the likely intended one
    fails = [0.125, 0.075, 0.14]
    for costs, order, expected in ([51.75, 2.0, 52.4], (1, 2, 0), 91.63712), ([1.75, 2.0, 2.4], (0, 2, 1), 5.355):
        assert order == order_plainly(fails, costs)
        paid = [costs[k] * np.prod([1 - fails[j] for j in order[:place]]) for place, k in enumerate(order)]
        assert pytest.approx(expected, abs=1e-5) == sum(paid)


def test_order_by_access__b19_cost_is_weighted_completion_time():
    # identity behind every scheduling result: Lin 2015
    rng = np.random.default_rng(3)
    p, costs = rng.dirichlet(np.ones(6)), rng.uniform(0, 5, 6)
    order = order_plainly(p, costs)
    completion = np.cumsum([costs[job] for job in order])
    weighted = sum(p[job] * completion[place] for place, job in enumerate(order))
    assert weighted == pytest.approx(cost_of_order(order, p, costs), abs=1e-9)


def _independent_parts(p, costs):
    """All non-empty sets of failed parts, weighed as independent failures of a system that is down."""
    n = len(p)
    sets = [members for size in range(1, n + 1) for members in combinations(range(n), size)]
    weights = np.array([np.prod([p[i] if i in members else 1 - p[i] for i in range(n)]) for members in sets])
    jobs = tuple(PricedJob(f"part{i}", costs[i], 0.0, "standing", np.eye(n)[i]) for i in range(n))
    situation = Situation(Hypotheses(tuple(map(str, range(n))), tuple(sets)), ROOT_ONLY, jobs, uncured_cost=1e7)
    return situation, weights / weights.sum()


def test_order_by_access__odds_b09_several_independent_faults():
    # claim: Srinivas 1995; numbers constructed, optimum by brute force
    p, costs = [0.5, 0.2, 0.1], [1.2, 0.4, 0.3]
    situation, belief = _independent_parts(p, costs)
    odds = np.array(p) / (1 - np.array(p))
    assert (0, 1, 2) == order_plainly(odds, costs)
    assert pytest.approx(1.421875, abs=1e-9) == plan_exactly(situation, belief, (0, 1, 2))[0]
    assert (1, 0, 2) == order_plainly(p, costs)
    plain = evaluate_plan(situation, belief, ((1,), (0,), (2,))).expected_total
    assert pytest.approx(1.478125, abs=1e-9) == plain


@pytest.mark.parametrize("seed", range(25))
def test_order_by_access__odds_b09_random_equals_brute_force(seed):
    rng = np.random.default_rng(seed)
    p, costs = rng.uniform(0.02, 0.9, 4), rng.uniform(0.1, 3, 4)
    situation, belief = _independent_parts(p, costs)
    odds = p / (1 - p)
    totals = {
        order: evaluate_plan(situation, belief, tuple((job,) for job in order)).expected_total
        for order in every_order(4)
    }
    assert min(totals.values()) == pytest.approx(totals[order_plainly(odds, costs)], abs=1e-9)


def test_order_by_access__b10_order_of_the_worked_example():
    # claim: Ottosen and Jensen 2010; numbers constructed, minimum over 8! orders; blocks (0), (1), (2, 3), (5, 4), (7, 6)
    assert [0, 1, 2, 3, 5, 4, 7, 6] == _order_rows(EIGHT_JOBS, SHOP_TREE)


def test_order_by_access__many_orders_at_once_are_those_made_one_by_one():
    rng = np.random.default_rng(3)
    p, costs = rng.random((30, 7)), rng.uniform(0.1, 9, (30, 7))
    levels = rng.integers(0, len(SHOP_TREE.nodes), (30, 7))
    together = order_by_access(p, costs, levels, SHOP_TREE, opened=2)
    for row, order in enumerate(together):
        assert order.tolist() == order_by_access(p[row], costs[row], levels[row], SHOP_TREE, opened=2).tolist()


def test_order_by_access__b10_cost_of_the_worked_example():
    order = _order_rows(EIGHT_JOBS, SHOP_TREE)
    assert pytest.approx(6.483, abs=1e-9) == cost_inside(order, EIGHT_JOBS, SHOP_TREE)
    blind = order_plainly([row[1] for row in EIGHT_JOBS], [row[2] for row in EIGHT_JOBS])
    assert pytest.approx(6.913, abs=1e-9) == cost_inside(blind, EIGHT_JOBS, SHOP_TREE)


@pytest.mark.parametrize("seed", range(60))
def test_order_by_access__b10_random_trees_equal_brute_force(seed):
    tree, rows = draw_tree_jobs(np.random.default_rng(seed), most=6)
    best = min(cost_inside(order, rows, tree) for order in every_order(len(rows)))
    assert best == pytest.approx(cost_inside(_order_rows(rows, tree), rows, tree), abs=1e-9)


def test_order_by_access__b11_opening_is_not_charged_to_the_first_job_alone():
    tree = AccessTree((AccessNode("standing"), AccessNode("k1", "standing", 3.0, 0.0)))
    rows = [("x1", 0.25, 1, "k1"), ("x2", 0.25, 1, "k1"), ("y1", 0.3, 3, "standing"), ("y2", 0.2, 2.5, "standing")]
    assert pytest.approx(6.75, abs=1e-9) == cost_inside(_order_rows(rows, tree), rows, tree)
    assert pytest.approx(7.0, abs=1e-9) == cost_inside((2, 3, 0, 1), rows, tree)


@given(st.integers(0, 10_000))
def test_order_by_access__law_zero_access_cost_gives_plain_order(seed):
    rng = np.random.default_rng(seed)
    tree, rows = draw_tree_jobs(rng)
    free = AccessTree(tuple(AccessNode(node.id, node.parent) for node in tree.nodes))
    p, costs = [row[1] for row in rows], [row[2] for row in rows]
    assert list(order_plainly(p, costs)) == _order_rows(rows, free)


@given(st.integers(0, 10_000), st.floats(0.1, 20))
def test_order_by_access__law_dearer_access_never_moves_a_block_forward(seed, more):
    tree, rows = draw_tree_jobs(np.random.default_rng(seed))
    level = len(tree.nodes) - 1
    nodes = list(tree.nodes)
    last = nodes[level]
    nodes[level] = AccessNode(last.id, last.parent, last.open_cost + more, last.close_cost)
    behind = {job for job, row in enumerate(rows) if row[3] == last.id}
    before = _order_rows(rows, tree)
    after = _order_rows(rows, AccessTree(tuple(nodes)))
    for job in behind:
        ahead_of = lambda order, job=job: {other for other in order[order.index(job) :] if other not in behind}  # noqa: E731
        assert ahead_of(after) <= ahead_of(before)


def test_order_by_access__open_level_costs_nothing_more():
    rows = [("a", 0.5, 1.0, "standing"), ("b", 0.5, 0.9, "pan_off")]
    assert [0, 1] == _order_rows(rows, SHOP_TREE)
    assert [1, 0] == _order_rows(rows, SHOP_TREE, SHOP_TREE.path_mask("pan_off"))


def test_carry_out_inside__equals_the_definition():
    tree, rows = draw_tree_jobs(np.random.default_rng(8))
    levels = [tree.index[row[3]] for row in rows]
    order = range(len(rows))
    steps = carry_out_inside(order, [row[1] for row in rows], [row[2] for row in rows], levels, tree)
    assert cost_inside(order, rows, tree) == pytest.approx(steps[-1][0], abs=1e-9)
    assert 0.0 == pytest.approx(steps[-1][1], abs=1e-9)


def _overlapping_faults():
    """Four faults, three jobs that overlap: Vomlel, Jensen and Ottosen (table from memory)."""
    cures = np.array([[1, 1, 0, 0], [0, 1, 1, 0], [0, 0, 1, 1]], dtype=float)
    jobs = tuple(PricedJob(f"A{i + 1}", 1.0, 0.0, "standing", cures[i]) for i in range(3))
    hypotheses = single_causes(["F1", "F2", "F3", "F4"])
    return Situation(hypotheses, ROOT_ONLY, jobs, uncured_cost=1e7), np.array([0.2, 0.25, 0.4, 0.15]), cures


def test_order_with_updates__b05_dependent_actions():
    situation, belief, cures = _overlapping_faults()
    order = order_with_updates(belief, cures, [1, 1, 1])
    assert (1, 0, 2) == order
    greedy = evaluate_plan(situation, belief, tuple((job,) for job in order)).expected_total
    assert pytest.approx(1.5, abs=1e-9) == greedy


@pytest.mark.parametrize(
    ("order", "total"),
    [((0, 1, 2), 1.7), ((0, 2, 1), 1.55), ((1, 0, 2), 1.5), ((1, 2, 0), 1.55), ((2, 0, 1), 1.45), ((2, 1, 0), 1.65)],
)
def test_evaluate_plan__b05_all_six_orders(order, total):
    situation, belief, _ = _overlapping_faults()
    assert pytest.approx(total, abs=1e-9) == evaluate_plan(situation, belief, tuple((j,) for j in order)).expected_total


def test_plan_exactly__b05_optimum_beats_the_updated_order():
    situation, belief, _ = _overlapping_faults()
    total, batches = plan_exactly(situation, belief, (0, 1, 2))
    assert pytest.approx(1.45, abs=1e-9) == total
    assert ((2,), (0,)) == batches


def _draw_cover(rng):
    n, m = rng.integers(2, 6), rng.integers(2, 6)
    cures = (rng.random((m, n)) < 0.5) * rng.choice([1.0, 0.8], (m, n))
    cures[0] = 1.0
    costs = rng.uniform(0.3, 3, m)
    jobs = tuple(PricedJob(f"A{i}", costs[i], 0.0, "standing", cures[i]) for i in range(m))
    hypotheses = single_causes([f"F{i}" for i in range(n)])
    return Situation(hypotheses, ROOT_ONLY, jobs, uncured_cost=1e7), rng.dirichlet(np.ones(n)), cures, costs


@pytest.mark.parametrize("seed", range(40))
def test_order_with_updates__b08_within_factor_four_of_the_optimum(seed):
    # Feige, Lovasz and Tetali 2004 (from memory)
    situation, belief, cures, costs = _draw_cover(np.random.default_rng(seed))
    order = order_with_updates(belief, cures, costs)
    greedy = evaluate_plan(situation, belief, tuple((job,) for job in order)).expected_total
    best = plan_exactly(situation, belief, tuple(range(len(costs))))[0]
    assert best - 1e-9 <= greedy <= 4 * best


@pytest.mark.parametrize("seed", range(40))
def test_plan_exactly__b07_adjacent_efficiencies_never_increase(seed):
    # theorem: Jensen et al. 2001; efficiency judged on the evidence before the earlier of the two
    situation, belief, cures, costs = _draw_cover(np.random.default_rng(seed))
    order = [job for batch in plan_exactly(situation, belief, tuple(range(len(costs))))[1] for job in batch]
    rest = belief.copy()
    for first, second in pairwise(order):
        assert cures[first] @ rest / costs[first] >= cures[second] @ rest / costs[second] - 1e-9
        rest = rest * (1 - cures[first])


@pytest.mark.parametrize("seed", range(20))
def test_order_by_access__b16_greedy_is_safe_under_its_conditions(seed):
    # conditions of Jensen, Skaanning and Kjaerulff 2001 (from memory): one fault, each job for one cause,
    # results independent given the cause, costs independent of the order
    rng = np.random.default_rng(seed)
    p, costs = rng.dirichlet(np.ones(6)), rng.uniform(0.2, 4, 6)
    situation, belief = one_job_per_cause(flat_jobs(p, costs))
    greedy = tuple((job,) for job in order_plainly(p, costs))
    best = plan_exactly(situation, belief, tuple(range(6)))[0]
    assert best == pytest.approx(evaluate_plan(situation, belief, greedy).expected_total, abs=1e-9)


def test_bound_known_fault__b06_two_jobs_for_one_fault():
    # worked value 1.1: Ottosen and Jensen 2008; .1 * .2 of the vehicles are left and pay 1000 here
    jobs = tuple(PricedJob(f"A{i}", 1.0, 0.0, "standing", np.array([p])) for i, p in enumerate([0.8, 0.9]))
    situation = Situation(single_causes(["f"]), ROOT_ONLY, jobs, uncured_cost=1000.0)
    assert pytest.approx(1.1 + 0.02 * 1000, abs=1e-9) == bound_known_fault(situation, np.ones(1))


def test_bound_known_fault__b05_four_faults():
    cures = np.array([[1, 1, 0, 0], [0, 1, 1, 0], [0, 0, 1, 1]], dtype=float)
    jobs = tuple(PricedJob(f"A{i}", 1.0, 0.0, "standing", cures[i]) for i in range(3))
    situation = Situation(single_causes("abcd"), ROOT_ONLY, jobs, uncured_cost=1e7)
    assert pytest.approx(1.0, abs=1e-9) == bound_known_fault(situation, np.array([0.2, 0.25, 0.4, 0.15]))


@pytest.mark.parametrize("seed", range(60))
def test_bound_known_fault__below_the_optimum_with_checks(seed):
    situation, oracle = draw_model(np.random.default_rng([21, seed]), pairs=2)
    if situation.hypotheses.is_single:
        assert bound_known_fault(situation, oracle.belief) <= find_optimum(situation, oracle) + 1e-9
    else:
        exact = plan_exactly(situation, oracle.belief, range(len(situation.jobs)))[0]
        assert bound_known_fault(situation, oracle.belief) <= exact + 1e-9


@pytest.mark.parametrize("kind", ["two_causes", "reveal", "opened"])
@pytest.mark.parametrize("seed", range(5))
def test_bound_each_fault__below_the_optimum_with_checks_under_any_belief(kind, seed):
    situation, oracle = draw_hard(kind, seed, jobs=(3, 3), checks=(2, 2))
    bounds = bound_each_fault(situation)
    for belief in np.random.default_rng(seed).dirichlet(np.full(len(bounds), 0.5), 4):
        assert belief @ bounds <= find_exactly(situation, replace(oracle, belief=belief)) + 1e-9


@pytest.mark.parametrize("test_cost", [0.0, 0.3])
def test_bound_inside__b12_order_with_things_open_plus_one_test(test_cost):
    situation, belief = one_job_per_cause(EIGHT_JOBS, SHOP_TREE, test_cost=test_cost)
    assert pytest.approx(6.483 + test_cost, abs=1e-6) == bound_inside(situation, belief)


@pytest.mark.parametrize("seed", range(40))
def test_bound_inside__below_the_exact_plan(seed):
    rng = np.random.default_rng([22, seed])
    tree, rows = draw_tree_jobs(rng)
    situation, belief = one_job_per_cause(
        rows,
        tree,
        test_cost=rng.uniform(0, 1),
        comeback_cost=rng.uniform(0, 1),
        uncured_cost=rng.uniform(5, 40),
        opened=tree.path_masks[-1],
    )
    assert bound_inside(situation, belief) <= plan_exactly(situation, belief, range(len(rows)))[0] + 1e-9


def test_bound_inside__none_where_jobs_overlap():
    jobs = tuple(PricedJob(f"A{i}", 1.0, 0.0, "standing", np.array([1.0])) for i in range(2))
    situation = Situation(single_causes(["f"]), ROOT_ONLY, jobs, uncured_cost=10.0)
    assert bound_inside(situation, np.ones(1)) is None


def test_bound_inside__without_jobs_the_vehicle_leaves():
    situation = Situation(single_causes(["f"]), ROOT_ONLY, (), uncured_cost=10.0)
    assert pytest.approx(10.0, abs=1e-9) == bound_inside(situation, np.ones(1))


@pytest.mark.parametrize("seed", range(12))
def test_bound_known_fault__law_no_plan_of_jobs_that_share_work_is_cheaper(seed):
    rng = np.random.default_rng([74, seed])
    situation, oracle = draw_model(rng, pairs=2)
    situation = make_alike(rng, situation)
    best = plan_exactly(situation, oracle.belief, range(len(situation.jobs)))[0]
    assert bound_known_fault(situation, oracle.belief) <= best + 1e-9
