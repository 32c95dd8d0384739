"""The order of jobs by probability over cost, also where parts must come off to reach them; and how cheap it could be.

The bounds are certificates to print beside a plan.
"""

from collections.abc import Sequence

import numpy as np

from shiftlore.planning.costs import AccessTree, Situation

Figures = Sequence[float] | np.ndarray
"""One number per job, as a list or an array of shape (n_jobs,)."""


def order_by_access(
    p: Figures, costs: Figures, levels: Sequence[int] | np.ndarray, tree: AccessTree, opened: int = 0
) -> np.ndarray:
    """Order jobs bottom-up on the access tree: what one opening serves is a block that carries its opening and closing.

    Optimal where a job can be judged with things open; the quick plan otherwise. Many orders are made at once.

    Args:
        p, costs: per job, probability of ending the problem and cost at its level, shape (..., n_jobs).
        levels: per job, position of its level in `tree`, shape (..., n_jobs).
        opened: bit mask of the levels open now; they cost nothing more to open.
    Returns: positions of the jobs, those of the most efficient block first, shape (..., n_jobs).
    Source: Ottosen and Jensen 2010; the same as Horn 1972 for out-trees on one machine.
    """
    p, costs, levels = np.asarray(p, dtype=float), np.array(costs, dtype=float), np.asarray(levels, dtype=np.intp)
    value, paths = _per_cost(p, costs), np.array(tree.path_masks)[levels]
    rank = np.broadcast_to(np.arange(p.shape[-1]), p.shape)
    for node in reversed(range(len(tree.nodes))):
        behind = paths >> node & 1 == 1  # roots are in no path: they are always open
        if opened >> node & 1 or not behind.any():
            continue
        order = np.lexsort((rank, np.where(behind, -value, np.inf)), axis=-1)
        inside, sorted_costs = (np.take_along_axis(table, order, axis=-1) for table in (behind, costs))
        # Its opening comes first, and swallows what is more efficient than both together.
        sorted_costs[..., 0] += inside[..., 0] * (tree.nodes[node].open_cost + tree.nodes[node].close_cost)
        whole = _per_cost(np.cumsum(np.take_along_axis(p, order, axis=-1), axis=-1), np.cumsum(sorted_costs, axis=-1))
        last = np.argmax(np.where(inside, whole, -1.0), axis=-1)[..., None]
        block = inside & (np.arange(p.shape[-1]) <= last)
        sorted_value = np.where(
            block, np.take_along_axis(whole, last, axis=-1), np.take_along_axis(value, order, axis=-1)
        )
        rank = np.argsort(order, axis=-1)
        costs, value = (np.take_along_axis(table, rank, axis=-1) for table in (sorted_costs, sorted_value))
    return np.lexsort((rank, -value), axis=-1)


def _per_cost(p: np.ndarray, costs: np.ndarray) -> np.ndarray:
    """Probability over cost; what costs nothing comes first if it can help at all."""
    return np.divide(p, costs, out=np.where(p > 0.0, np.inf, 0.0), where=costs > 0.0)


def order_with_updates(weights: np.ndarray, solves: np.ndarray, costs: Figures) -> tuple[int, ...]:
    """Order overlapping jobs by probability over cost, judged anew after each failure.

    At most four times as dear as the best order (Feige, Lovasz and Tetali 2004), mostly equal to it.

    Args:
        weights: shape (n_hypotheses,).
        solves: p that a job ends the problem under a hypothesis, shape (n_jobs, n_hypotheses).
    """
    left, rest, order = list(range(len(costs))), np.array(weights, dtype=float), []
    prices = np.asarray(costs, dtype=float)
    while left:
        best = left[int(np.argmax(_per_cost(solves[left] @ rest, prices[left])))]
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

    Args:
        belief: weights, shape (n_hypotheses,).
    """
    return float(belief @ bound_each_fault(situation))


def bound_each_fault(situation: Situation) -> np.ndarray:
    """Lower bound on the cost of each hypothesis if it is known, shape (n_hypotheses,).

    Per fault the jobs that help are tried in the order of probability over cost; opening, closing and test
    are charged once, at their cheapest.

    Source: Vomlelova and Vomlel 2003 (admissible).
    """
    hypotheses = situation.hypotheses
    per_cause = np.full(len(hypotheses.causes) + 1, _leaving(situation, situation.opened))
    per_cause[-1] = -np.inf
    if situation.jobs:
        per_cause[:-1] = np.minimum(per_cause[:-1], _bound_causes(situation))
    bounds: np.ndarray = per_cause[hypotheses.survival.padded].max(axis=1)
    return bounds


def _bound_causes(situation: Situation) -> np.ndarray:
    """Lower bound on the cost of putting each cause right if it is known, shape (n_causes,); infinite if no job helps."""
    cures = situation.cures.T
    helps = cures > 0.0
    efforts = np.divide(situation.job_costs, cures, out=np.full(cures.shape, np.inf), where=helps)
    order = np.argsort(efforts, axis=1, kind="stable")
    left = np.cumprod(1.0 - np.take_along_axis(cures, order, axis=1), axis=1)
    before = np.concatenate([np.ones((len(left), 1)), left[:, :-1]], axis=1)
    totals = np.cumsum(situation.job_costs[order] * before, axis=1) + left * _leaving(situation)
    shares = situation.shares[:-1].copy()
    shares[:, 1] |= situation.shares[:, 1].any(axis=0)  # what any job spares need not be paid
    access = situation.access.round_trip(situation.job_masks, situation.opened) + situation.price_shared(shares)[0]
    opening = np.where(helps, access, np.inf).min(axis=1)
    tried = np.where(np.take_along_axis(helps, order, axis=1), totals, np.inf)
    bounds: np.ndarray = opening + situation.test_cost + tried.min(axis=1)
    return bounds


def bound_inside(situation: Situation, belief: np.ndarray) -> float | None:
    """Cost of the best order if each job could be judged with things open, and one test.

    Holds for plans of jobs alone (a check may do better), for one cause at a time and jobs that do not
    overlap; otherwise there is no such bound and None comes back.
    """
    helped = (situation.cures > 0.0).sum(axis=0)
    if not situation.hypotheses.is_single or helped.max(initial=0) > 1:
        return None
    if not situation.jobs:
        return float(belief.sum()) * _leaving(situation, situation.opened)
    tree, opened, whole = situation.access, situation.opened, float(belief.sum())
    p = situation.cures @ situation.hypotheses.cause_probabilities(belief)
    costs, levels = situation.job_costs, situation.job_levels
    order = order_by_access(p, costs, levels, tree, opened).tolist()
    steps = carry_out_inside(
        order=order, p=p, costs=costs, levels=levels.tolist(), tree=tree, opened=opened, total=whole
    )
    start = whole * (situation.test_cost + float(tree.close_costs[opened]))
    stops = [start + spent + rest * _leaving(situation) for spent, rest in steps]
    return float(min(whole * _leaving(situation, situation.opened), *stops))


def _leaving(situation: Situation, opened: int = 0) -> float:
    """Cost of leaving the vehicle uncured, closing what is open included; later on everything is closed again."""
    return situation.uncured_cost + float(situation.access.close_costs[opened])
