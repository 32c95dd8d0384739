"""Check orders as trees."""

from dataclasses import replace

import numpy as np
import pytest
from support.models import draw_model, find_optimum
from support.situations import one_job_per_cause
from support.table_oracle import TableOracle

from shiftlore.planning import BUDGET, LEAVING, Outcomes, PricedCheck, choose_step, grow_tree
from shiftlore.planning.trees import count_nodes, leave_missed


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
    return situation.vary(checks=checks), TableOracle(situation.hypotheses, belief, tables)


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
    tree = grow_tree(situation.vary(checks=()), oracle)
    assert ("stop", 1) == (tree.kind, count_nodes(tree))


@pytest.mark.parametrize("seed", range(15))
def test_grow_tree__whole_tree_costs_what_the_planner_costs(seed):
    situation, oracle = draw_model(np.random.default_rng([71, seed]), causes=4, jobs=2, checks=2)
    total = grow_tree(situation, oracle, max_depth=9, p_fold=0.0).expected_total
    optimum = find_optimum(situation, oracle)
    assert optimum - 1e-9 <= total <= 1.05 * optimum


def _costs_again(situation, oracle, node):
    """Expected total of a tree in which nothing is folded, added up from its leaves."""
    if not node.branches:
        return node.expected_total
    if node.kind == "check":
        return node.cost + sum(branch.p * _costs_again(situation, oracle, branch.node) for branch in node.branches)
    (persists,) = node.branches
    if persists.node is None:
        return node.expected_total
    return node.cost + persists.p * (situation.comeback_cost + _costs_again(situation, oracle, persists.node))


@pytest.mark.parametrize("seed", range(20))
def test_grow_tree__costs_along_the_tree_add_up_to_its_expected_total(seed):
    situation, oracle = draw_model(np.random.default_rng([72, seed]), causes=4, jobs=3, checks=3)
    tree = grow_tree(situation, oracle, max_depth=3, p_fold=0.0)
    assert tree.expected_total == pytest.approx(_costs_again(situation, oracle, tree), rel=1e-9)


@pytest.mark.parametrize("seed", range(20))
@pytest.mark.parametrize("p_fold", [0.0, 0.1])
def test_grow_tree__a_place_is_reached_as_often_as_its_branch_is_taken(seed, p_fold):
    situation, oracle = draw_model(np.random.default_rng([73, seed]), causes=4, jobs=3, checks=3)
    for node in _walk(grow_tree(situation, oracle, max_depth=3, p_fold=p_fold)):
        for branch in node.branches:
            if branch.node is not None:
                assert node.p_reach * branch.p == pytest.approx(branch.node.p_reach, rel=1e-9)
        if node.kind == "check":
            assert 1.0 == pytest.approx(sum(branch.p for branch in node.branches), abs=1e-9)
        elif node.kind == "job":
            assert 1.0 - node.p_cured == pytest.approx(node.branches[0].p, abs=1e-9)


@pytest.mark.parametrize("seed", range(10))
def test_grow_tree__nothing_is_done_twice_on_any_way_down(seed):
    situation, oracle = draw_model(np.random.default_rng([74, seed]), causes=4, jobs=3, checks=3)

    def walk(node, done):
        acts = set(node.ids) if node.kind in ("check", "job") else set()
        assert not acts & done
        for branch in node.branches:
            if branch.node is not None:
                walk(branch.node, done | acts)

    walk(grow_tree(situation, oracle, max_depth=5, p_fold=0.0), set())


@pytest.mark.parametrize("seed", range(10))
def test_grow_tree__a_budget_holds_on_every_way_down(seed):
    situation, oracle = draw_model(np.random.default_rng([75, seed]), causes=4, jobs=3, checks=3)
    budget = 400.0

    def walk(node, spent):
        assert spent <= budget + 1e-9
        for branch in node.branches:
            if branch.node is not None and branch.node.kind in ("check", "job"):
                walk(branch.node, spent + branch.node.cost)

    tree = grow_tree(situation.vary(budget=budget), oracle, max_depth=4, p_fold=0.0)
    if tree.kind in ("check", "job"):
        walk(tree, tree.cost)


def test_grow_tree__begins_as_was_chosen_already():
    situation, oracle = _three_causes()
    first = choose_step(situation, oracle)
    assert first.steps[0].ids == grow_tree(situation, oracle, first=first).ids


def test_grow_tree__answers_that_lead_to_the_same_jobs_stand_together():
    for node in _walk(grow_tree(*_three_causes(), p_fold=0.0)):
        leaves = [
            (branch.node.kind, branch.node.batches)
            for branch in node.branches
            if branch.node is not None and not branch.node.branches
        ]
        assert len(set(leaves)) == len(leaves)


def _posterior(belief, row):
    joint = np.asarray(belief) * row
    return joint / joint.sum()


def test_grow_tree__each_answer_tells_the_causes_that_bayes_rule_leaves():
    """Against Bayes' rule by hand: one cause at work, so a cause is as probable as its hypothesis."""
    situation, oracle = _three_causes()
    tree = grow_tree(situation, oracle, max_depth=2, p_fold=0.0)
    rows = dict(zip(("code", "none"), oracle.outcomes("scan").likelihoods, strict=True))
    for branch in tree.branches:
        by_hand = dict(zip(situation.hypotheses.causes, _posterior(oracle.belief, rows[branch.labels[0]]), strict=True))
        likely = sorted((p, cause) for cause, p in by_hand.items() if p >= 0.05)[::-1]
        assert [cause for _, cause in likely] == [one.cause for one in branch.leaves]
        assert [p for p, _ in likely] == pytest.approx([one.probability for one in branch.leaves], abs=1e-9)


def test_grow_tree__folded_and_joined_answers_tell_the_mixture():
    situation, oracle = _three_causes()
    (*_, folded) = grow_tree(situation, oracle, max_depth=2, p_fold=0.45).branches
    by_hand = _posterior(oracle.belief, oracle.outcomes("scan").likelihoods[0])
    assert folded.node is None
    assert max(by_hand) == pytest.approx(folded.leaves[0].probability, abs=1e-9)
    sound = replace(oracle, tables={"scan": Outcomes(("a", "b"), np.array([[0.3] * 3, [0.7] * 3]))})
    for branch in grow_tree(situation.vary(checks=situation.checks[:1]), sound, p_fold=0.0).branches:
        assert list(oracle.belief) == pytest.approx([one.probability for one in branch.leaves], abs=1e-9)


def test_grow_tree__work_that_did_not_help_leaves_what_it_may_have_missed():
    met = 0
    for seed in range(12):
        situation, oracle = draw_model(np.random.default_rng([73, seed]), causes=4, jobs=3, checks=3)
        tree = grow_tree(situation, oracle, max_depth=3, p_fold=0.0)
        if tree.kind != "job":
            continue
        met += 1
        missed = situation.missed_by(tuple(map(situation.job_index, tree.ids)))
        left = situation.hypotheses.cause_probabilities(np.asarray(oracle.persists(missed).belief))
        by_hand = dict(zip(situation.hypotheses.causes, left, strict=True))
        (branch,) = tree.branches
        assert max(by_hand.values()) == pytest.approx(branch.leaves[0].probability, abs=1e-9)
        assert all(by_hand[cause] < 0.01 for cause in branch.rules_out)
    assert met


def test_grow_tree__goes_on_with_what_it_is_told_to_believe_after_work_in_vain():
    """What hangs on the wall is what is said on the day: the belief after a job is not only what the job may have missed."""
    met = 0
    for seed in range(12):
        situation, oracle = draw_model(np.random.default_rng([73, seed]), causes=4, jobs=3, checks=3)
        belief = np.eye(len(oracle.belief))[0]
        asked = []

        def fail(before, after, jobs, belief=belief, asked=asked):
            asked.append(jobs)
            return leave_missed(before, after, jobs)[0], replace(after, belief=belief)

        tree = grow_tree(situation, oracle, max_depth=3, p_fold=0.0, fail=fail)
        if tree.kind == "job":
            met += 1
            told = situation.hypotheses.told_probabilities(belief)
            best = max(zip(told, situation.hypotheses.causes, strict=True))
            assert tree.ids in asked and best == (
                tree.branches[0].leaves[0].probability,
                tree.branches[0].leaves[0].cause,
            )
    assert met


def test_grow_tree__says_why_it_ends_and_how_far_it_is():
    told = []
    tree = grow_tree(*_three_causes(), max_depth=1, p_fold=0.2, tell_done=told.append)
    ends = [node for node in _walk(tree) if node.kind in ("stop", "deep")]
    assert ends and all(bool(node.why) == (node in ends) for node in _walk(tree))
    assert {"depth"} == {node.why for node in ends if node.kind == "deep"} | {"depth"}
    assert sorted(told) == told and 1.0 == pytest.approx(told[-1], abs=1e-9)


@pytest.mark.parametrize(
    ("budget", "uncured", "kind", "why"),
    [(16.0, 4000, "check", ""), (5.0, 4000, "stop", BUDGET), (5.0, 1, "stop", LEAVING)],
)
def test_grow_tree__a_budget_that_pays_no_repair_buys_the_look_and_is_the_reason_to_stop(budget, uncured, kind, why):
    situation, oracle = _three_causes()
    tree = grow_tree(situation.vary(budget=budget, uncured_cost=float(uncured)), oracle)
    assert (kind, why) == (tree.kind, tree.why)
    ends = [node for node in _walk(tree) if node.kind == "stop"]
    assert ends and all(node.why == (BUDGET if uncured > 1 else LEAVING) for node in ends)
