"""The book of ready plans prices beliefs as the plans themselves do."""

from dataclasses import replace

import numpy as np
import pytest
from support.models import draw_model
from support.situations import EIGHT_JOBS, SHOP_TREE, one_job_per_cause

from shiftlore.planning import evaluate_plan, plan_exactly, plan_jobs, write_book
from shiftlore.planning.planbook import all_plans


@pytest.mark.parametrize("seed", range(15))
def test_price_each__equals_the_plan_evaluated(seed):
    rng = np.random.default_rng([41, seed])
    situation, oracle = draw_model(rng, pairs=2)
    situation = replace(situation, opened=situation.access.path_masks[-1])
    book = write_book(situation, oracle.belief[None])
    prices = book.price_each(oracle.belief[None], situation.opened)[0]
    for row in rng.integers(0, len(book.plans), 12):
        value = evaluate_plan(situation, oracle.belief, book.plans[row])
        assert value.expected_total == pytest.approx(prices[row], rel=1e-9)


@pytest.mark.parametrize("seed", range(20))
def test_price__small_book_holds_the_exact_optimum(seed):
    situation, oracle = draw_model(np.random.default_rng([42, seed]), pairs=2)
    exact = plan_exactly(situation, oracle.belief, situation.ordinary)[0]
    assert exact == pytest.approx(write_book(situation, oracle.belief[None]).price(oracle.belief[None], 0)[0], rel=1e-9)


@pytest.mark.parametrize("seed", range(20))
def test_price__law_free_information_never_raises_the_total(seed):
    rng = np.random.default_rng([43, seed])
    situation, belief = one_job_per_cause(EIGHT_JOBS, SHOP_TREE, test_cost=0.3, uncured_cost=50.0)
    split = rng.dirichlet(np.ones(3), 8).T * belief
    book = write_book(situation, np.vstack([belief, split]))
    assert book.price(split, 0).sum() <= book.price(belief[None], 0)[0] + 1e-12


def test_write_book__eight_jobs_come_close_to_exact_for_each_belief():
    situation, belief = one_job_per_cause(EIGHT_JOBS, SHOP_TREE, test_cost=0.3)
    others = np.random.default_rng(1).dirichlet(np.ones(8), 20)
    book = write_book(situation, np.vstack([belief, others]), plan_jobs(situation, belief))
    assert pytest.approx(8.224, abs=1e-9) == book.price(belief[None], 0)[0]
    exact = np.array([plan_exactly(situation, other, range(8))[0] for other in others])
    assert 1.01 > np.mean(book.price(others, 0) / exact)


def test_allowed__done_jobs_are_not_repeated():
    situation, oracle = draw_model(np.random.default_rng([44, 1]))
    book = write_book(situation, oracle.belief[None])
    done = np.zeros(len(situation.jobs), dtype=bool)
    done[0] = True
    assert not book.uses[book.allowed(0, done, None), 0].any()
    assert np.isinf(book.price_each(oracle.belief[None], 0, done)[0][book.uses[:, 0]]).all()


def test_allowed__nothing_affordable_leaves_the_empty_plan():
    situation, oracle = draw_model(np.random.default_rng([44, 2]))
    book = write_book(situation, oracle.belief[None])
    assert [()] == [book.plans[row] for row in np.flatnonzero(book.allowed(0, None, 0.0))]


def test_join__prices_like_the_better_of_both():
    situation, _ = one_job_per_cause(EIGHT_JOBS, SHOP_TREE, test_cost=0.3)
    first, second = np.random.default_rng(85).dirichlet(np.ones(8), 2)
    books = [write_book(situation, weights[None]) for weights in (first, second)]
    beliefs = np.random.default_rng(86).dirichlet(np.ones(8), 20)
    better = np.minimum(*(book.price(beliefs, 2) for book in books))
    assert better == pytest.approx(books[0].join(books[1]).price(beliefs, 2), rel=1e-12)


def test_pick__prices_of_the_plans_that_are_left():
    situation, oracle = draw_model(np.random.default_rng([44, 3]))
    book, rows = write_book(situation, oracle.belief[None]), np.array([3, 1])
    expected = book.price_each(oracle.belief[None], 0)[0, rows]
    assert expected == pytest.approx(book.pick(rows).price_each(oracle.belief[None], 0)[0], rel=1e-12)
    alone = book.pick(rows, np.array([1]))
    assert book.vectors[rows, 1] == pytest.approx(alone.vectors[:, 0], abs=0)


def test_all_plans__counts_of_ordered_partitions():
    # ordered set partitions of subsets: 1, 2, 6, 26, 150 (OEIS A000629)
    assert [1, 2, 6, 26, 150] == [len(all_plans(tuple(range(n)))) for n in range(5)]


@pytest.mark.parametrize("seed", range(15))
def test_price__law_a_mixture_costs_no_less_than_its_parts_weighed(seed):
    """The least of straight lines is concave: what is not known can only cost."""
    rng = np.random.default_rng([45, seed])
    situation, oracle = draw_model(rng, pairs=2)
    book = write_book(situation, oracle.belief[None])
    one, two = rng.dirichlet(np.ones(len(oracle.belief)), 2)
    share = rng.random()
    mixed = book.price((share * one + (1 - share) * two)[None], 0)[0]
    assert mixed >= share * book.price(one[None], 0)[0] + (1 - share) * book.price(two[None], 0)[0] - 1e-9


@pytest.mark.parametrize("seed", range(10))
def test_price__law_half_the_weight_half_the_price(seed):
    situation, oracle = draw_model(np.random.default_rng([46, seed]))
    book = write_book(situation, oracle.belief[None])
    assert book.price(oracle.belief[None], 0)[0] / 2 == pytest.approx(book.price(oracle.belief[None] / 2, 0)[0], rel=1e-12)


def test_write_book__never_without_the_plan_to_leave_it():
    for seed in range(10):
        situation, oracle = draw_model(np.random.default_rng([47, seed]))
        assert () in write_book(situation, oracle.belief[None]).plans
