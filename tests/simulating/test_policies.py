"""The habits of shops as policies."""

from dataclasses import replace

import numpy as np
from support.situations import SHOP_TREE, one_job_per_cause

from shiftlore.planning import Check, Job, Outcomes, TableOracle, choose_step
from shiftlore.simulating import (
    Action,
    cheapest_check_first,
    follow_planner,
    in_fixed_order,
    likeliest_cause_first,
    straight_to,
)

ROWS = [("wire", 0.5, 60, "standing"), ("valve", 0.3, 300, "pan_off"), ("clutch", 0.2, 900, "unit_out")]


def _bench(belief=(0.5, 0.3, 0.2)):
    situation, _ = one_job_per_cause(ROWS, SHOP_TREE, test_cost=20, comeback_cost=40, uncured_cost=4000)
    exchange = Job("exchange", 2500.0, 300.0, "unit_out", np.ones(3), gives_up=True)
    checks = (Check("scan", 15, 10, "standing"), Check("debris", 14.9, 5, "pan_off"))
    table = np.array([[0.9, 0.1, 0.3], [0.1, 0.9, 0.7]])
    tables = {check.id: Outcomes(("a", "b"), table) for check in checks}
    situation = replace(situation, jobs=(*situation.jobs, exchange), checks=checks)
    return situation, TableOracle(situation.hypotheses, np.array(belief), tables)


def test_cheapest_check_first__counts_the_opening():
    assert Action("check", ("scan",)) == cheapest_check_first(*_bench())


def test_cheapest_check_first__stops_when_one_job_is_sure_enough():
    assert Action("job", ("valve",)) == cheapest_check_first(*_bench((0.05, 0.9, 0.05)))


def test_likeliest_cause_first__checks_nothing():
    assert Action("job", ("wire",)) == likeliest_cause_first(*_bench())


def test_likeliest_cause_first__last_resort_when_nothing_is_likely():
    situation, oracle = _bench()
    unlikely = replace(situation, jobs=tuple(
        replace(job, cures=0.1 * job.cures) if not job.gives_up else job for job in situation.jobs
    ))
    assert Action("job", ("exchange",)) == likeliest_cause_first(unlikely, oracle)


def test_likeliest_cause_first__leaves_where_the_last_resort_is_too_dear():
    situation, oracle = _bench()
    assert Action("leave") == likeliest_cause_first(replace(situation, jobs=(), uncured_cost=100.0), oracle)


def test_in_fixed_order__keeps_to_its_list():
    situation, oracle = _bench()
    policy = in_fixed_order(["fluid", "debris", "scan"])
    assert Action("check", ("debris",)) == policy(situation, oracle)
    assert Action("check", ("scan",)) == policy(situation.without(checks=(1,)), oracle)
    assert Action("job", ("wire",)) == policy(replace(situation, checks=()), oracle)


def test_straight_to__the_job_first_then_what_is_likeliest():
    situation, oracle = _bench()
    assert Action("job", ("clutch",)) == straight_to("clutch")(situation, oracle)
    assert Action("job", ("wire",)) == straight_to("clutch")(situation.without(jobs=(2,)), oracle)


def test_follow_planner__does_what_the_planner_puts_first():
    situation, oracle = _bench()
    step = choose_step(situation, oracle).steps[0]
    assert Action(step.kind, step.ids) == follow_planner()(situation, oracle)
