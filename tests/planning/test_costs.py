"""Access levels, jobs and checks: paths, masks and what they cost."""

from functools import cached_property

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from support.models import draw_model, make_alike
from support.situations import EIGHT_JOBS, ROOT_ONLY, SHOP_TREE, one_job_per_cause, single_causes

from shiftlore.basics import UnknownId, UsageProblem
from shiftlore.planning import (
    LEAST_MEANT,
    AccessNode,
    AccessTree,
    Hypotheses,
    PricedCheck,
    PricedJob,
    SharedWork,
    Situation,
)
from shiftlore.planning.batches import subset_jobs


def test_path_mask__deep_level_needs_every_level_on_the_way():
    assert 0b0110 == SHOP_TREE.path_mask("valve_body_out")


def test_path_mask__root_needs_nothing():
    assert 0 == SHOP_TREE.path_mask("standing")


def test_path_mask__unknown_level():
    with pytest.raises(UnknownId, match="sump"):
        SHOP_TREE.path_mask("sump")


def test_open_costs__adds_up_the_path():
    mask = SHOP_TREE.path_mask("valve_body_out")
    assert 2.0 == pytest.approx(SHOP_TREE.open_costs[mask], abs=1e-12)
    assert 2.0 == pytest.approx(SHOP_TREE.close_costs[mask], abs=1e-12)


@given(st.integers(0, 15), st.integers(0, 15))
def test_open_costs__law_disjoint_levels_add(left, right):
    tables = SHOP_TREE.open_costs
    assert tables[left | right] + tables[left & right] == pytest.approx(tables[left] + tables[right], abs=1e-9)


def test_minutes__tabled_beside_the_costs():
    tree = AccessTree((AccessNode("standing"), AccessNode("pan", "standing", 9.0, 8.0, 20.0, 30.0)))
    assert (20.0, 30.0) == (tree.open_minutes[2], tree.close_minutes[2])


def test_access_tree__parent_after_child_is_refused():
    with pytest.raises(UsageProblem, match="stands before its parent"):
        AccessTree((AccessNode("valve_body_out", "pan_off"), AccessNode("pan_off")))


def test_access_tree__too_many_levels_are_refused():
    with pytest.raises(UsageProblem, match="At most 16"):
        AccessTree(tuple(AccessNode(f"level{i}") for i in range(17)))


MASKS = st.integers(0, 15)


@given(MASKS, MASKS)
def test_round_trip__law_two_errands_in_one_go_never_cost_more(one, other):
    together = SHOP_TREE.round_trip(one | other)
    assert together <= SHOP_TREE.round_trip(one) + SHOP_TREE.round_trip(other) + 1e-12


@given(MASKS, MASKS)
def test_round_trip__law_what_is_open_saves_its_opening_and_is_closed_anyway(mask, opened):
    saved = SHOP_TREE.open_costs[mask & opened]
    added = SHOP_TREE.close_costs[opened & ~mask]
    assert SHOP_TREE.round_trip(mask) - saved + added == pytest.approx(SHOP_TREE.round_trip(mask, opened), abs=1e-12)


def test_round_trip__many_sets_as_one_by_one():
    masks = np.arange(16)
    assert [SHOP_TREE.round_trip(mask, 2) for mask in masks] == SHOP_TREE.round_trip(masks, 2).tolist()


@pytest.mark.parametrize("level", [node.id for node in SHOP_TREE.nodes])
def test_path_mask__holds_the_path_of_its_parent(level):
    parent = SHOP_TREE.nodes[SHOP_TREE.index[level]].parent
    own = SHOP_TREE.path_mask(level)
    assert parent is None or SHOP_TREE.path_mask(parent) == own & ~(1 << SHOP_TREE.index[level])


TREE = AccessTree(
    (
        AccessNode("standing"),
        AccessNode("pan_off", "standing", 30, 40, 20, 25),
        AccessNode("valve_body_out", "pan_off", 50, 60, 35, 45),
    )
)
PAN, BODY = TREE.path_mask("pan_off"), TREE.path_mask("valve_body_out")


def _situation(opened=0):
    jobs = (
        PricedJob("solenoid", 90, 15, "pan_off", np.array([0.9, 0.0])),
        PricedJob("valve_body", 300, 40, "valve_body_out", np.array([0.5, 1.0])),
        PricedJob("exchange", 2000, 300, "standing", np.array([1.0, 1.0]), alone=True),
    )
    checks = (
        PricedCheck("debris", 5, 4, "pan_off"),
        PricedCheck("road_test", 20, 15, "standing", needs_closed=True),
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


def test_is_batch__an_exchange_shares_none():
    assert [True, True, False] == [_situation().is_batch(batch) for batch in ((2,), (0, 1), (1, 2))]


def test_job_index__unknown_job():
    with pytest.raises(UnknownId, match="No open job is called bearing"):
        _situation().job_index("bearing")


def test_situation__cost_of_an_uncured_vehicle_must_be_finite():
    with pytest.raises(UsageProblem, match="finite"):
        _situation().vary(uncured_cost=float("inf"))


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
    assert (0, 2) == _situation().vary(jobs=()).cures.shape


def test_check_index__unknown_check():
    with pytest.raises(UnknownId, match="No open check is called stethoscope"):
        _situation().check_index("stethoscope")


def test_touches__a_pair_is_touched_by_either():
    hypotheses = Hypotheses(("a", "b"), ((0,), (0, 1)))
    jobs = (PricedJob("one", 1.0, 0.0, "standing", np.array([0.5, 0.5])),)
    situation = Situation(hypotheses, ROOT_ONLY, jobs, uncured_cost=5.0)
    assert [[0.5, 0.75]] == pytest.approx(situation.touches, abs=1e-12)


def test_lone_costs__access_there_and_back_and_the_test():
    situation, _ = one_job_per_cause(EIGHT_JOBS, SHOP_TREE, test_cost=0.3)
    assert pytest.approx(1.5 + 2.0 + 2.0 + 0.3, abs=1e-9) == situation.lone_costs[4]


def test_weigh_batches__many_at_once_as_one_by_one():
    situation, batches = _situation(), [(0,), (0, 1), (2,), ()]
    costs, masks, missed = situation.weigh_batches(batches)
    for row, batch in enumerate(batches):
        access = situation.access_cost(situation.batch_mask(batch))
        assert situation.batch_cost(batch) == pytest.approx(costs[row] + access, abs=1e-9)
        assert situation.batch_mask(batch) == masks[row]
        assert situation.missed_by(batch) == pytest.approx(missed[row], abs=1e-12)


def test_index_of__an_unknown_level():
    assert [0, 1, 2] == [TREE.index_of(node.id) for node in TREE.nodes]
    with pytest.raises(UnknownId, match="sump"):
        TREE.index_of("sump")


SETTING = SharedWork("setting", 40.0, 30.0)


def _sharing(**second):
    jobs = (
        PricedJob("clutch", 500, 90, "standing", np.array([0.9, 0.0]), shares=("setting",), kind="clutch"),
        PricedJob("pack", 100, 20, "standing", np.array([0.6, 0.5]), **second),
    )
    return Situation(single_causes("ab"), ROOT_ONLY, jobs, test_cost=25, test_minutes=20, shared=(SETTING,))


def test_batch_cost__what_two_jobs_share_is_paid_once():
    assert 500 + 100 + 40 + 25 == pytest.approx(_sharing(shares=("setting",)).batch_cost((0, 1)), abs=1e-9)
    assert 90 + 20 + 30 + 20 == pytest.approx(_sharing(shares=("setting",)).batch_minutes((0, 1)), abs=1e-9)


def test_batch_cost__what_another_job_does_is_not_paid_besides():
    assert 500 + 100 + 25 == pytest.approx(_sharing(spares=("setting",)).batch_cost((0, 1)), abs=1e-9)
    assert 500 + 40 + 25 == pytest.approx(_sharing(spares=("setting",)).batch_cost((0,)), abs=1e-9)


def test_is_batch__what_a_job_contains_is_not_ordered_with_it():
    situation = _sharing(contains=frozenset(["clutch"]))
    assert [True, False] == [situation.is_batch(batch) for batch in ((0,), (0, 1))]
    assert ((1,), (0,)) == situation.drop_contained(((0, 1), (0,)))


@pytest.mark.parametrize("changes", [{"opened": 1}, {"budget": 90.0}, {"checks": ()}, {"test_cost": 7.0}, {"jobs": ()}])
def test_vary__what_is_kept_is_what_would_be_worked_out_anew(changes):
    situation = make_alike(np.random.default_rng(5), draw_model(np.random.default_rng(4))[0])
    names = [name for name, what in vars(Situation).items() if isinstance(what, cached_property)]
    for name in names:
        getattr(situation, name)
    fields = {name: getattr(situation, name) for name in situation.__struct_fields__}
    varied, fresh = situation.vary(**changes), Situation(**{**fields, **changes})
    assert len(names) > 10
    for name in names:
        np.testing.assert_equal(getattr(varied, name), getattr(fresh, name))


def test_without__what_failed_leaves_its_kind_the_chance_that_it_is_surer_by():
    (later,) = _sharing(kind="clutch").without(jobs=(0,)).jobs
    assert [0.0, 0.5] == pytest.approx(later.cures, abs=1e-12)
    (later,) = _sharing(kind="clutch").without(jobs=(1,)).jobs
    assert [0.75, 0.0] == pytest.approx(later.cures, abs=1e-12)  # (0.9 - 0.6) / (1 - 0.6)
    (other,) = _sharing().without(jobs=(0,)).jobs
    assert [0.6, 0.5] == pytest.approx(other.cures, abs=1e-12)


@pytest.mark.parametrize("seed", range(6))
def test_weigh_subsets__each_as_a_batch_by_itself(seed):
    rng = np.random.default_rng([71, seed])
    situation = make_alike(rng, draw_model(rng, jobs=6)[0])
    jobs = rng.permutation(len(situation.jobs)).tolist()
    batches = [subset_jobs(subset, jobs) for subset in range(2 ** len(jobs))]
    for one, other in zip(situation.weigh_batches(batches), situation.weigh_subsets(jobs), strict=True):
        assert one == pytest.approx(other, abs=1e-9)
    costs = situation.weigh_batches(batches)[0] + situation.access.round_trip(situation.weigh_batches(batches)[1])
    assert costs == pytest.approx([situation.batch_cost(batch) for batch in batches], abs=1e-9)


@pytest.mark.parametrize(("p", "unfit"), [(0.5 * LEAST_MEANT, {"wash"}), (2 * LEAST_MEANT, set())])
def test_list_unfit__work_made_for_one_cause_needs_that_to_be_likely(p, unfit):
    """An overhaul for coolant in the fluid was offered for fluid that foamed: it would have cured that too."""
    situation, belief = one_job_per_cause([("water", p, 1.0, "standing"), ("foam", 1 - p, 1.0, "standing")])
    wash = situation.jobs[0].vary(id="wash", cures=np.ones(2), meant=frozenset({"water", "unheard_of"}))
    assert unfit == situation.vary(jobs=(wash, situation.jobs[1])).list_unfit(belief)
