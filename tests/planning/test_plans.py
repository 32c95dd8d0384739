"""Planning jobs: exact, by short cuts, within a budget."""

from itertools import pairwise

import numpy as np
import pytest
from support.models import draw_model
from support.situations import (
    EIGHT_JOBS,
    ROOT_ONLY,
    SHOP_TREE,
    draw_tree_jobs,
    flat_jobs,
    one_job_per_cause,
    single_causes,
)

from shiftlore.planning import Hypotheses, PricedJob, Situation, plan_jobs
from shiftlore.planning.batches import evaluate_plan, plan_exactly
from shiftlore.planning.plans import (
    describe_plan,
    end_plan,
    lean_batch,
    list_endings,
    plan_otherwise,
    plan_quickly,
    tidy_plan,
    useful_jobs,
)


def test_plan_jobs__b12_names_its_batches_and_closes_the_bounds():
    situation, belief = one_job_per_cause(EIGHT_JOBS, SHOP_TREE, test_cost=0.3)
    plan = plan_jobs(situation, belief)
    assert ("exact", {"filter", "solenoid"}) == (plan.method, set(plan.batches[-3]))
    assert plan.lower_bound == plan.upper_bound == pytest.approx(8.224, abs=1e-9)


@pytest.mark.parametrize("seed", range(40))
def test_plan_jobs__bounds_hold_the_exact_optimum_between_them(seed):
    rng = np.random.default_rng([31, seed])
    situation, oracle = draw_model(rng, pairs=int(rng.integers(0, 3)))
    exact = plan_exactly(situation, oracle.belief, range(len(situation.jobs)))[0]
    short = plan_jobs(situation, oracle.belief, exact_jobs=0)
    assert short.lower_bound <= exact + 1e-9 <= short.upper_bound + 2e-9


def test_plan_jobs__short_cuts_within_one_percent_on_average():
    ratios = []
    for seed in range(60):
        rng = np.random.default_rng([32, seed])
        tree, rows = draw_tree_jobs(rng)
        situation, belief = one_job_per_cause(rows, tree, test_cost=rng.uniform(0, 1))
        short = plan_jobs(situation, belief, exact_jobs=3).expected_total
        ratios.append(short / plan_jobs(situation, belief).expected_total)
    assert 1 - 1e-9 <= min(ratios)
    assert 1.01 > np.mean(ratios)


def test_plan_jobs__more_than_twelve_open_jobs():
    rng = np.random.default_rng(5)
    levels = [node.id for node in SHOP_TREE.nodes]
    rows = [(f"job{i}", p, rng.uniform(0.2, 3), levels[i % 4]) for i, p in enumerate(rng.dirichlet(np.ones(20)))]
    situation, belief = one_job_per_cause(rows, SHOP_TREE, test_cost=0.3)
    plan = plan_jobs(situation, belief)
    assert "exact" != plan.method
    assert 20 == sum(len(batch) for batch in plan.batches)
    assert plan.lower_bound < plan.expected_total <= 1.3 * plan.lower_bound


def test_plan_jobs__never_dearer_than_everything_at_once():
    for seed in range(20):
        tree, rows = draw_tree_jobs(np.random.default_rng([33, seed]))
        situation, belief = one_job_per_cause(rows, tree, test_cost=0.5)
        at_once = evaluate_plan(situation, belief, (tuple(range(len(rows))),)).expected_total
        assert plan_jobs(situation, belief).expected_total <= at_once + 1e-9


def test_plan_jobs__two_causes_jointly_likely_are_done_in_one_go():
    # pair of weight .8: one job alone hardly ever ends it
    hypotheses = Hypotheses(("a", "b"), ((0,), (1,), (0, 1)))
    jobs = tuple(PricedJob(name, 10.0, 0.0, "standing", np.eye(2)[i]) for i, name in enumerate("ab"))
    situation = Situation(hypotheses, ROOT_ONLY, jobs, test_cost=8.0, comeback_cost=20.0, uncured_cost=1000.0)
    assert [{"a", "b"}] == [set(batch) for batch in plan_jobs(situation, np.array([0.1, 0.1, 0.8])).batches]


def test_plan_jobs__budget_is_kept_in_the_worst_case():
    situation, belief = one_job_per_cause(flat_jobs([0.6, 0.4], [100, 150]), uncured_cost=1000.0)
    assert 2 == len(plan_jobs(situation, belief).batches)
    tight = plan_jobs(situation.vary(budget=160.0), belief)
    assert (("job0",),) == tight.batches
    assert tight.worst_spend <= 160.0


def test_plan_jobs__law_a_larger_budget_never_costs_more():
    for seed in range(15):
        situation, oracle = draw_model(np.random.default_rng([34, seed]))
        totals = [plan_jobs(situation.vary(budget=b), oracle.belief).expected_total for b in (50, 200, 500, 2000)]
        assert all(more <= less + 1e-9 for less, more in pairwise(totals))


def test_plan_otherwise__is_the_plan_of_those_whom_the_first_work_does_not_help():
    situation, belief = one_job_per_cause(flat_jobs([0.7, 0.2, 0.1], [10, 20, 30]), uncured_cost=1000.0)
    plan = plan_jobs(situation, belief)
    assert (("job0",), ("job1",)) == plan.batches[:2]
    others = plan_otherwise(situation, belief, plan)
    assert plan_jobs(situation, np.array([0.0, 2 / 3, 1 / 3])).batches == others.batches
    assert ("job1",) == others.batches[0] and all("job0" not in batch for batch in others.batches)
    nothing = plan.vary(batches=())
    assert nothing is plan_otherwise(situation, belief, nothing)


def test_plan_quickly__close_to_the_exact_plan():
    # 300 random trees of the source: 0.4 % above on average, 7.5 % at worst
    ratios = []
    for seed in range(60):
        rng = np.random.default_rng([35, seed])
        tree, rows = draw_tree_jobs(rng)
        situation, belief = one_job_per_cause(rows, tree, test_cost=rng.uniform(0, 1))
        quick = evaluate_plan(situation, belief, plan_quickly(situation, belief[None])[0]).expected_total
        ratios.append(quick / plan_exactly(situation, belief, range(len(rows)))[0])
    assert 1 - 1e-9 <= min(ratios)
    assert 1.01 > np.mean(ratios)
    assert 1.12 > max(ratios)


def test_plan_quickly__no_jobs_no_plan():
    situation = Situation(single_causes("a"), ROOT_ONLY, (), uncured_cost=5.0)
    assert [(), ()] == plan_quickly(situation, np.ones((2, 1)))


def test_useful_jobs__leaves_out_what_cannot_help():
    situation, belief = one_job_per_cause(flat_jobs([0.7, 0.3, 0.0], [10, 1, 1]))
    assert [1, 0] == useful_jobs(situation, belief)


def test_list_endings__the_dear_job_that_saves_most_and_what_lies_outside_it():
    # an exchange cures both causes inside; the cheap job outside is what is left to do after it
    cures = np.array([[1.0, 1.0, 0.0], [0.0, 0.0, 1.0], [0.2, 0.0, 0.0]])
    costs = (500.0, 30.0, 80.0)
    jobs = tuple(
        PricedJob(name, cost, 0.0, "standing", row, alone=name == "exchange")
        for name, cost, row in zip(("exchange", "outside", "inside"), costs, cures, strict=True)
    )
    situation = Situation(single_causes("abc"), ROOT_ONLY, jobs, uncured_cost=5000.0)
    endings = list_endings(situation, np.array([0.5, 0.3, 0.2]))
    assert [(), ((0,), (1,))] == endings[:2]


def test_end_plan__does_nothing_twice():
    assert ((3,), (1, 2), (0,), (4,)) == end_plan(((3,), (1, 2)), ((0,), (1, 4), (2,)))
    assert ((3,),) == end_plan(((3,),), ())


def test_plan_jobs__many_jobs_are_ended_with_an_exchange_rather_than_uncured():
    """Thirty cheap jobs of small chance each: by probability over cost the exchange stands behind all that a plan takes."""
    n = 30
    rows = flat_jobs(np.full(n, 1 / n), [10.0] * n)
    situation, belief = one_job_per_cause(rows, test_cost=20.0, comeback_cost=50.0, uncured_cost=9000.0)
    exchange = PricedJob("exchange", 900.0, 0.0, "standing", np.full(n, 0.95), alone=True)
    situation = situation.vary(jobs=(*situation.jobs, exchange))
    assert 0.95 <= plan_jobs(situation, belief, exact_jobs=0).p_cured + 1e-9


def _plan(situation, belief, *batches):
    """A plan made by hand, by the names of jobs."""
    return describe_plan(situation, belief, tuple(tuple(map(situation.job_index, batch)) for batch in batches), "cut")


def test_tidy_plan__what_hardly_adds_is_left_out_and_the_whole_comes_last():
    rows = [("seal", 0.5, 2, "standing"), ("unit", 0.3, 9, "standing"), ("valve", 0.19, 3, "standing")]
    situation, belief = one_job_per_cause([*rows, ("idle", 0.01, 1, "standing")], ROOT_ONLY)
    unit = np.array([0.9, 0.9, 0.9, 0.0])
    jobs = (situation.jobs[0], situation.jobs[1].vary(last=True, cures=unit), *situation.jobs[2:])
    again = situation.jobs[1].vary(id="unit_again", last=True, cures=unit)
    shown = situation.jobs[3].vary(id="shown", least=0.5, cures=np.array([0.0, 0.0, 0.5, 0.5]))
    situation = situation.vary(jobs=(*jobs, again, shown))
    told = _plan(situation, belief, ("seal", "idle"), ("unit",), ("valve",), ("unit_again",), ("shown",))
    tidy = tidy_plan(situation, belief, told)
    assert (("seal",), ("valve",), ("unit",)) == tidy.batches
    batches = tuple(tuple(map(situation.job_index, batch)) for batch in tidy.batches)
    assert tidy.expected_total == pytest.approx(evaluate_plan(situation, belief, batches).expected_total)
    first = _plan(situation, belief, ("unit",), ("seal",))
    assert first is tidy_plan(situation, belief, first)


def test_tidy_plan__nothing_worth_a_line_is_kept_as_it_is():
    situation, belief = one_job_per_cause([("idle", 0.01, 1, "standing"), ("rest", 0.99, 1, "standing")], ROOT_ONLY)
    alone = _plan(situation, belief, ("idle",))
    assert alone is tidy_plan(situation, belief, alone)


def test_lean_batch__of_two_jobs_against_one_cause_the_surer_stays_until_it_has_failed():
    situation, belief = one_job_per_cause([("valve", 0.6, 2, "standing"), ("other", 0.4, 2, "standing")], ROOT_ONLY)
    valves = tuple(
        situation.jobs[0].vary(id=name, cures=np.array([p, 0.0])) for name, p in (("block", 0.92), ("body", 0.93))
    )
    situation = situation.vary(jobs=(*valves, situation.jobs[1]))
    assert (1, 2) == lean_batch(situation, belief, (0, 1, 2))
    whole = situation.vary(jobs=tuple(job.vary(last=job.id != "body") for job in situation.jobs))
    assert (0,) == lean_batch(whole, belief, (0, 2))  # of two jobs on the whole the likelier to help
    assert (0,) == lean_batch(situation, belief, (0,), (1,))  # it cures of what is left as surely
    alike = situation.vary(jobs=tuple(job.vary(kind="same" if job.id != "other" else "") for job in situation.jobs))
    assert () == lean_batch(alike, belief, (0,), (1,))
