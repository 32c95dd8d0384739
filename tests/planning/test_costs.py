"""What jobs and checks cost from where the vehicle stands."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
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


@given(st.permutations([0, 2]), st.sampled_from([0, PAN, BODY]))
def test_reach_check__law_the_order_of_checks_that_share_what_is_open_does_not_matter(order, opened):
    totals, situation = [], _situation()
    for checks in (order, order[::-1]):
        total, at = 0.0, opened
        for check in checks:
            cost, _, at = situation.reach_check(check, at)
            total += cost
        totals.append((total, at))
    assert totals[0] == pytest.approx(totals[1], abs=1e-12)


@given(st.sampled_from([0, PAN, BODY]))
def test_reach_check__law_a_second_check_behind_the_same_opening_pays_its_own_work_alone(opened):
    situation = _situation()
    _, _, at = situation.reach_check(0, opened)
    assert (situation.checks[0].cost, situation.checks[0].minutes, at) == situation.reach_check(0, at)


@given(st.sampled_from([0, PAN, BODY]))
def test_batch_cost__law_one_go_costs_no_more_than_two_and_saves_a_test_and_the_shared_opening(opened):
    situation = _situation()
    together = situation.batch_cost((0, 1), opened)
    apart = situation.batch_cost((0,), opened) + situation.batch_cost((1,))
    shared = float(TREE.round_trip(PAN))
    assert together <= apart
    if not opened:
        assert apart - together == pytest.approx(situation.test_cost + shared, abs=1e-9)


def test_batch_cost__order_within_a_batch_does_not_matter():
    situation = _situation()
    assert situation.batch_cost((0, 1), PAN) == pytest.approx(situation.batch_cost((1, 0), PAN), abs=1e-12)
    assert situation.missed_by((0, 1)) == pytest.approx(situation.missed_by((1, 0)), abs=1e-12)


def test_cures__no_jobs_give_an_empty_table():
    assert (0, 2) == replace(_situation(), jobs=()).cures.shape


def test_check_index__unknown_check():
    with pytest.raises(UnknownId, match="No open check is called stethoscope"):
        _situation().check_index("stethoscope")
