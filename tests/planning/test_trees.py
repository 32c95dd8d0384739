"""Check orders as trees."""

from dataclasses import replace

import numpy as np
import pytest
from support.models import draw_model, find_optimum
from support.situations import one_job_per_cause
from support.table_oracle import TableOracle

from shiftlore.planning import Outcomes, PricedCheck, count_nodes, grow_tree


def _walk(node):
    yield node
    for branch in node.branches:
        if branch.node is not None:
            yield from _walk(branch.node)


def _three_causes():
    rows = [("wire", 0.4, 60, "standing"), ("valve", 0.35, 300, "standing"), ("clutch", 0.25, 900, "standing")]
    situation, belief = one_job_per_cause(rows, test_cost=20, comeback_cost=40, uncured_cost=4000)
    tables = {
        "scan": Outcomes(("code", "none"), np.array([[0.9, 0.05, 0.02], [0.1, 0.95, 0.98]])),
        "pan": Outcomes(("flakes", "fuzz", "clean"), np.array([[0.02, 0.1, 0.8], [0.3, 0.4, 0.15], [0.68, 0.5, 0.05]])),
    }
    checks = (PricedCheck("scan", 15.0, 10.0, "standing"), PricedCheck("pan", 40.0, 25.0, "standing"))
    return replace(situation, checks=checks), TableOracle(situation.hypotheses, belief, tables)


def test_grow_tree__starts_with_the_check_that_the_planner_puts_first():
    tree = grow_tree(*_three_causes())
    assert ("check", ("scan",), 1.0) == (tree.kind, tree.ids, tree.p_reach)


def test_grow_tree__branches_share_out_all_probability():
    for node in _walk(grow_tree(*_three_causes())):
        if node.kind == "check":
            assert 1.0 == pytest.approx(sum(branch.p for branch in node.branches), abs=1e-9)


def test_grow_tree__no_way_is_longer_than_asked():
    def depth(node):
        return max([0, *(1 + depth(branch.node) for branch in node.branches if branch.node is not None)])

    for most in (0, 1, 2):
        assert depth(grow_tree(*_three_causes(), max_depth=most, p_fold=0.0)) <= most


def test_grow_tree__rare_answers_are_folded_with_their_probability():
    tree = grow_tree(*_three_causes(), max_depth=2, p_fold=0.45)
    kept, folded = tree.branches
    assert (("none",), ("code",), None) == (kept.labels, folded.labels, folded.node)
    assert pytest.approx(0.4 * 0.9 + 0.35 * 0.05 + 0.25 * 0.02, abs=1e-9) == folded.p


def test_grow_tree__folding_makes_it_smaller():
    fine, coarse = (count_nodes(grow_tree(*_three_causes(), p_fold=p)) for p in (0.0, 0.45))
    assert coarse < fine


def test_grow_tree__stops_carry_the_plan_of_jobs():
    stops = [node for node in _walk(grow_tree(*_three_causes(), p_fold=0.0)) if node.kind == "stop"]
    assert stops
    assert all(node.batches and node.ids == node.batches[0] and node.p_cured > 0.99 for node in stops)


def test_grow_tree__nothing_to_check_is_one_box():
    situation, oracle = _three_causes()
    tree = grow_tree(replace(situation, checks=()), oracle)
    assert ("stop", 1) == (tree.kind, count_nodes(tree))


@pytest.mark.parametrize("seed", range(15))
def test_grow_tree__whole_tree_costs_what_the_planner_costs(seed):
    situation, oracle = draw_model(np.random.default_rng([71, seed]), causes=4, jobs=2, checks=2)
    total = grow_tree(situation, oracle, max_depth=9, p_fold=0.0).expected_total
    optimum = find_optimum(situation, oracle)
    assert optimum - 1e-9 <= total <= 1.05 * optimum
