"""The choice of the next step, against the exact optimum and by its laws."""

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from support.models import draw_model, find_optimum, follow_planner
from support.situations import ROOT_ONLY, SHOP_TREE, one_job_per_cause, single_causes
from support.table_oracle import TableOracle

from shiftlore.planning import (
    AccessNode,
    AccessTree,
    LookAhead,
    Outcomes,
    PricedCheck,
    PricedJob,
    Situation,
    choose_step,
    outlook,
)


def test_choose_step__regret_on_20_small_models():
    # tests and jobs together: 6 causes, 4 jobs and an exchange, 4 checks; the planner followed to the end
    regrets = []
    for seed in range(20):
        situation, oracle = draw_model(np.random.default_rng([61, seed]))
        regrets.append(follow_planner(situation, oracle) / find_optimum(situation, oracle) - 1)
    assert 0.01 >= np.mean(regrets)
    assert 0.05 >= max(regrets)
    assert -1e-9 <= min(regrets)


@pytest.mark.parametrize("seed", range(20))
def test_choose_step__bounds_hold_the_optimum_between_them(seed):
    situation, oracle = draw_model(np.random.default_rng([62, seed]))
    choice, optimum = choose_step(situation, oracle), find_optimum(situation, oracle)
    assert choice.lower_bound <= optimum + 1e-9
    assert optimum <= choice.upper_bound + 1e-9 <= choice.expected_total_now + 2e-9


def _two_causes(check_cost=5.0, tells=0.95, access="standing", **charges):
    """A cheap and a dear job, and one check that tells their causes apart."""
    tree = charges.pop("tree", SHOP_TREE)
    rows = [("solenoid", 0.5, 40, "standing"), ("clutch", 0.5, 90, "standing")]
    charges = {"test_cost": 10.0, "comeback_cost": 15.0, "uncured_cost": 2000.0, **charges}
    situation, belief = one_job_per_cause(rows, tree, **charges)
    table = np.array([[tells, 1 - tells], [1 - tells, tells]])
    oracle = TableOracle(situation.hypotheses, belief, {"scan": Outcomes(("code", "none"), table)})
    return situation.vary(checks=(PricedCheck("scan", check_cost, 6.0, access),)), oracle


def test_choose_step__a_telling_cheap_check_comes_first():
    choice = choose_step(*_two_causes())
    assert ("check", ("scan",)) == (choice.steps[0].kind, choice.steps[0].ids)
    assert not choice.stop.advised


def test_choose_step__cost_after_and_saving_add_up():
    for step in choose_step(*_two_causes()).steps:
        now = choose_step(*_two_causes()).expected_total_now
        assert now == pytest.approx(step.cost.total + step.expected_total_after + step.expected_saving, abs=1e-9)


def test_choose_step__check_that_tells_nothing_is_never_proposed():
    situation, oracle = _two_causes(check_cost=0.0, tells=0.5)
    choice = choose_step(situation, oracle)
    assert ["job"] == sorted({step.kind for step in choice.steps})
    assert (True, "no_check_matters") == (choice.stop.advised, choice.stop.reason)


def test_choose_step__idle_check_before_a_good_one_is_not_proposed():
    # two steps ahead the idle check "saves" what the good one saves; it must not be credited with it
    situation, oracle = _two_causes()
    idle = Outcomes(("left", "right"), np.full((2, 2), 0.5))
    oracle = replace(oracle, tables={**oracle.tables, "idle": idle})
    situation = situation.vary(checks=(*situation.checks, PricedCheck("idle", 0.0, 1.0, "standing")))
    assert all("idle" not in step.ids for step in choose_step(situation, oracle).steps)


def test_choose_step__dear_check_is_not_proposed_and_stop_says_why():
    choice = choose_step(*_two_causes(check_cost=60.0))
    assert (True, "no_check_pays", "scan") == (choice.stop.advised, choice.stop.reason, choice.stop.best_check)
    assert 0 > choice.stop.best_check_saving
    assert 0.5 == pytest.approx(choice.stop.p_cured, abs=1e-9)


def test_choose_step__no_check_left():
    situation, oracle = _two_causes()
    assert "no_check_left" == choose_step(situation.vary(checks=()), oracle).stop.reason


def test_choose_step__check_behind_a_dear_opening_waits_until_it_is_open():
    situation, oracle = _two_causes(access="unit_out", tree=_scaled_tree(20))
    assert choose_step(situation, oracle).stop.advised
    opened = situation.vary(opened=situation.access.path_mask("unit_out"))
    assert "check" == choose_step(opened, oracle).steps[0].kind


def _scaled_tree(factor):
    return AccessTree(
        tuple(
            AccessNode(node.id, node.parent, factor * node.open_cost, factor * node.close_cost)
            for node in SHOP_TREE.nodes
        )
    )


def test_choose_step__dearer_labour_turns_a_long_check_down():
    assert not choose_step(*_two_causes(check_cost=10.0)).stop.advised
    assert choose_step(*_two_causes(check_cost=40.0)).stop.advised


def test_choose_step__without_the_scan_tool_the_check_is_gone():
    situation, oracle = _two_causes()
    with_tool, without = choose_step(situation, oracle), choose_step(situation.vary(checks=()), oracle)
    assert with_tool.upper_bound < without.upper_bound


def _two_halves():
    """Neither reading tells anything alone; both together settle it."""
    hypotheses = single_causes("abcd")
    cures = np.array([[1, 0, 0, 1], [0, 1, 1, 0]], dtype=float)
    jobs = tuple(PricedJob(f"job{i}", 100.0, 0.0, "standing", cures[i]) for i in range(2))
    checks = (PricedCheck("first", 5.0, 0.0, "standing"), PricedCheck("second", 5.0, 0.0, "standing"))
    situation = Situation(hypotheses, ROOT_ONLY, jobs, checks, test_cost=10, comeback_cost=30, uncured_cost=2000)
    first, second = np.array([1.0, 1, 0, 0]), np.array([1.0, 0, 1, 0])
    tables = {
        name: Outcomes(("up", "down"), np.array([row, 1 - row])) for name, row in (("first", first), ("second", second))
    }
    return situation, TableOracle(hypotheses, np.full(4, 0.25), tables)


def test_choose_step__two_steps_ahead_where_one_step_sees_nothing():
    situation, oracle = _two_halves()
    assert choose_step(situation, oracle, LookAhead(depth=1)).stop.advised
    deep = choose_step(situation, oracle, LookAhead(depth=2, small=0))
    assert "check" == deep.steps[0].kind
    # 5 + 5 + 100 + 10 against 110 + .5 * (30 + 110)
    assert pytest.approx((120, 180), abs=1e-9) == (deep.upper_bound, deep.expected_total_now)


def _shared_opening():
    """Two pan checks that tell apart two of three causes each; the opening pays only for both."""
    tree = AccessTree((AccessNode("standing"), AccessNode("pan_off", "standing", 30.0, 30.0)))
    rows = [(name, 1 / 3, 100, "standing") for name in "abc"]
    situation, belief = one_job_per_cause(rows, tree, test_cost=10, comeback_cost=20, uncured_cost=2000)
    tables = {
        f"look_{name}": Outcomes(("yes", "no"), np.array([np.eye(3)[i], 1 - np.eye(3)[i]]))
        for i, name in enumerate("ab")
    }
    checks = tuple(PricedCheck(name, 3.0, 4.0, "pan_off") for name in tables)
    return situation.vary(checks=checks), TableOracle(situation.hypotheses, belief, tables)


@pytest.mark.parametrize(("least", "first"), [(0.0, "cheap"), (0.19, "cheap"), (0.21, "dear")])
def test_choose_step__nobody_begins_with_what_fits_the_belief_too_badly(least, first):
    situation, belief = one_job_per_cause([("cheap", 0.2, 1, "standing"), ("dear", 0.8, 400, "standing")], SHOP_TREE)
    situation = situation.vary(jobs=(situation.jobs[0].vary(least=least), situation.jobs[1]), uncured_cost=2000.0)
    choice = choose_step(situation, TableOracle(situation.hypotheses, belief, {}))
    named = {job for step in choice.steps for job in step.ids}
    assert (first, least < 0.2) == (choice.plan.batches[0][0], "cheap" in named)
    assert choice.stop.jobs == choice.plan.batches[0] == choice.steps[0].ids
    assert named <= {job.id for job in choice.outlook.situation.jobs}


def test_choose_step__a_repair_is_not_followed_by_what_only_shows_that_nothing_is_broken():
    situation, belief = one_job_per_cause([("dear", 0.2, 90, "standing"), ("cheap", 0.8, 5, "standing")], SHOP_TREE)
    situation = situation.vary(jobs=(situation.jobs[0].vary(least=0.3), situation.jobs[1]), uncured_cost=2000.0)
    choice = choose_step(situation, TableOracle(situation.hypotheses, belief, {}))
    assert (("cheap",),) == choice.plan.batches
    assert all("dear" not in step.ids for step in choice.steps)


def test_choose_step__bundle_while_the_pan_is_off():
    choice = choose_step(*_shared_opening())
    bundles = [step for step in choice.steps if step.kind == "bundle"]
    assert [{"look_a", "look_b"}] == [set(step.ids) for step in bundles]
    # one opening for both: 30 + 3 + 3, closing 30 later
    assert pytest.approx((36.0, 30.0, 30.0), abs=1e-9) == (
        bundles[0].cost.total,
        bundles[0].cost.access,
        bundles[0].cost.closing_later,
    )


def test_choose_step__bundle_is_worth_what_its_joint_outcomes_say():
    choice = choose_step(*_shared_opening())
    bundle = next(step for step in choice.steps if step.kind == "bundle")
    # both looks settle the cause: 36 + 30 closing + 100 + 10
    assert pytest.approx(176.0, abs=1e-6) == bundle.expected_total


def test_choose_step__budget_keeps_dear_jobs_out():
    situation, oracle = _two_causes()
    tight = choose_step(situation.vary(budget=70.0), oracle)
    assert all("clutch" not in step.ids for step in tight.steps if step.kind == "job")


@pytest.mark.parametrize("seed", range(12))
def test_choose_step__law_a_larger_budget_never_costs_more(seed):
    situation, oracle = draw_model(np.random.default_rng([63, seed]))
    totals = [choose_step(situation.vary(budget=b), oracle).expected_total_now for b in (100, 400, 1500, 6000)]
    assert all(more <= less + 1e-9 for less, more in pairwise(totals))


@pytest.mark.parametrize("seed", range(12))
def test_choose_step__law_free_information_never_raises_the_total(seed):
    rng = np.random.default_rng([64, seed])
    situation, oracle = draw_model(rng, checks=3)
    table = rng.dirichlet(np.ones(3), len(oracle.belief)).T
    free = PricedCheck("free", 0.0, 0.0, "standing")
    more = situation.vary(checks=(*situation.checks, free))
    richer = replace(oracle, tables={**oracle.tables, "free": Outcomes(("x", "y", "z"), table)})
    look = LookAhead(small=0)
    assert choose_step(more, richer, look).upper_bound <= choose_step(situation, oracle, look).upper_bound + 1e-9


@pytest.mark.parametrize("seed", range(12))
def test_choose_step__law_an_opening_already_paid_never_costs_more_than_the_closing(seed):
    situation, oracle = draw_model(np.random.default_rng([65, seed]))
    mask = situation.access.path_masks[-1]
    opened = situation.vary(opened=mask)
    closing = float(situation.access.close_costs[mask])
    assert find_optimum(opened, oracle) <= find_optimum(situation, oracle) + closing + 1e-9
    before, after = (choose_step(where, oracle).expected_total_now for where in (situation, opened))
    assert after <= before + closing + 1e-9


def test_choose_step__b17_road_test_closes_everything_first():
    # state = belief and open levels, a road test needs all closed: Warnquist, Nyberg and Saby 2008
    situation, oracle = _two_causes(tree=_scaled_tree(10))
    test = PricedCheck("road_test", 1.0, 15.0, "standing", needs_closed=True)
    oracle = replace(oracle, tables={"road_test": oracle.tables["scan"]})
    situation = situation.vary(checks=(test,), opened=situation.access.path_mask("pan_off"))
    step = next(step for step in choose_step(situation, oracle).steps if step.kind == "check")
    assert pytest.approx((8.0, 7.0, 0.0), abs=1e-9) == (step.cost.total, step.cost.access, step.cost.closing_later)


def test_choose_step__pairs_are_planned_with_checks():
    situation, oracle = draw_model(np.random.default_rng([66, 4]), pairs=3)
    choice = choose_step(situation, oracle)
    assert choice.lower_bound <= choice.upper_bound <= choice.expected_total_now + 1e-9


@pytest.mark.parametrize("seed", range(30))
def test_choose_step__law_what_answers_save_is_never_negative(seed):
    situation, oracle = draw_model(np.random.default_rng([67, seed]), pairs=2)
    assert all(step.gross >= -1e-9 for step in choose_step(situation, oracle).steps if step.kind == "check")


@pytest.mark.parametrize("seed", range(30))
def test_choose_step__law_prices_of_a_step_add_up(seed):
    situation, oracle = draw_model(np.random.default_rng([68, seed]), pairs=2)
    choice = choose_step(situation, oracle)
    for step in choice.steps:
        cost = step.cost
        assert cost.own + cost.access + cost.test == pytest.approx(cost.total, abs=1e-9)
        assert step.cost.total + step.expected_total_after == pytest.approx(step.expected_total, abs=1e-9)
        assert choice.expected_total_now == pytest.approx(step.expected_total + step.expected_saving, abs=1e-9)
    totals = [step.expected_total for step in choice.steps]
    assert sorted(totals) == totals


@pytest.mark.parametrize("seed", range(30))
def test_choose_step__law_advice_to_stop_agrees_with_what_comes_first(seed):
    situation, oracle = draw_model(np.random.default_rng([69, seed]))
    choice = choose_step(situation, oracle)
    first = choice.steps[0].kind if choice.steps else "nothing"
    assert choice.stop.advised == (first not in ("check", "bundle"))
    assert ("check_pays" == choice.stop.reason) == (not choice.stop.advised)
    assert 0.0 <= choice.stop.p_cured <= 1.0


@pytest.mark.parametrize("seed", range(20))
def test_choose_step__law_twice_the_prices_change_no_choice(seed):
    situation, oracle = draw_model(np.random.default_rng([70, seed]))
    twice = situation.vary(
        jobs=tuple(job.vary(cost=2 * job.cost) for job in situation.jobs),
        checks=tuple(check.vary(cost=2 * check.cost) for check in situation.checks),
        access=AccessTree(
            tuple(
                node.vary(open_cost=2 * node.open_cost, close_cost=2 * node.close_cost)
                for node in situation.access.nodes
            )
        ),
        test_cost=2 * situation.test_cost,
        comeback_cost=2 * situation.comeback_cost,
        uncured_cost=2 * situation.uncured_cost,
    )
    one, two = choose_step(situation, oracle), choose_step(twice, oracle)
    assert [(step.kind, step.ids) for step in one.steps] == [(step.kind, step.ids) for step in two.steps]
    assert 2 * one.expected_total_now == pytest.approx(two.expected_total_now, rel=1e-9)


def test_choose_step__what_answers_save_is_weighed_against_paying_without_looking():
    """The gross worth of a check is what its outcomes save one by one, priced from what is open after it."""
    situation, oracle = _shared_opening()
    decision = choose_step(situation, oracle)
    bench, belief = outlook.start_bench(situation), np.asarray(oracle.belief)
    checks = [step for step in decision.steps if step.kind == "check"]
    assert checks
    for step in checks:
        place = situation.check_index(step.ids[0])
        cost, _, opened = situation.reach_check(place, 0)
        after = bench.vary(opened=opened, checks=(), budget=bench.spend(cost))
        parts = oracle.outcomes(step.ids[0]).likelihoods * belief
        blind = decision.outlook.price_jobs(belief[None], after)[0]
        assert step.gross == pytest.approx(blind - decision.outlook.price_jobs(parts, after).sum(), abs=1e-9)


CUT_SHORT = LookAhead(small=0)
"""The look-ahead of real cases: their checks have more outcomes than can be looked through to the end."""


def _inside_or_outside(outside_cost, early=0, inside_cost=0.0):
    """The same reading with the pan off, or from outside at a price; opening and closing cost 2 each."""
    tree = AccessTree((AccessNode("standing"), AccessNode("pan_off", "standing", 2.0, 2.0)))
    situation, oracle = _two_causes(tree=tree)
    inside, outside = (
        PricedCheck("inside", inside_cost, 5.0, "pan_off"),
        PricedCheck("outside", outside_cost, 5.0, "standing", early=early),
    )
    tables = {check.id: oracle.tables["scan"] for check in (inside, outside)}
    return situation.vary(checks=(inside, outside)), replace(oracle, tables=tables)


@pytest.mark.parametrize(("outside_cost", "first"), [(3.9, "outside"), (5.0, "outside"), (12.0, "inside")])
def test_choose_step__of_nearly_equal_checks_what_opens_less_comes_first(outside_cost, first):
    # inside costs 2 and, where nothing is left to close, 2 more; the total is about 90, of which 2 % is 1.8
    choice = choose_step(*_inside_or_outside(outside_cost), CUT_SHORT)
    assert first == choice.steps[0].ids[0]
    exact = choose_step(*_inside_or_outside(outside_cost), CUT_SHORT.vary(nearly=0.0))
    assert exact.upper_bound == pytest.approx(choice.upper_bound, abs=1e-9)
    assert choice.steps[0].expected_total <= 1.02 * choice.upper_bound + 1e-9


def test_choose_step__work_that_opens_waits_for_a_look_that_costs_the_same_in_the_end():
    situation, oracle = _two_causes(check_cost=12.0)
    jobs = tuple(job.vary(access="unit_out") for job in situation.jobs)
    situation = situation.vary(jobs=jobs, checks=(situation.checks[0].vary(early=1),))
    plain = choose_step(situation, oracle, CUT_SHORT.vary(nearly=0.0))
    assert 0.0 < plain.steps[0].expected_saving
    assert "check" == choose_step(situation, oracle, CUT_SHORT).steps[0].kind


@pytest.mark.parametrize(("early", "kinds"), [(0, {"job"}), (1, {"job", "check"})])
def test_choose_step__a_check_that_saves_less_than_can_be_told_is_left_out_unless_it_is_an_early_look(early, kinds):
    situation, oracle = _two_causes()
    worth = choose_step(situation, oracle).steps[0].gross
    checks = (situation.checks[0].vary(cost=worth - 0.5, early=early),)
    choice = choose_step(situation.vary(checks=checks), oracle, CUT_SHORT)
    assert kinds == {step.kind for step in choice.steps}
    assert bool(early) == (not choice.stop.advised) or choice.steps[0].kind == "job"


def test_choose_step__an_outside_check_that_is_best_by_itself_is_made_without_looking_further():
    situation, oracle = _inside_or_outside(3.0)
    far, near = choose_step(situation, oracle, CUT_SHORT), choose_step(situation, oracle, LookAhead(depth=1, small=0))
    assert "outside" == near.steps[0].ids[0]
    assert [(step.ids, step.expected_total) for step in near.steps] == [
        (step.ids, step.expected_total) for step in far.steps
    ]


@pytest.mark.parametrize("seed", range(12))
def test_choose_step__law_the_plan_can_be_begun_at_its_price_however_short_the_book(seed, monkeypatch):
    # what follows when the first batch failed must be in the book too, or work looks dearer than its own plan
    monkeypatch.setattr(outlook, "MAX_PLANS", 3)
    situation, oracle = draw_model(np.random.default_rng([82, seed]), causes=9, jobs=9, pairs=4)
    choice = choose_step(situation, oracle, CUT_SHORT)
    first = set(choice.plan.batches[0]) if choice.plan.batches else None
    begun = [step.expected_total for step in choice.steps if set(step.ids) == first]
    assert first is None or begun[0] <= choice.plan.expected_total + 1e-9


def _dear_work(job_cost, early=1):
    """One fault that is nearly sure, its dear cure, and a look at 30 that may still show another, but saves less."""
    situation, oracle = _two_causes(check_cost=30.0)
    jobs = tuple(job.vary(cost=job_cost) for job in situation.jobs)
    checks = (situation.checks[0].vary(early=early),)
    belief = np.array([0.94, 0.06])
    return situation.vary(jobs=jobs, checks=checks), replace(oracle, belief=belief)


@pytest.mark.parametrize(("job_cost", "early", "first"), [(229.0, 1, "job"), (231.0, 1, "check"), (231.0, 0, "job")])
def test_choose_step__a_look_comes_before_work_that_costs_eight_times_as_much(job_cost, early, first):
    situation, oracle = _dear_work(job_cost, early)
    assert first == choose_step(situation, oracle, CUT_SHORT).steps[0].kind


def test_choose_step__a_look_before_dear_work_is_told_as_such():
    by_numbers = choose_step(*_dear_work(300.0, early=0), CUT_SHORT)
    assert "job" == by_numbers.steps[0].kind
    situation, oracle = _dear_work(300.0)
    choice = choose_step(situation, oracle, CUT_SHORT)
    assert ("look_first", False) == (choice.stop.reason, choice.stop.advised)
    assert choice.steps[0].expected_saving <= 0.0
    assert by_numbers.upper_bound == pytest.approx(choice.upper_bound, abs=1e-9)
    assert by_numbers.steps[0].ids == choice.steps[1].ids


def test_choose_step__no_look_before_dear_work_that_the_budget_does_not_buy():
    situation, oracle = _dear_work(300.0)
    assert "check" not in {step.kind for step in choose_step(situation.vary(budget=20.0), oracle, CUT_SHORT).steps}


def test_choose_step__no_look_that_takes_the_money_of_the_better_job():
    """A look for 25 before a job for 300 is none where 310 is all there is."""
    situation, oracle = _dear_work(300.0)
    job = next(step for step in choose_step(situation, oracle, CUT_SHORT).steps if step.kind == "job")
    for spare, first in ((0.5, "job"), (1000.0, "check")):
        choice = choose_step(situation.vary(budget=job.cost.total + spare), oracle, CUT_SHORT)
        assert first == choice.steps[0].kind


def _looks(**looks):
    """Two causes and checks that tell them apart, some better than others: cost, how surely, and what they are for."""
    situation, oracle = _two_causes()
    checks = tuple(PricedCheck(key, cost, 6.0, "standing", **more) for key, (cost, _, more) in looks.items())
    tables = {
        key: Outcomes(("code", "none"), np.array([[tells, 1 - tells], [1 - tells, tells]]))
        for key, (_, tells, _) in looks.items()
    }
    return situation.vary(checks=checks), replace(oracle, tables=tables)


@pytest.mark.parametrize(("cost", "found"), [(6.0, ["made", "best"]), (6.4, ["best", "made"])])
def test_choose_step__what_proves_the_sign_goes_before_work_and_checks_that_cost_hardly_less(cost, found):
    situation, oracle = _looks(best=(5.0, 0.99, {}), made=(cost, 0.8, {"made_for": True, "proves": True}))
    choice = choose_step(situation, oracle, CUT_SHORT)
    assert found == [step.ids[0] for step in choice.steps[:2]]
    assert "job" not in {step.kind for step in choice.steps[:2]}


@pytest.mark.parametrize(("tells", "is_step"), [(0.8, True), (0.5001, False)])
def test_choose_step__what_is_made_for_the_sign_is_left_out_where_it_cannot_change_the_first_work(tells, is_step):
    situation, oracle = _looks(made=(60.0, tells, {"made_for": True}))
    choice = choose_step(situation, oracle, CUT_SHORT)
    assert is_step == (("check", ("made",)) in [(step.kind, step.ids) for step in choice.steps])
    assert is_step == (choice.stop.reason == "look_first")


@pytest.mark.parametrize(("proves", "cost", "is_step"), [(True, 4.0, True), (True, 20.0, False), (False, 4.0, False)])
def test_choose_step__what_most_likely_proves_what_dear_work_is_for_is_looked_at(proves, cost, is_step):
    situation, oracle = _looks(made=(cost, 0.5001, {"made_for": True, "proves": proves}))
    assert is_step == ("check" == choose_step(situation, oracle, CUT_SHORT).steps[0].kind)


@pytest.mark.parametrize(("job_cost", "early", "first"), [(235.0, 1, "check"), (200.0, 1, "job"), (235.0, 2, "job")])
def test_choose_step__the_first_look_of_a_visit_is_owed_to_work_eight_times_as_dear(job_cost, early, first):
    """Common practice: nobody begins dear work before the codes are read, however sure; other looks must tell something."""
    situation, oracle = _dear_work(job_cost, early)
    knows_nothing = Outcomes(("code", "none"), np.array([[0.5, 0.5], [0.5, 0.5]]))
    oracle = replace(oracle, tables={situation.checks[0].id: knows_nothing})
    assert first == choose_step(situation, oracle, CUT_SHORT).steps[0].kind


def test_choose_step__what_begins_a_visit_and_is_made_for_the_sign_goes_first_and_of_one_place_the_cheapest():
    begins = {key: {"early": place, "made_for": True} for key, place in (("dear", 3), ("cheap", 3), ("scan", 1))}
    looks = {"dear": (9.0, 0.8), "cheap": (8.0, 0.8), "scan": (9.0, 0.8)}
    situation, oracle = _looks(best=(5.0, 0.99, {}), **{key: (*looks[key], begins[key]) for key in looks})
    found = [step.ids[0] for step in choose_step(situation, oracle, CUT_SHORT).steps if step.kind == "check"]
    assert ["scan", "cheap", "best"] == found
    begins["scan"], looks["scan"] = {"early": 1}, (0.5, 0.8)  # so cheap that it is made first, but for no told sign
    situation, oracle = _looks(best=(5.0, 0.99, {}), **{key: (*looks[key], begins[key]) for key in looks})
    found = [step.ids[0] for step in choose_step(situation, oracle, CUT_SHORT).steps if step.kind == "check"]
    assert ["cheap", "scan", "best"] == found


def test_choose_step__no_work_is_done_before_the_looks_that_it_waits_for():
    """The fill was exchanged, at eight times the price, and nobody had read the level."""
    situation, oracle = _two_causes()
    table = np.full((2, 2), 0.5)
    oracle = replace(
        oracle, tables={**oracle.tables, **{name: Outcomes(("a", "b"), table) for name in ("pan", "level")}}
    )
    pan, level = PricedCheck("pan", 9.0, 1.0, "standing"), PricedCheck("level", 3.0, 1.0, "standing")
    plain = situation.vary(checks=(*situation.checks, pan, level))
    first = next(step.ids for step in choose_step(plain, oracle).steps if step.kind == "job")
    waits = [look.vary(before=frozenset(first)) for look in (pan, level)]
    for looks, told in (((pan, level), []), (waits, ["level", "pan"])):
        steps = choose_step(situation.vary(checks=(*situation.checks, *looks)), oracle).steps
        at = next(place for place, step in enumerate(steps) if step.kind == "job")
        assert told == [step.ids[0] for step in steps[:at] if step.ids[0] in ("pan", "level")]
