"""Which checks can wait until the first work has failed."""

from dataclasses import replace

import numpy as np
import pytest
from support.situations import ROOT_ONLY, single_causes
from support.table_oracle import TableOracle

from shiftlore.planning import Outcomes, PricedCheck, PricedJob, Situation, choose_step, start_bench
from shiftlore.planning.waiting import change_first_work, find_first_work, weigh_urgency

FIRST = ("cheap",)


def _later_or_now(belief=(0.6, 0.2, 0.2), now=(0.95, 0.05, 0.05)):
    """A likely cause that a cheap job cures, two more, a check that tells these two apart, and one that shows the first."""
    hypotheses = single_causes("abc")
    costs = {"cheap": 100.0, "middle": 300.0, "dear": 310.0}
    jobs = tuple(PricedJob(key, cost, 0.0, "standing", np.eye(3)[i]) for i, (key, cost) in enumerate(costs.items()))
    checks = tuple(PricedCheck(key, 10.0, 0.0, "standing") for key in ("later", "now"))
    situation = Situation(hypotheses, ROOT_ONLY, jobs, checks, test_cost=10, comeback_cost=30, uncured_cost=2000)
    rows = {"later": np.array([0.5, 0.95, 0.05]), "now": np.array(now)}
    tables = {key: Outcomes(("yes", "no"), np.array([row, 1 - row])) for key, row in rows.items()}
    return situation, TableOracle(hypotheses, np.array(belief), tables)


def _weigh(situation, oracle):
    outlook, bench = choose_step(situation, oracle).outlook, start_bench(situation)
    one_step = outlook.price_checks(oracle.belief[None], bench)[0]
    return outlook, bench, weigh_urgency(outlook, oracle.belief, bench, one_step)


def test_weigh_urgency__what_changes_only_later_work_can_wait():
    situation, oracle = _later_or_now()
    outlook, bench, found = _weigh(situation, oracle)
    assert FIRST == tuple(situation.jobs[job].id for job in find_first_work(outlook, oracle.belief, bench))
    later, now = range(2)
    assert found.gross[later] > 10.0 and 0.0 == pytest.approx(found.saves[later], abs=1e-9)
    assert [True, False] == found.can_wait.tolist()
    assert 0.0 == found.changes[later] and 0.6 * 0.05 + 0.4 * 0.95 == pytest.approx(found.changes[now], abs=1e-9)
    assert found.saves[now] == pytest.approx(
        found.gross[now], abs=1e-9
    )  # by hand: after a "no" the cheap job is left out


def test_weigh_urgency__a_check_made_after_work_costs_nothing_where_that_cures():
    situation, oracle = _later_or_now()
    assert [6.0, 6.0] == pytest.approx(_weigh(situation, oracle)[2].least.tolist(), abs=1e-9)  # 0.6 of 10


def test_choose_step__what_can_wait_is_no_step_until_the_first_work_has_failed():
    situation, oracle = _later_or_now(now=(0.5, 0.5, 0.5))
    assert ["job"] == sorted({step.kind for step in choose_step(situation, oracle).steps})
    left = situation.without(jobs=(0,))
    assert "later" in choose_step(left, replace(oracle, belief=np.array([0.0, 0.5, 0.5]))).steps[0].ids


def test_change_first_work__leaving_it_is_work_that_can_change_too():
    situation, oracle = _later_or_now()
    situation = situation.vary(uncured_cost=90.0)
    outlook, bench, found = _weigh(situation, oracle)
    assert () == found.first
    rows = oracle.outcomes("now").likelihoods * oracle.belief
    saved, changed = change_first_work(outlook, rows, bench, ())
    assert [0.0, 0.0] == pytest.approx(saved.tolist(), abs=1e-9) and not changed.any()
    dear = situation.vary(uncured_cost=160.0)
    outlook = choose_step(dear, oracle).outlook
    saved, changed = change_first_work(outlook, rows, start_bench(dear), ())
    assert changed.tolist() == [True, False] and saved[0] > 0.0


def test_change_first_work__a_plan_that_begins_with_it_is_no_other_work():
    """The jobs that follow there need be no plan of the book by themselves: 9 of 10 answers were said to change the work."""
    situation, oracle = _later_or_now()
    outlook, bench, found = _weigh(situation, oracle)
    begin = [place for place, plan in enumerate(outlook.book.plans) if plan and plan[0] == found.first]
    alone = outlook.vary(book=outlook.book.pick(np.array(begin)))
    assert not change_first_work(alone, oracle.belief[None], bench, found.first)[1].any()
