"""What jobs and checks cost from where the vehicle stands."""

from dataclasses import replace

import numpy as np
import pytest
from support.situations import single_causes

from shiftlore.basics import UnknownId, UsageProblem
from shiftlore.planning import AccessNode, AccessTree, PricedCheck, PricedJob, Situation

TREE = AccessTree((
    AccessNode("standing"), AccessNode("pan_off", "standing", 30, 40, 20, 25),
    AccessNode("valve_body_out", "pan_off", 50, 60, 35, 45),
))
PAN, BODY = TREE.path_mask("pan_off"), TREE.path_mask("valve_body_out")


def _situation(opened=0):
    jobs = (
        PricedJob("solenoid", 90, 15, "pan_off", np.array([0.9, 0.0])),
        PricedJob("valve_body", 300, 40, "valve_body_out", np.array([0.5, 1.0])),
        PricedJob("exchange", 2000, 300, "standing", np.array([1.0, 1.0]), gives_up=True),
    )
    checks = (
        PricedCheck("debris", 5, 4, "pan_off"), PricedCheck("road_test", 20, 15, "standing", needs_closed=True),
        PricedCheck("scan", 10, 8, "standing"),
    )
    return Situation(single_causes("ab"), TREE, jobs, checks, opened, test_cost=25, test_minutes=20)


def test_reach_check__opens_what_is_still_closed():
    assert (35.0, 24.0, PAN) == _situation().reach_check(0, 0)
    assert (5.0, 4.0, BODY) == _situation().reach_check(0, BODY)


def test_reach_check__road_test_needs_the_vehicle_together():
    # closing pan and valve body first: 40 + 60, and 25 + 45 minutes
    assert (120.0, 85.0, 0) == _situation().reach_check(1, BODY)


def test_reach_check__scan_leaves_open_what_is_open():
    assert (10.0, 8.0, BODY) == _situation().reach_check(2, BODY)


def test_batch_cost__one_opening_serves_both_jobs():
    # own 390, opening 80, closing 100, test 25
    assert pytest.approx(595, abs=1e-9) == _situation().batch_cost((0, 1))
    assert pytest.approx(595 - 30, abs=1e-9) == _situation().batch_cost((0, 1), PAN)


def test_batch_cost__what_is_open_besides_is_closed_too():
    # a job at the pan with the valve body out: opening nothing, closing both
    assert pytest.approx(90 + 100 + 25, abs=1e-9) == _situation().batch_cost((0,), BODY)


def test_batch_minutes__labour_of_access_and_test():
    assert pytest.approx(15 + 20 + 25 + 20, abs=1e-9) == _situation().batch_minutes((0,))


def test_missed_by__two_jobs_on_one_cause():
    assert [0.05, 0.0] == pytest.approx(_situation().missed_by((0, 1)), abs=1e-12)
    assert [1.0, 1.0] == pytest.approx(_situation().missed_by(()), abs=1e-12)


def test_without__drops_what_was_done():
    later = _situation().without(jobs=(0,), checks=(1, 2))
    assert (["valve_body", "exchange"], ["debris"]) == ([j.id for j in later.jobs], [c.id for c in later.checks])


def test_ordinary__last_resorts_stand_apart():
    assert ((0, 1), (2,)) == (_situation().ordinary, _situation().last_resorts)


def test_job_index__unknown_job():
    with pytest.raises(UnknownId, match="No open job is called bearing"):
        _situation().job_index("bearing")


def test_situation__cost_of_an_uncured_vehicle_must_be_finite():
    with pytest.raises(UsageProblem, match="finite"):
        replace(_situation(), uncured_cost=float("inf"))
