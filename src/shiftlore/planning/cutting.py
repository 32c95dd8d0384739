"""Cut a given order of jobs into batches: the quick plan, for many beliefs at once."""

from dataclasses import dataclass

import numpy as np

from shiftlore.planning.batches import Batches
from shiftlore.planning.costs import Situation


@dataclass(frozen=True, slots=True, eq=False)
class _CutTables:
    """Per belief (k), for prefixes of its order of m jobs.

    Args:
        rest: p that the problem is still there after each prefix, shape (k, m + 1).
        ending: expected cost of the cheapest ending after each prefix, shape (k, m + 1).
        costs: cost of the batch from place i up to and including j, shape (k, m, m).
    """

    rest: np.ndarray
    ending: np.ndarray
    costs: np.ndarray


def cut_orders(situation: Situation, weights: np.ndarray, orders: np.ndarray) -> tuple[np.ndarray, list[Batches]]:
    """Cut one order per belief into the best batches, with the best place to end.

    Dynamic programming over the cut points, O(m**2) per belief; exact for the given order.

    Args:
        weights: shape (k, n_hypotheses); rows need not sum to 1.
        orders: positions of ordinary jobs, shape (k, m).
    Returns: expected totals, shape (k,), and the batches without their give-up ending.
    """
    tables = _tabulate_prefixes(situation, weights, orders)
    k, m = orders.shape
    value, cut = tables.ending.copy(), np.zeros((k, m + 1), dtype=np.intp)
    rows = np.arange(k)
    for place in reversed(range(m)):
        ahead = tables.costs[:, place, place:] * tables.rest[:, place, None]
        ahead = ahead + situation.comeback_cost * tables.rest[:, place + 1 :] + value[:, place + 1 :]
        best = np.argmin(ahead, axis=1)
        better = ahead[rows, best] < value[:, place]
        value[:, place] = np.where(better, ahead[rows, best], value[:, place])
        cut[:, place] = np.where(better, place + best + 1, 0)
    return value[:, 0], [_read_cuts(orders[row], cut[row]) for row in range(k)]


def _read_cuts(order: np.ndarray, cut: np.ndarray) -> Batches:
    """Follow the cut points from the front; 0 means that the plan ends there."""
    batches, place = [], 0
    while place < len(order) and cut[place]:
        batches.append(tuple(int(job) for job in order[place : cut[place]]))
        place = int(cut[place])
    return tuple(batches)


def _tabulate_prefixes(situation: Situation, weights: np.ndarray, orders: np.ndarray) -> _CutTables:
    """Rest, ending and batch costs for every prefix of every order."""
    k = len(orders)
    kept = 1.0 - situation.cures[orders]
    missed = np.concatenate([np.ones((k, 1, kept.shape[2])), np.cumprod(kept, axis=1)], axis=1)
    rest = _rest(situation, weights, missed)
    tree, opened = situation.access, situation.opened
    ending = situation.uncured_cost * rest
    ending[:, 0] += tree.close_costs[opened] * rest[:, 0]
    for job in situation.last_resorts:
        left = _rest(situation, weights, missed * (1.0 - situation.cures[job]))
        gone = situation.batch_cost((job,)) * rest
        gone[:, 0] = situation.batch_cost((job,), opened) * rest[:, 0]
        ending = np.minimum(ending, gone + (situation.comeback_cost + situation.uncured_cost) * left)
    return _CutTables(rest, ending, _batch_costs(situation, orders))


def _rest(situation: Situation, weights: np.ndarray, missed: np.ndarray) -> np.ndarray:
    """Weight that is still uncured, shape (k, m + 1)."""
    return np.einsum("kmh,kh->km", situation.hypotheses.uncured(missed), weights)


def _batch_costs(situation: Situation, orders: np.ndarray) -> np.ndarray:
    """Cost of the jobs from place i up to and including j in one go, shape (k, m, m)."""
    k, m = orders.shape
    tree, opened = situation.access, situation.opened
    own, masks = situation.job_costs[orders], situation.job_masks[orders]
    costs = np.zeros((k, m, m))
    for first in range(m):
        touched = np.bitwise_or.accumulate(masks[:, first:], axis=1)
        held = opened if first == 0 else 0
        access = tree.open_costs[touched & ~held] + tree.close_costs[touched | held]
        costs[:, first, first:] = np.cumsum(own[:, first:], axis=1) + access + situation.test_cost
    return costs
