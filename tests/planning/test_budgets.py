"""What a budget leaves of the next steps."""

import numpy as np
import pytest
from support.situations import SHOP_TREE, one_job_per_cause
from support.table_oracle import TableOracle

from shiftlore.planning import (
    Outcomes,
    PricedCheck,
    bind_plans,
    choose_step,
    list_steps,
    look_beyond,
    split_total,
    start_bench,
)


def _one_or_other(belief=(0.5, 0.5), dear=90.0, check_cost=5.0, **charges):
    """Two causes with a job each, and one check that tells them apart."""
    rows = [("solenoid", belief[0], min(dear, 300.0), "standing"), ("clutch", belief[1], dear, "standing")]
    charges = {"test_cost": 10.0, "comeback_cost": 15.0, "uncured_cost": 2000.0, **charges}
    situation, weights = one_job_per_cause(rows, SHOP_TREE, **charges)
    table = np.array([[0.95, 0.05], [0.05, 0.95]])
    oracle = TableOracle(situation.hypotheses, weights, {"scan": Outcomes(("code", "none"), table)})
    return situation.vary(checks=(PricedCheck("scan", check_cost, 6.0, "standing"),)), oracle


def _look(situation, oracle):
    """The choice within the budget, and what is to be said of the one without."""
    choice = choose_step(situation, oracle)
    return choice, look_beyond(choice, choose_step(situation.vary(budget=None), oracle), oracle.belief)


def test_look_beyond__only_where_the_budget_makes_leaving_best():
    situation, oracle = _one_or_other(belief=(0.94, 0.06), dear=300.0, check_cost=30.0)
    free, poor = (situation.vary(budget=budget) for budget in (None, 40.0))
    assert _look(free, oracle)[1] is None
    choice, beyond = _look(poor, oracle)
    assert () == choice.plan.batches and beyond is not None and beyond.plan.batches
    worthless = poor.vary(uncured_cost=1.0)
    assert _look(worthless, oracle)[1] is None


@pytest.mark.parametrize(("budget", "offered"), [(4.0, False), (20.0, True)])
def test_list_steps__a_check_that_tells_what_more_would_buy_is_offered_if_it_is_paid(budget, offered):
    situation, oracle = _one_or_other()
    situation = situation.vary(budget=budget)
    choice, beyond = _look(situation, oracle)
    steps = list_steps(choice, beyond, oracle.belief)
    assert offered == any(source is beyond and step.kind == "check" for source, step in steps)
    assert all(step.cost.total <= budget for _, step in steps)


def _listed(budget, **charges):
    situation, oracle = _one_or_other(**charges)
    situation = situation.vary(budget=budget)
    choice, beyond = _look(situation, oracle)
    return choice, beyond, list_steps(choice, beyond, oracle.belief)


@pytest.mark.parametrize(("budget", "first"), [(312.0, "job"), (335.0, "check")])
def test_list_steps__a_check_that_takes_the_money_of_the_work_does_not_go_before_it(budget, first):
    choice, _, steps = _listed(budget, belief=(0.4, 0.6), dear=500.0, check_cost=20.0)
    assert (("solenoid",),) == choice.plan.batches
    assert first == steps[0][1].kind and any(step.kind == "job" for _, step in steps)


def test_list_steps__work_that_costs_more_than_leaving_the_vehicle_is_no_step():
    situation, oracle = _one_or_other(belief=(0.99, 0.01), uncured_cost=100.0)
    choice = choose_step(situation, oracle)
    leaving = situation.uncured_cost
    assert all(
        step.expected_total <= leaving for _, step in list_steps(choice, None, oracle.belief) if step.kind == "job"
    )


def test_split_total__is_what_a_plan_costs_where_nothing_else_counts():
    situation, oracle = _one_or_other(belief=(0.7, 0.3), uncured_cost=900.0)
    batch, row = ((0,),), np.asarray(oracle.belief)

    def price(outlook):
        return float(outlook.price_batch(row[None], start_bench(outlook.situation), (0,), 1)[0])

    outlook = choose_step(situation, oracle).outlook
    paid, left = split_total(outlook, price, {})
    bare = situation.vary(uncured_cost=0.0, comeback_cost=0.0)
    plans = [plan for plan in outlook.book.plans if plan[:1] == batch]
    each = bind_plans(bare, plans).price_each(row[None], situation.opened)[0]
    assert min(abs(each - paid)) < 1e-6 and 0.0 <= left < 0.3 + 1e-9
    assert paid + left * situation.uncured_cost < price(outlook)  # what comes back counts too


@pytest.mark.parametrize(("budget", "first"), [(None, "look"), (1000.0, "look"), (100.0, "look"), (30.0, "solenoid")])
def test_list_steps__what_is_looked_at_first_does_not_hang_on_the_purse(budget, first):
    """A look that tells a dear fault costs little: who pays the cheap repair too begins with it, unless that is all he pays."""
    rows = [("solenoid", 0.3, 20.0, "standing"), ("clutch", 0.7, 400.0, "standing")]
    situation, weights = one_job_per_cause(rows, SHOP_TREE, test_cost=5.0, comeback_cost=15.0, uncured_cost=2000.0)
    sure, vague = np.array([[0.99, 0.01], [0.01, 0.99]]), np.array([[0.9, 0.2], [0.1, 0.8]])
    tables = {"look": Outcomes(("seen", "none"), sure), "scan": Outcomes(("code", "none"), vague)}
    oracle = TableOracle(situation.hypotheses, weights, tables)
    checks = (PricedCheck("look", 10.0, 6.0, "standing", early=1), PricedCheck("scan", 2.0, 6.0, "standing"))
    situation = situation.vary(checks=checks, budget=budget)
    choice, beyond = _look(situation, oracle)
    assert first == list_steps(choice, beyond, oracle.belief)[0][1].ids[0]
