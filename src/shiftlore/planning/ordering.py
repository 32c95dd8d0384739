"""The order of jobs by probability over cost, also where parts must come off to reach them."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from shiftlore.planning.access import AccessTree

Figures = Sequence[float] | np.ndarray
"""One number per job, as a list or an array of shape (n_jobs,)."""


@dataclass(frozen=True, slots=True)
class Block:
    """Jobs that belong together because one opening serves them all.

    Args:
        p: probability that the block ends the problem.
        cost: opening, closing and jobs together.
        jobs: positions of the jobs in their order.
        opens: positions of the levels that the block opens.
    """

    p: float
    cost: float
    jobs: tuple[int, ...]
    opens: tuple[int, ...] = ()

    @property
    def efficiency(self) -> float:
        """Probability over cost; what costs nothing comes first if it can help at all."""
        if self.cost > 0.0:
            return self.p / self.cost
        return float("inf") if self.p > 0.0 else 0.0

    def swallow(self, other: "Block") -> "Block":
        """Both blocks as one, `other` behind."""
        return Block(self.p + other.p, self.cost + other.cost, self.jobs + other.jobs, self.opens + other.opens)


def order_plainly(p: Figures, costs: Figures) -> tuple[int, ...]:
    """Order jobs by probability over cost, best first, ties as they came.

    Source: Kadane and Simon 1977; optimal for one fault, order-free costs and a sure free test.
    """
    blocks = [Block(float(p[i]), float(costs[i]), (i,)) for i in range(len(p))]
    return tuple(block.jobs[0] for block in sorted(blocks, key=lambda block: -block.efficiency))


def order_inspections(
    p: Figures, observe_costs: Figures, repair_costs: Figures
) -> tuple[tuple[int, ...], float]:
    """Order inspections that settle a part each, and price looking first and repairing what is found.

    Args:
        p: probability that each part is the one at fault; one fault only.
        observe_costs: a part that cannot be inspected counts repair and retest here and no repair.
    Returns: order by probability over observing cost, and the expected cost of repair.
    Source: Heckerman, Breese and Rommelse 1995.
    """
    order = order_plainly(p, observe_costs)
    total, rest = 0.0, 1.0
    for part in order:
        total += rest * observe_costs[part] + p[part] * repair_costs[part]
        rest -= p[part]
    return order, total


def order_by_odds(p: Figures, costs: Figures) -> tuple[int, ...]:
    """Order jobs by odds over cost, where several parts may have failed independently.

    Source: Srinivas 1995; the vehicle works only when every failed part is put right.
    """
    odds = [value / (1.0 - value) if value < 1.0 else float("inf") for value in p]
    return order_plainly(odds, costs)


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
            lists[parent].extend(items if opened >> node & 1 else _lead_with_opening(node, items, tree))
    return sorted(roots, key=lambda block: -block.efficiency)


def _lead_with_opening(node: int, items: list[Block], tree: AccessTree) -> list[Block]:
    """Put the opening of a level before its items and swallow what is more efficient than the block."""
    level = tree.nodes[node]
    block = Block(0.0, level.open_cost + level.close_cost, (), (node,))
    taken = 0
    while taken < len(items) and (not block.jobs or items[taken].efficiency > block.efficiency):
        block = block.swallow(items[taken])
        taken += 1
    return [block, *items[taken:]]


def order_with_updates(
    weights: np.ndarray, solves: np.ndarray, costs: Figures
) -> tuple[int, ...]:
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
    order: Sequence[int], p: Figures, costs: Figures, levels: Sequence[int], tree: AccessTree,
    opened: int = 0, total: float = 1.0,
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
