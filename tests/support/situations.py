"""Small situations that several planner tests use."""

from itertools import combinations, permutations

import numpy as np

from shiftlore.planning import AccessNode, AccessTree, Hypotheses, PricedJob, Situation
from shiftlore.planning.ordering import order_by_access

ROOT_ONLY = AccessTree((AccessNode("standing"),))

SHOP_TREE = AccessTree(
    (
        AccessNode("standing"),
        AccessNode("pan_off", "standing", 0.8, 0.7),
        AccessNode("valve_body_out", "pan_off", 1.2, 1.3),
        AccessNode("unit_out", "standing", 5.0, 4.5),
    )
)

EIGHT_JOBS = (
    ("harness", 0.18, 0.5, "standing"),
    ("fluid", 0.12, 0.4, "standing"),
    ("filter", 0.08, 0.2, "pan_off"),
    ("solenoid", 0.17, 0.5, "pan_off"),
    ("valve_bore", 0.2, 1.5, "valve_body_out"),
    ("plate_balls", 0.07, 0.4, "valve_body_out"),
    ("clutch", 0.13, 3.0, "unit_out"),
    ("pump_seal", 0.05, 1.0, "unit_out"),
)

DEAR = 1e7
"""Cost of leaving a vehicle uncured that no plan would choose."""


def single_causes(names):
    """Hypotheses in which exactly one cause is at work."""
    return Hypotheses(tuple(names), tuple((i,) for i in range(len(names))))


def order_plainly(p, costs):
    """Jobs with nothing to open, in the planner's order."""
    return tuple(order_by_access(p, costs, [0] * len(p), ROOT_ONLY).tolist())


def one_job_per_cause(jobs, tree=ROOT_ONLY, **charges):
    """Situation and belief from (name, p, cost, level) rows: one sure job per cause, one cause at work."""
    names = [row[0] for row in jobs]
    made = tuple(
        PricedJob(name, cost, 0.0, level, np.eye(len(jobs))[i]) for i, (name, _, cost, level) in enumerate(jobs)
    )
    charges = {"uncured_cost": DEAR, **charges}
    situation = Situation(single_causes(names), tree, made, **charges)
    return situation, np.array([row[1] for row in jobs])


def flat_jobs(p, costs):
    """Rows for `one_job_per_cause` with everything at standing."""
    return [(f"job{i}", p[i], costs[i], "standing") for i in range(len(p))]


def draw_tree_jobs(rng, most=7, levels=4):
    """A random access tree and rows of jobs on it."""
    nodes = [AccessNode("standing")]
    for i in range(rng.integers(1, levels + 1)):
        nodes.append(AccessNode(f"level{i}", nodes[rng.integers(len(nodes))].id, *rng.uniform(0, 5, 2)))
    n = int(rng.integers(2, most + 1))
    p = rng.dirichlet(np.ones(n))
    rows = [(f"job{i}", p[i], rng.uniform(0.1, 4), nodes[rng.integers(len(nodes))].id) for i in range(n)]
    return AccessTree(tuple(nodes)), rows


def cost_of_order(order, p, costs):
    """Expected cost of a flat order with a free sure test after each job, by its definition."""
    total, rest = 0.0, float(sum(p))
    for job in order:
        total += rest * costs[job]
        rest -= p[job]
    return total


def cost_inside(order, rows, tree):
    """Expected cost of an order judged with things open, level by level, by its definition."""
    nodes = {node.id: node for node in tree.nodes}
    opened, total, rest = set(), 0.0, 1.0
    for job in order:
        level = rows[job][3]
        while nodes[level].parent is not None and level not in opened:
            total += rest * (nodes[level].open_cost + nodes[level].close_cost)
            opened.add(level)
            level = nodes[level].parent
        total += rest * rows[job][2]
        rest -= rows[job][1]
    return total


def every_order(n):
    """All orders of n jobs."""
    return permutations(range(n))


def every_plan(jobs):
    """All ordered partitions of the jobs into batches."""
    if not jobs:
        yield ()
    for size in range(1, len(jobs) + 1):
        for first in combinations(jobs, size):
            for tail in every_plan(tuple(job for job in jobs if job not in first)):
                yield (first, *tail)
