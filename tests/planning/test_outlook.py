"""What checks and tests are worth."""

from dataclasses import replace
from itertools import pairwise, product

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from support.models import draw_model
from support.situations import ROOT_ONLY, one_job_per_cause, single_causes
from support.table_oracle import TableOracle

from shiftlore.planning import LookAhead, Outcomes, PlanBook, PricedCheck, Situation, choose_step, write_book
from shiftlore.planning.choosing import start_bench
from shiftlore.planning.outlook import Outlook

SOUNDING = np.array([[0.1, 0.3, 0.5], [0.3, 0.4, 0.4], [0.6, 0.3, 0.1]])


def value_information(payoffs, p_states, likelihoods):
    """Value now, of a test and of knowing the state, when the planner's prices are decisions with known payoffs."""
    n_actions, n_states = payoffs.shape
    situation = Situation(single_causes([f"s{i}" for i in range(n_states)]), ROOT_ONLY, (), (
        PricedCheck("test", 0.0, 0.0, "standing"), PricedCheck("tells_all", 0.0, 0.0, "standing"),
    ))
    book = PlanBook(
        plans=((),) * n_actions, vectors=-payoffs, first_masks=np.zeros(n_actions, dtype=int),
        uses=np.zeros((n_actions, 0), dtype=bool), spends=np.zeros(n_actions), access=ROOT_ONLY,
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
    return replace(situation, checks=(PricedCheck("reading", check_cost, 5.0, "standing"),)), oracle


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
    steps = choose_step(situation, oracle, LookAhead(depth=1)).steps
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


def test_price_batch__cost_comeback_and_what_follows():
    situation, oracle = _question_before_repair(0.5)
    situation = replace(situation, comeback_cost=1.0)
    outlook = Outlook(situation, write_book(situation, oracle.belief[None]), (oracle.tables["reading"].likelihoods,))
    # solenoid 2, then half come back for 1, then valve 6 (.5) and clutch 15 (.2) with comebacks .2
    assert pytest.approx(2 + 0.5 + 3 + 0.2 + 3, abs=1e-5) == outlook.price_batch(
        oracle.belief[None], start_bench(situation), (0,), 1
    )[0]
