"""The book of ready plans prices beliefs as the plans themselves do, and checks by them."""

from itertools import pairwise, product

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from support.exact_solver import draw_hard
from support.models import draw_model, make_alike
from support.situations import EIGHT_JOBS, ROOT_ONLY, SHOP_TREE, one_job_per_cause, single_causes
from support.table_oracle import TableOracle

from shiftlore.planning import LookAhead, Outcomes, PlanBook, PricedCheck, Situation, choose_step, plan_jobs, write_book
from shiftlore.planning.batches import evaluate_plan, plan_exactly
from shiftlore.planning.outlook import Outlook, all_plans, start_bench, write_after


@pytest.mark.parametrize("seed", range(15))
def test_price_each__equals_the_plan_evaluated(seed):
    rng = np.random.default_rng([41, seed])
    situation, oracle = draw_model(rng, pairs=2)
    situation = situation.vary(opened=situation.access.path_masks[-1])
    book = write_book(situation, oracle.belief[None])
    prices = book.price_each(oracle.belief[None], situation.opened)[0]
    for row in rng.integers(0, len(book.plans), 12):
        value = evaluate_plan(situation, oracle.belief, book.plans[row])
        assert value.expected_total == pytest.approx(prices[row], rel=1e-9)


@pytest.mark.parametrize("seed", range(20))
def test_price__small_book_holds_the_exact_optimum(seed):
    situation, oracle = draw_model(np.random.default_rng([42, seed]), pairs=2)
    exact = plan_exactly(situation, oracle.belief, range(len(situation.jobs)))[0]
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
    assert book.price(oracle.belief[None], 0)[0] / 2 == pytest.approx(
        book.price(oracle.belief[None] / 2, 0)[0], rel=1e-12
    )


def test_write_book__never_without_the_plan_to_leave_it():
    for seed in range(10):
        situation, oracle = draw_model(np.random.default_rng([47, seed]))
        assert () in write_book(situation, oracle.belief[None]).plans


@pytest.mark.parametrize("seed", range(4))
def test_write_after__prices_what_a_failed_batch_leaves_and_a_check_then_shows_as_the_exact_plan(seed):
    situation, oracle = draw_hard("two_causes", seed)
    belief, done, batch = oracle.belief, np.zeros(len(situation.jobs), dtype=bool), (0,)
    tables = [oracle.likelihoods(check.id) for check in situation.checks]
    before = write_book(situation, belief[None])
    after, done[0] = write_after(situation, before, belief[None], [batch], tables), True
    left = situation.hypotheses.persist(belief, situation.missed_by(batch))
    later, prices = situation.without(jobs=batch), []
    for row in (left, *(left * shown for table in tables for shown in table)):
        best = plan_exactly(later, row, range(len(later.jobs)))[0]
        assert best == pytest.approx(after.price(row[None], 0, done)[0], rel=1e-9)
        prices.append((best, before.price(row[None], 0, done)[0]))
    assert any(price > 1.001 * best for best, price in prices)


def test_write_after__adds_no_plan_twice():
    situation, oracle = draw_hard("two_causes", 1)
    tables = [oracle.likelihoods(check.id) for check in situation.checks]
    book = write_book(situation, oracle.belief[None])
    for _ in range(2):
        book = write_after(situation, book, oracle.belief[None], [(0,), (1,)], tables)
        assert len(set(book.plans)) == len(book.plans)


SOUNDING = np.array([[0.1, 0.3, 0.5], [0.3, 0.4, 0.4], [0.6, 0.3, 0.1]])


def value_information(payoffs, p_states, likelihoods):
    """Value now, of a test and of knowing the state, when the planner's prices are decisions with known payoffs."""
    n_actions, n_states = payoffs.shape
    situation = Situation(
        single_causes([f"s{i}" for i in range(n_states)]),
        ROOT_ONLY,
        (),
        (
            PricedCheck("test", 0.0, 0.0, "standing"),
            PricedCheck("tells_all", 0.0, 0.0, "standing"),
        ),
    )
    book = PlanBook(
        plans=((),) * n_actions,
        vectors=-payoffs,
        first_masks=np.zeros(n_actions, dtype=int),
        uses=np.zeros((n_actions, 0), dtype=bool),
        spends=np.zeros(n_actions),
        access=ROOT_ONLY,
    )
    outlook = Outlook(situation, book, (likelihoods, np.eye(n_states)))
    bench = start_bench(situation)
    without = -outlook.price_jobs(p_states[None], bench)[0]
    with_test, knowing = -outlook.price_checks(p_states[None], bench)[0]
    return without, with_test - without, knowing - without


def test_price_checks__h05_oil_wildcatter():
    # Raiffa 1968; tables as printed, results 20 and 22.5 from memory, reproduced by hand
    payoffs = np.array([[-70, 50, 200], [0, 0, 0]])
    without, evsi, evpi = value_information(payoffs, np.array([0.5, 0.3, 0.2]), SOUNDING)
    assert pytest.approx((20.0, 12.5, 35.0), abs=1e-9) == (without, evsi, evpi)
    assert pytest.approx(22.5, abs=1e-9) == without + evsi - 10


def _drilling():
    """Nine states of oil (dry, wet, soaking) times cost (low, fair, high); drill or not, in thousands."""
    oil, cost = {0: 0.5, 700: 0.3, 1200: 0.2}, {150: 0.2, 300: 0.6, 500: 0.2}
    states = list(product(oil, cost))
    payoffs = np.array([[gain - paid for gain, paid in states], [0] * 9])
    return payoffs, np.array([oil[gain] * cost[paid] for gain, paid in states])


@pytest.mark.parametrize(("position", "evpi"), [(0, 155.0), (1, 10.0)])
def test_price_checks__h06_perfect_knowledge_of_one_uncertainty(position, evpi):
    # decision tree procedure of a statistics package's manual, 2013: base 140, EVPI 155 and 10
    payoffs, p = _drilling()
    place = np.array([[i // 3, i % 3][position] for i in range(9)])
    known = (place[None] == np.arange(3)[:, None]).astype(float)
    without, worth, _ = value_information(payoffs, p, known)
    assert pytest.approx((140.0, evpi), abs=1e-9) == (without, worth)


def test_price_checks__h07_sounding_is_worth_less_than_its_cost():
    payoffs, p = _drilling()
    likelihoods = SOUNDING[:, [i // 3 for i in range(9)]]
    assert pytest.approx(40.1, abs=1e-9) == value_information(payoffs, p, likelihoods)[1]
    assert 60 > value_information(payoffs, p, likelihoods)[1]


@given(st.integers(0, 10_000))
def test_price_checks__law_knowing_beats_testing_beats_nothing(seed):
    rng = np.random.default_rng(seed)
    payoffs, p = rng.normal(size=(3, 4)), rng.dirichlet(np.ones(4))
    _, evsi, evpi = value_information(payoffs, p, rng.dirichlet(np.ones(3), 4).T)
    assert -1e-12 <= evsi <= evpi + 1e-12


def _question_before_repair(check_cost):
    rows = [("sol", 0.5, 2, "standing"), ("valve", 0.3, 6, "standing"), ("clutch", 0.2, 15, "standing")]
    situation, belief = one_job_per_cause(rows, ROOT_ONLY)
    low = np.array([0.1, 0.8, 0.3])
    reading = Outcomes(("low", "normal"), np.array([low, 1 - low]))
    oracle = TableOracle(situation.hypotheses, belief, {"reading": reading})
    return situation.vary(checks=(PricedCheck("reading", check_cost, 5.0, "standing"),)), oracle


def test_price_checks__b14_question_before_repair():
    # method: Heckerman, Breese and Rommelse 1995; numbers constructed
    situation, oracle = _question_before_repair(0.5)
    outlook = Outlook(situation, write_book(situation, oracle.belief[None]), (oracle.tables["reading"].likelihoods,))
    bench = start_bench(situation)
    assert pytest.approx(8.0, abs=1e-5) == outlook.price_jobs(oracle.belief[None], bench)[0]
    assert pytest.approx(8.32, abs=1e-5) == outlook.price_checks(oracle.belief[None], bench)[0, 0]


@pytest.mark.parametrize(("check_cost", "is_proposed"), [(0.5, False), (0.19, False), (0.17, True)])
def test_choose_step__b14_proposes_only_below_its_gross_value(check_cost, is_proposed):
    situation, oracle = _question_before_repair(check_cost)
    steps = choose_step(situation, oracle, LookAhead(depth=1, nearly=0.0)).steps
    assert is_proposed == any(step.kind == "check" for step in steps)


@pytest.mark.parametrize("seed", range(20))
def test_price_check__one_step_equals_the_stacked_pricing(seed):
    situation, oracle = draw_model(np.random.default_rng([51, seed]), pairs=2)
    if not situation.checks:
        situation, oracle = draw_model(np.random.default_rng([51, 100 + seed]), checks=4)
    tables = tuple(oracle.tables[check.id].likelihoods for check in situation.checks)
    outlook, bench = Outlook(situation, write_book(situation, oracle.belief[None]), tables), start_bench(situation)
    stacked = outlook.price_checks(oracle.belief[None], bench)[0] if tables else []
    alone = [outlook.price_check(oracle.belief[None], bench, check, 1)[0] for check in bench.checks]
    assert alone == pytest.approx(list(stacked), rel=1e-9)


@pytest.mark.parametrize("seed", range(15))
def test_price__law_thinking_further_never_costs_more(seed):
    situation, oracle = draw_model(np.random.default_rng([52, seed]))
    tables = tuple(oracle.tables[check.id].likelihoods for check in situation.checks)
    outlook, bench = Outlook(situation, write_book(situation, oracle.belief[None]), tables), start_bench(situation)
    prices = [outlook.price(oracle.belief[None], bench, depth)[0] for depth in range(4)]
    assert all(deeper <= flat + 1e-9 for flat, deeper in pairwise(prices))


def test_price__what_cannot_be_the_best_is_left_out_unpriced(monkeypatch):
    """The bound of known faults saves work and changes no price."""
    asked, price_jobs = [], Outlook.price_jobs
    monkeypatch.setattr(Outlook, "price_jobs", lambda *given: asked.append(len(given[1])) or price_jobs(*given))
    pruned, whole = 0, 0
    for seed in range(6):
        situation, oracle = draw_hard("two_causes", seed, jobs=(4, 4), checks=(3, 3))
        tables = tuple(oracle.likelihoods(check.id) for check in situation.checks)
        outlook = Outlook(situation, write_book(situation, oracle.belief[None]), tables, ((0,), (1,), (0, 1)))
        rows, bench = oracle.belief * np.concatenate(tables), start_bench(situation)
        price, pruned = outlook.price(rows, bench, 3), pruned + sum(asked)
        asked.clear()
        with monkeypatch.context() as patched:
            patched.setattr(Outlook, "_floor", lambda self, _: np.full(len(self.situation.hypotheses.members), -1e9))
            assert outlook.price(rows, bench, 3) == pytest.approx(price, rel=1e-12)
        whole += sum(asked)
        asked.clear()
    assert pruned < 0.9 * whole


def test_price__gives_no_more_than_asked_for():
    situation, oracle = draw_hard("two_causes", 0, jobs=(4, 4), checks=(3, 3))
    tables = tuple(oracle.likelihoods(check.id) for check in situation.checks)
    outlook, bench = (
        Outlook(situation, write_book(situation, oracle.belief[None]), tables, ((0,),)),
        start_bench(situation),
    )
    row = oracle.belief[None]
    for price in (
        lambda **most: outlook.price(row, bench, 3, **most),
        lambda **most: outlook.price_check(row, bench, 0, 3, **most),
        lambda **most: outlook.price_batch(row, bench, (0,), 3, **most),
    ):
        free = price()
        assert price(most=free + 1.0) == pytest.approx(free, rel=1e-12)
        assert price(most=free - 1.0) == pytest.approx(free - 1.0, rel=1e-12)


def test_price_batch__cost_comeback_and_what_follows():
    situation, oracle = _question_before_repair(0.5)
    situation = situation.vary(comeback_cost=1.0)
    outlook = Outlook(situation, write_book(situation, oracle.belief[None]), (oracle.tables["reading"].likelihoods,))
    # solenoid 2, then half come back for 1, then valve 6 (.5) and clutch 15 (.2) with comebacks .2
    assert (
        pytest.approx(2 + 0.5 + 3 + 0.2 + 3, abs=1e-5)
        == outlook.price_batch(oracle.belief[None], start_bench(situation), (0,), 1)[0]
    )


def test_write_book__a_full_book_keeps_the_plans_that_the_budget_buys(monkeypatch):
    """Dear plans are best for most beliefs; with a budget they may not crowd out what can be paid."""
    situation, belief = one_job_per_cause(EIGHT_JOBS, SHOP_TREE, test_cost=0.3, uncured_cost=50.0)
    situation = situation.vary(budget=2.5)
    others = np.random.default_rng(2).dirichlet(np.ones(8), 20)
    beliefs = np.vstack([belief, others])
    whole = write_book(situation, beliefs).price(beliefs, 0, None, situation.budget)
    monkeypatch.setattr("shiftlore.planning.outlook.MAX_PLANS", len(beliefs))
    short = write_book(situation, beliefs)
    assert len(short.plans) <= len(beliefs) + 1
    assert whole == pytest.approx(short.price(beliefs, 0, None, situation.budget))
    assert whole.min() < 49


@pytest.mark.parametrize("seed", range(10))
def test_price_batch__after_a_failure_jobs_of_its_kind_are_worth_what_they_are_surer_by(seed):
    rng = np.random.default_rng([73, seed])
    situation, oracle = draw_model(rng, jobs=3, pairs=2)
    situation = make_alike(rng, situation)
    outlook = Outlook(situation, write_book(situation, oracle.belief[None]), ())
    left = situation.hypotheses.persist(oracle.belief, situation.missed_by((0,)))
    rest = plan_exactly(situation.without(jobs=(0,)), left, range(len(situation.jobs) - 1))[0]
    expected = situation.batch_cost((0,)) + situation.comeback_cost * left.sum() + rest
    found = outlook.price_batch(oracle.belief[None], start_bench(situation), (0,), 1)[0]
    assert expected == pytest.approx(found, rel=1e-9)


def test_leave_enough__is_false_where_a_check_costs_the_best_job_its_money():
    situation, belief = one_job_per_cause(
        [("a", 0.7, 100, "standing"), ("b", 0.3, 40, "standing")], uncured_cost=2000.0
    )
    situation = situation.vary(
        checks=(PricedCheck("cheap", 5.0, 1.0, "standing"), PricedCheck("dear", 30.0, 1.0, "standing"))
    )
    blind = np.ones((1, len(belief)))
    for budget, enough in ((None, [True, True]), (120.0, [True, False]), (102.0, [False, False])):
        limited = situation.vary(budget=budget)
        seen = Outlook(limited, write_book(limited, belief[None]), (blind, blind))
        bench = start_bench(limited)
        assert enough == seen.leave_enough(belief, bench).tolist()
