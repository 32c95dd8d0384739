"""From a case to a situation."""

from dataclasses import replace

import pytest
from support.trade import compiled_of, shipped, slipping, unit_of

from shiftlore.advising import prepare_situation
from shiftlore.advising.situations import build_access, cures_of, offered_jobs, open_reveals
from shiftlore.basics import UsageProblem


def _shop(**changes):
    return replace(shipped().shop, **changes)


def test_open_reveals__a_tool_that_is_missing_takes_its_checks_away():
    shop = _shop(tools=tuple(tool for tool in shipped().shop.tools if tool != "pressure_gauge"))
    with_tool, without = open_reveals(slipping(), shipped().shop), open_reveals(slipping(), shop)
    gone = set(with_tool) - set(without)
    assert gone
    assert all("pressure_gauge" in shipped().checks[check].tools for check in gone)


def test_open_reveals__done_checks_and_known_findings_are_left_out():
    compiled = slipping(done=("pan_drop",))
    reveals = open_reveals(compiled, shipped().shop)
    assert "pan_drop" not in reveals
    assert all("fluid_colour" not in group for group in reveals.values())


def test_offered_jobs__done_jobs_are_not_offered_again():
    assert "plain_service" in offered_jobs(slipping(), shipped().shop)
    assert "plain_service" not in offered_jobs(slipping(done=("plain_service",)), shipped().shop)


def test_build_access__labour_and_lost_fluid_in_money():
    sheet, shop = shipped().sheets["long5"], _shop(labour_per_hour=60.0)
    tree = build_access(shipped(), sheet, shop, ["pan_off"])
    node = tree.nodes[tree.index["pan_off"]]
    assert node.open_minutes == pytest.approx(node.open_cost, abs=1e-9)
    assert node.close_cost > node.close_minutes


def test_build_access__parents_come_before_children():
    tree = build_access(shipped(), shipped().sheets["long5"], _shop(), ["unit_stripped", "valve_body_out"])
    assert "standing" == tree.nodes[0].id
    assert {"lifted", "unit_out", "pan_off"} <= set(tree.index)


def test_prepare_situation__open_pan_is_open_from_the_start():
    situation = prepare_situation(slipping(access="pan_off")).situation
    assert situation.access.path_mask("pan_off") == situation.opened


def test_prepare_situation__driving_needs_the_vehicle_together():
    checks = {check.id: check for check in prepare_situation(slipping()).situation.checks}
    driven = [check for check in checks.values() if check.id.startswith("road_test")]
    assert driven
    assert all(check.needs_closed for check in driven)


def test_prepare_situation__exchange_is_the_last_resort():
    situation = prepare_situation(slipping()).situation
    assert {"exchange"} == {shipped().jobs[situation.jobs[job].id].kind for job in situation.last_resorts}


def test_prepare_situation__failed_job_lowers_what_it_cures():
    before, after = prepare_situation(slipping()), prepare_situation(slipping(done=("overhaul",)))
    cured = cures_of(slipping(), ["overhaul"])[0][before.oracle.weighing.kept]
    p_before, p_after = (
        prepared.situation.hypotheses.cause_probabilities(prepared.oracle.belief)[: len(cured)] @ (cured > 0)
        for prepared in (before, after)
    )
    assert p_after < p_before


def test_prepare_situation__dearer_labour_makes_every_check_dearer():
    usual, dear = (prepare_situation(slipping(), _shop(labour_per_hour=rate)).situation for rate in (60.0, 120.0))
    costs = {check.id: check.cost for check in usual.checks}
    assert all(check.cost > costs[check.id] for check in dear.checks if check.minutes > 0)


def test_prepare_situation__without_a_shop():
    compiled = compiled_of({"slips": "yes"})
    no_shop = replace(compiled, unit=replace(unit_of(), knowledge=replace(shipped(), shop=None)))
    with pytest.raises(UsageProblem, match="no shop"):
        prepare_situation(no_shop)
