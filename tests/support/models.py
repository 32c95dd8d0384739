"""Random small repair models, and their exact optimum by dynamic programming: the yardstick of the planner.

The optimum is found over (checks made, jobs done, levels open), for all answers at once; it knows nothing of
plan books, orders or look-ahead. Actions and charges are those stated in `shiftlore.planning.costs`.
"""

from itertools import combinations

import numpy as np

from shiftlore.planning import (
    AccessNode,
    AccessTree,
    Hypotheses,
    LookAhead,
    Outcomes,
    PricedCheck,
    PricedJob,
    SharedWork,
    Situation,
    choose_step,
)
from support.table_oracle import TableOracle


def draw_model(rng, causes=6, jobs=4, checks=4, pairs=0):
    """Draw a situation and its oracle: overlapping, imperfect jobs, misread checks, shared openings."""
    n, m, q = rng.integers(2, causes + 1), rng.integers(1, jobs + 1), rng.integers(0, checks + 1)
    nodes = [AccessNode("standing")]
    for i in range(rng.integers(1, 4)):
        nodes.append(AccessNode(f"level{i}", nodes[rng.integers(len(nodes))].id, *rng.uniform(0, 60, 2)))
    tree = AccessTree(tuple(nodes))
    members = [(i,) for i in range(n)] + [pair for pair in combinations(range(n), 2)][:pairs]
    hypotheses = Hypotheses(tuple(f"cause{i}" for i in range(n)), tuple(members))
    level = lambda: nodes[rng.integers(len(nodes))].id  # noqa: E731
    made = [PricedJob(f"job{j}", rng.uniform(10, 300), 30.0, level(), _draw_cures(rng, n)) for j in range(m)]
    if rng.random() < 0.7:
        cures = np.where(rng.random(n) < 0.8, 0.97, 0.0)
        made.append(PricedJob("exchange", rng.uniform(400, 1200), 400.0, level(), cures, alone=True))
    looks = [PricedCheck(f"check{c}", rng.uniform(0, 60), 10.0, level(), bool(rng.random() < 0.2)) for c in range(q)]
    looks = [look.vary(access="standing") if look.needs_closed else look for look in looks]
    situation = Situation(
        hypotheses,
        tree,
        tuple(made),
        tuple(looks),
        test_cost=rng.uniform(0, 30),
        comeback_cost=rng.uniform(0, 60),
        uncured_cost=rng.uniform(500, 2500),
    )
    tables = {look.id: _draw_outcomes(rng, len(members)) for look in looks}
    return situation, TableOracle(hypotheses, rng.dirichlet(np.full(len(members), 0.8)), tables)


def make_alike(rng, situation):
    """The same situation where jobs are of a few kinds, share work and spare some of it."""
    shared = tuple(SharedWork(f"follow{i}", rng.uniform(0, 90), rng.uniform(0, 40)) for i in range(3))
    pick = lambda p: tuple(work.id for work in shared if rng.random() < p)  # noqa: E731
    kinds = [("", "fluid", "setting")[rng.integers(3)] for _ in situation.jobs]
    jobs = (
        job.vary(kind=kind, shares=pick(0.5), spares=pick(0.2)) for job, kind in zip(situation.jobs, kinds, strict=True)
    )
    return situation.vary(jobs=tuple(jobs), shared=shared)


def _draw_cures(rng, n):
    cures = np.where(rng.random(n) < 0.35, rng.choice([1.0, 0.9, 0.7], n), 0.0)
    cures[rng.integers(n)] = rng.choice([1.0, 0.9])
    return cures


def _draw_outcomes(rng, n_hypotheses):
    k = int(rng.integers(2, 4))
    table = rng.dirichlet(np.full(k, 0.4), n_hypotheses).T
    return Outcomes(tuple(f"shows{i}" for i in range(k)), table)


def find_optimum(situation, oracle):
    """Least expected total over every way of mixing checks and jobs."""
    tables = [oracle.tables[check.id].likelihoods for check in situation.checks]
    memo = {}

    def weigh(made):
        weights = oracle.belief.reshape([1] * len(tables) + [-1])
        for axis, table in enumerate(tables):
            if axis in made:
                shape = [1] * (len(tables) + 1)
                shape[axis], shape[-1] = table.shape
                weights = weights * table.reshape(shape)
        return weights

    def best(made, done, opened):
        if (made, done, opened) not in memo:
            memo[made, done, opened] = _best_here(situation, tables, weigh(made), made, done, opened, best)
        return memo[made, done, opened]

    return float(best(frozenset(), frozenset(), situation.opened).sum())


def _best_here(situation, tables, weights, made, done, opened, best):
    hyp, tree = situation.hypotheses, situation.access
    left = lambda jobs: weights @ hyp.uncured(situation.missed_by(tuple(jobs)))  # noqa: E731
    rest = left(done)
    value = rest * (situation.uncured_cost + tree.close_costs[opened])
    todo = [job for job in range(len(situation.jobs)) if job not in done]
    for size in range(1, len(todo) + 1):
        for batch in filter(situation.is_batch, combinations(todo, size)):
            after = done | frozenset(batch)
            cost = situation.batch_cost(batch, opened)
            value = np.minimum(value, cost * rest + situation.comeback_cost * left(after) + best(made, after, 0))
    for check in set(range(len(tables))) - made:
        cost, _, reached = situation.reach_check(check, opened)
        ahead = best(made | {check}, done, reached).sum(axis=check, keepdims=True)
        value = np.minimum(value, cost * rest + ahead)
    return value


def follow_planner(situation, oracle, look=LookAhead()):  # noqa: B008
    """Expected total of doing, after every result, what the planner puts first."""
    choice = choose_step(situation, oracle, look)
    if not choice.steps or choice.steps[0].expected_total > _leaving(situation) - 1e-9:
        return _leaving(situation)
    step = choice.steps[0]
    if step.kind == "job":
        return _follow_jobs(situation, oracle, step, look)
    check = step.ids[0]
    place = situation.check_index(check)
    cost, _, opened = situation.reach_check(place, situation.opened)
    later = situation.without(checks=(place,)).vary(opened=opened, budget=_left(situation, cost))
    p = oracle.outcomes(check).likelihoods @ oracle.belief
    return cost + sum(p[o] * follow_planner(later, oracle.after(check, o), look) for o in range(len(p)) if p[o] > 1e-12)


def _left(situation, cost):
    """What is left of the budget."""
    return None if situation.budget is None else situation.budget - cost


def _leaving(situation):
    return situation.uncured_cost + float(situation.access.close_costs[situation.opened])


def _follow_jobs(situation, oracle, step, look):
    batch = tuple(situation.job_index(job) for job in step.ids)
    missed = situation.missed_by(batch)
    p_left = float(oracle.belief @ situation.hypotheses.uncured(missed))
    total = situation.batch_cost(batch, situation.opened) + situation.comeback_cost * p_left
    if p_left < 1e-12:
        return total
    cost = situation.batch_cost(batch, situation.opened)
    later = situation.without(jobs=batch).vary(opened=0, budget=_left(situation, cost))
    return total + p_left * follow_planner(later, oracle.persists(missed), look)
