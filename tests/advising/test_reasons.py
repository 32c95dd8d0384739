"""Reasons as numbers."""

from dataclasses import replace

import numpy as np
import pytest
from support.situations import one_job_per_cause
from support.table_oracle import TableOracle

from shiftlore.advising import explain_check, explain_job
from shiftlore.planning import Outcomes, PricedCheck, choose_step

ROWS = [("valve_body", 0.6, 300, "standing"), ("overhaul", 0.12, 900, "standing"), ("mount", 0.28, 80, "standing")]
FLAKES = Outcomes(("flakes", "clean"), np.array([[0.05, 0.95, 0.02], [0.95, 0.05, 0.98]]))


def _choice(check_cost=10.0):
    situation, belief = one_job_per_cause(ROWS, test_cost=20, comeback_cost=30, uncured_cost=3000)
    situation = replace(situation, checks=(PricedCheck("pan", check_cost, 20.0, "standing"),))
    oracle = TableOracle(situation.hypotheses, belief, {"pan": FLAKES})
    return choose_step(situation, oracle), belief


def test_explain_check__flakes_raise_the_overhaul_by_bayes():
    choice, belief = _choice()
    flakes = next(o for o in explain_check(choice, belief, "pan", FLAKES).outcomes if o.label == "flakes")
    shift = next(s for s in flakes.shifts if s.cause == "overhaul")
    # .12*.95 / (.6*.05 + .12*.95 + .28*.02)
    assert pytest.approx((0.12, 0.114 / 0.1496), abs=1e-9) == (shift.before, shift.after)


def test_explain_check__first_job_changes_with_the_answer():
    choice, belief = _choice()
    jobs = {outcome.label: outcome.jobs for outcome in explain_check(choice, belief, "pan", FLAKES).outcomes}
    assert ("overhaul",) == jobs["flakes"]
    assert "overhaul" not in jobs["clean"]


def test_explain_check__p_changes_and_saving():
    choice, belief = _choice()
    reason = explain_check(choice, belief, "pan", FLAKES)
    assert pytest.approx(0.1496, abs=1e-9) == reason.p_changes
    step = next(step for step in choice.steps if step.kind == "check")
    assert step.gross == pytest.approx(reason.saves, abs=1e-9)


def test_explain_check__answers_are_ordered_by_probability():
    choice, belief = _choice()
    assert ["clean", "flakes"] == [outcome.label for outcome in explain_check(choice, belief, "pan", FLAKES).outcomes]


def test_explain_check__an_idle_check_changes_nothing():
    situation, belief = one_job_per_cause(ROWS, test_cost=20, comeback_cost=30, uncured_cost=3000)
    situation = replace(situation, checks=(PricedCheck("idle", 0.0, 1.0, "standing"),))
    idle = Outcomes(("x", "y"), np.full((2, 3), 0.5))
    choice = choose_step(situation, TableOracle(situation.hypotheses, belief, {"idle": idle}))
    reason = explain_check(choice, belief, "idle", idle)
    assert (0.0, True) == (reason.p_changes, abs(reason.saves) < 1e-9)


def test_explain_job__aims_and_what_would_be_believed_after_failure():
    choice, belief = _choice()
    reason = explain_job(choice, belief, ("valve_body",))
    assert [("valve_body", 0.6, 1.0)] == [tuple(aim) for aim in reason.aims]
    assert pytest.approx(0.6, abs=1e-9) == reason.p_cured
    assert ("mount", 0.7) == (reason.if_not[0].cause, pytest.approx(reason.if_not[0].after, abs=1e-9))


def test_explain_job__a_sure_cure_leaves_nothing_to_believe():
    choice, _ = _choice()
    assert () == explain_job(choice, np.array([1.0, 0.0, 0.0]), ("valve_body",)).if_not
