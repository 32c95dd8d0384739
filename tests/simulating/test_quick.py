"""The quick choice for simulations."""

from dataclasses import replace

import numpy as np
import pytest
from support.models import draw_model, find_optimum

from shiftlore.planning import TableOracle, write_book
from shiftlore.simulating import Action, QuickPlanner, choose_quickly
from shiftlore.simulating.quick import join_books


def _follow(policy, situation, oracle):
    """Expected total of following a policy to the end, all outcomes weighed."""
    action = policy(situation, oracle)
    if action.kind == "leave":
        return situation.uncured_cost + float(situation.access.close_costs[situation.opened])
    if action.kind == "check":
        place = situation.check_index(action.ids[0])
        cost, _, opened = situation.reach_check(place, situation.opened)
        later = replace(situation.without(checks=(place,)), opened=opened)
        p = oracle.outcomes(action.ids[0]).likelihoods @ oracle.belief
        shown = np.flatnonzero(p > 1e-9)
        return cost + sum(p[o] * _follow(policy, later, oracle.after(action.ids[0], o)) for o in shown)
    batch = tuple(situation.job_index(job) for job in action.ids)
    missed = situation.missed_by(batch)
    left = float(oracle.belief @ situation.hypotheses.uncured(missed))
    total = situation.batch_cost(batch, situation.opened) + situation.comeback_cost * left
    if situation.jobs[batch[0]].gives_up or left < 1e-12:
        return total + situation.uncured_cost * left
    return total + left * _follow(policy, replace(situation.without(jobs=batch), opened=0), oracle.persists(missed))


def test_quick_planner__close_to_the_optimum_on_small_models():
    regrets = []
    for seed in range(80):
        situation, oracle = draw_model(np.random.default_rng([81, seed]))
        regrets.append(_follow(QuickPlanner(), situation, oracle) / find_optimum(situation, oracle) - 1)
    assert 0.01 >= np.mean(regrets)
    assert 0.08 >= max(regrets)


def test_quick_planner__remembers_without_changing_its_mind():
    for seed in range(10):
        situation, oracle = draw_model(np.random.default_rng([82, seed]))
        planner = QuickPlanner()
        assert planner(situation, oracle) == planner(situation, oracle) == QuickPlanner(False)(situation, oracle)


def test_quick_planner__a_vehicle_seen_before_costs_no_thinking():
    class Counting(TableOracle):
        asked = 0

        def outcomes(self, check_id):
            Counting.asked += 1
            return super().outcomes(check_id)

    situation, plain = draw_model(np.random.default_rng([83, 2]), checks=4)
    oracle = Counting(plain.hypotheses, plain.belief, plain.tables)
    planner = QuickPlanner()
    planner(situation, oracle)
    before = Counting.asked
    planner(situation, oracle)
    assert before == Counting.asked > 0


def test_choose_quickly__nothing_worth_doing():
    situation, oracle = draw_model(np.random.default_rng([84, 1]))
    cheap = replace(situation, uncured_cost=0.0, checks=())
    assert Action("leave") == choose_quickly(cheap, oracle, write_book(cheap, oracle.belief[None]))


def test_join_books__prices_like_the_better_of_both():
    situation, oracle = draw_model(np.random.default_rng([85, 3]))
    book = write_book(situation, oracle.belief[None])
    assert book.price(oracle.belief[None], 0)[0] == pytest.approx(
        join_books(book, book).price(oracle.belief[None], 0)[0], rel=1e-12
    )
