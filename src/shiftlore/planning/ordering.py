"""The order of jobs by probability over cost, also where parts must come off to reach them; and how cheap it could be.

The bounds are certificates to print beside a plan.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from shiftlore.planning.costs import AccessTree, Situation

Figures = Sequence[float] | np.ndarray
"""One number per job, as a list or an array of shape (n_jobs,)."""


@dataclass(frozen=True, slots=True)
class Block:
    """Jobs that belong together because one opening serves them all.

    Args:
        p: probability that the block ends the problem.
        cost: opening, closing and jobs together.
        jobs: positions of the jobs in their order.
    """

    p: float
    cost: float
    jobs: tuple[int, ...]

    @property
    def efficiency(self) -> float:
        """Probability over cost; what costs nothing comes first if it can help at all."""
        if self.cost > 0.0:
            return self.p / self.cost
        return float("inf") if self.p > 0.0 else 0.0

    def swallow(self, other: "Block") -> "Block":
        """Both blocks as one, `other` behind."""
        return Block(self.p + other.p, self.cost + other.cost, self.jobs + other.jobs)


def order_by_access(
    p: Figures, costs: Figures, levels: Sequence[int], tree: AccessTree, opened: int = 0
) -> list[Block]:
    """Order jobs bottom-up on the access tree: each block carries its opening and closing.

    Optimal where a job can be judged with things open; the quick plan otherwise.

    Args:
        p, costs: per job, probability of ending the problem and cost at its level.
        levels: per job, position of its level in `tree`.
        opened: bit mask of the levels open now; they cost nothing more to open.
    Returns: blocks, most efficient first.
    Source: Ottosen and Jensen 2010; the same as Horn 1972 for out-trees on one machine.
    """
    lists: list[list[Block]] = [[] for _ in tree.nodes]
    for job, level in enumerate(levels):
        lists[level].append(Block(float(p[job]), float(costs[job]), (job,)))
    roots: list[Block] = []
    for node in reversed(range(len(tree.nodes))):
        items = sorted(lists[node], key=lambda block: -block.efficiency)
        parent = tree.parents[node]
        if parent < 0:
            roots.extend(items)
        elif items:
            if not opened >> node & 1:  # its opening comes first and swallows what is more efficient than the block
                block = Block(0.0, tree.nodes[node].open_cost + tree.nodes[node].close_cost, ())
                while items and (not block.jobs or items[0].efficiency > block.efficiency):
                    block = block.swallow(items.pop(0))
                items.insert(0, block)
            lists[parent].extend(items)
    return sorted(roots, key=lambda block: -block.efficiency)


def order_with_updates(weights: np.ndarray, solves: np.ndarray, costs: Figures) -> tuple[int, ...]:
    """Order overlapping jobs by probability over cost, judged anew after each failure.

    At most four times as dear as the best order (Feige, Lovasz and Tetali 2004), mostly equal to it.

    Args:
        weights: shape (n_hypotheses,).
        solves: p that a job ends the problem under a hypothesis, shape (n_jobs, n_hypotheses).
    """
    left, rest, order = list(range(len(costs))), np.array(weights, dtype=float), []
    while left:
        best = max(left, key=lambda job: Block(float(solves[job] @ rest), float(costs[job]), (job,)).efficiency)
        left.remove(best)
        order.append(best)
        rest = rest * (1.0 - solves[best])
    return tuple(order)


def carry_out_inside(
    order: Sequence[int],
    p: Figures,
    costs: Figures,
    levels: Sequence[int],
    tree: AccessTree,
    *,
    opened: int = 0,
    total: float = 1.0,
) -> list[tuple[float, float]]:
    """Carry out an order of jobs, each of which can be judged with things open.

    A level's opening and closing are charged when it is first needed; closing what is open already is not.

    Args:
        p: probability that each job ends the problem; the jobs do not overlap.
        total: probability that the problem is there before the first.
    Returns: after each job the expected cost so far and the probability that the problem persists.
    """
    spent, rest, steps = 0.0, total, []
    for job in order:
        missing = tree.path_masks[levels[job]] & ~opened
        opened |= missing
        spent += (costs[job] + float(tree.open_costs[missing] + tree.close_costs[missing])) * rest
        rest = max(rest - float(p[job]), 0.0)
        steps.append((spent, rest))
    return steps


def bound_known_fault(situation: Situation, belief: np.ndarray) -> float:
    """Expected cost if every fault were known beforehand: no plan, with or without checks, is cheaper.

    Per fault the jobs that help are tried in the order of probability over cost; opening, closing and test
    are charged once, at their cheapest.

    Args:
        belief: weights, shape (n_hypotheses,).
    Source: Vomlelova and Vomlel 2003 (admissible).
    """
    ending, later = _ending(situation, situation.opened), _ending(situation)
    access = situation.access.round_trip(situation.job_masks, situation.opened)
    causes = range(len(situation.hypotheses.causes))
    per_cause = np.array([_bound_cause(situation, cause, access, ending, later) for cause in causes])
    per_hypothesis = np.array([max(per_cause[list(member)]) for member in situation.hypotheses.members])
    return float(belief @ per_hypothesis)


def _bound_cause(situation: Situation, cause: int, access: np.ndarray, ending: float, later: float) -> float:
    """Lower bound on the cost of a vehicle known to have one cause.

    Args:
        access: of each job done alone, from what is open now.
        ending, later: least cost of ending at once, and with everything closed again.
    """
    jobs = list(situation.ordinary)
    helps = [jobs[place] for place in np.flatnonzero(situation.cures[jobs, cause] > 0.0)] if jobs else []
    if not helps:
        return ending
    cures, costs = situation.cures[helps, cause], situation.job_costs[helps]
    order = np.argsort(costs / cures, kind="stable")
    left = np.cumprod(1.0 - cures[order])
    spent = np.cumsum(costs[order] * np.concatenate([[1.0], left[:-1]]))
    return min(ending, float(np.min(access[helps].min() + situation.test_cost + spent + left * later)))


def bound_inside(situation: Situation, belief: np.ndarray) -> float | None:
    """Cost of the best order if each job could be judged with things open, and one test.

    Holds for plans of jobs alone (a check may do better), for one cause at a time and jobs that do not
    overlap; otherwise there is no such bound and None comes back.
    """
    jobs = situation.ordinary
    helped = (situation.cures[list(jobs)] > 0.0).sum(axis=0) if jobs else np.zeros(1)
    if not situation.hypotheses.is_single or helped.max(initial=0) > 1:
        return None
    if not jobs:
        return float(belief.sum()) * _ending(situation, situation.opened)
    tree, opened, whole = situation.access, situation.opened, float(belief.sum())
    p = situation.cures[list(jobs)] @ situation.hypotheses.cause_probabilities(belief)
    costs = situation.job_costs[list(jobs)]
    levels = [tree.index[situation.jobs[job].access] for job in jobs]
    order = [job for block in order_by_access(p, costs, levels, tree, opened) for job in block.jobs]
    steps = carry_out_inside(order=order, p=p, costs=costs, levels=levels, tree=tree, opened=opened, total=whole)
    start = whole * (situation.test_cost + float(tree.close_costs[opened]))
    stops = [start + spent + rest * _ending(situation) for spent, rest in steps]
    return float(min(whole * _ending(situation, situation.opened), *stops))


def _ending(situation: Situation, opened: int = 0) -> float:
    """Least cost of ending the plan, closing what is open included; later on everything is closed again."""
    leaving = situation.uncured_cost + float(situation.access.close_costs[opened])
    return min([leaving, *(situation.batch_cost((job,), opened) for job in situation.last_resorts)])
