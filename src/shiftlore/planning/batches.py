"""What to do in one go: the exact batch programme, and its short cuts for many jobs.

A plan is a list of batches. Each batch opens what it needs, does its jobs, closes everything and ends with a road test;
only then is it known whether the problem is gone. See `costs` for what is charged. The short cuts count how many jobs
are done per level, or cut an order of jobs that is given.
"""

from collections.abc import Sequence
from functools import lru_cache
from itertools import product

import numpy as np

from shiftlore.basics.structs import Value
from shiftlore.planning.costs import Situation

Batches = tuple[tuple[int, ...], ...]

NOTHING_LEFT = 1e-12
"""Probability below which a problem counts as cured: rounding, far below any belief that matters."""

NEVER = 1e12
"""Added to the cost of a batch that makes no sense, so that none is chosen."""

MAX_STEPS = 4_000
"""Pairs of states that the programme may compare: some milliseconds."""


class PlanValue(Value, frozen=True):
    """What a plan is expected to cost.

    Args:
        expected_total: in the shop's currency, comebacks and an uncured vehicle included.
        labour_minutes: labour minutes expected to be worked.
        p_cured: probability that the plan ends with the problem gone.
        worst_spend: what the owner pays if every batch is needed, comebacks not counted.
    """

    expected_total: float
    labour_minutes: float
    p_cured: float
    worst_spend: float


def evaluate_plan(situation: Situation, belief: np.ndarray, batches: Batches) -> PlanValue:
    """Add up what a plan costs on average from what is open now.

    Args:
        belief: weights, shape (n_hypotheses,); totals scale with their sum.
        batches: positions of jobs; an empty plan closes up and leaves the vehicle uncured.
    """
    return evaluate_beginnings(situation, belief, batches)[-1]


def evaluate_beginnings(situation: Situation, belief: np.ndarray, batches: Batches) -> list[PlanValue]:
    """The same of each beginning of a plan, from nothing done to the whole of it."""
    whole, opened = float(belief.sum()), np.zeros(len(batches) + 1, dtype=np.int64)
    opened[0] = situation.opened
    own, masks, _ = situation.weigh_batches(batches)
    order, ends = np.array([job for batch in batches for job in batch], dtype=np.intp), [0, *map(len, batches)]
    missed = situation.missed_in_turn(order)[np.cumsum(ends)]
    rest = situation.hypotheses.uncured(missed) @ belief
    spend = np.cumsum([0.0, *(own + situation.access.round_trip(masks, opened[:-1]))])
    longer = [situation.batch_minutes(batch, int(at)) for batch, at in zip(batches, opened, strict=False)]
    totals = np.cumsum([0.0, *(np.diff(spend) * rest[:-1] + situation.comeback_cost * rest[1:])])
    minutes = np.cumsum([0.0, *(np.array(longer) * rest[:-1])])
    closing = situation.access.close_costs[opened]
    totals += (closing + situation.uncured_cost) * rest
    minutes += situation.access.close_minutes[opened] * rest
    figures = zip(totals.tolist(), minutes.tolist(), (whole - rest).tolist(), (spend + closing).tolist(), strict=True)
    return [PlanValue(*each) for each in figures]


def plan_exactly(situation: Situation, belief: np.ndarray, jobs: Sequence[int]) -> tuple[float, Batches]:
    """Find the best batches of some jobs for one belief, as `plan_each_exactly` does.

    Returns: expected total and batches.
    """
    (plan,) = plan_each_exactly(situation, belief[None], jobs)
    return evaluate_plan(situation, belief, plan).expected_total, plan


def plan_each_exactly(situation: Situation, weights: np.ndarray, jobs: Sequence[int]) -> list[Batches]:
    """Find the best batches of up to twelve or so jobs for many beliefs at once, by dynamic programming over subsets.

    V(S) = min over non-empty B of what is left: cost(B) P(S) + comeback P(S u B) + V(S u B), or the end:
    leave it. 3**n steps.

    Args:
        weights: shape (k, n_hypotheses); rows need not sum to 1.
        jobs: positions of the jobs.
    Returns: one plan per row.
    """
    own, masks, missed = situation.weigh_subsets(jobs)
    counts = np.zeros((1, 2), dtype=int)
    for job in reversed(jobs):
        counts = np.concatenate([counts, counts + np.array([1, situation.stands_alone[job]])])
    own += _bar(counts[:, 0], counts[:, 1])
    rest, ending = _price_leaving(situation, weights, missed)
    closed, first = (own + situation.access.round_trip(masks, at) for at in (0, situation.opened))
    n, value = len(jobs), ending.copy()
    for subsets, starts, before, grown in _grow_subsets(n):
        failed = value + situation.comeback_cost * rest
        ahead = closed[grown ^ before] * rest.take(before, axis=1) + failed.take(grown, axis=1)
        value[:, subsets] = np.minimum(value[:, subsets], np.minimum.reduceat(ahead, starts, axis=1))
    plans = _read_off(first, closed, rest, value + situation.comeback_cost * rest, ending)
    return [situation.drop_contained(tuple(subset_jobs(subset, jobs) for subset in plan)) for plan in plans]


def _read_off(
    first: np.ndarray, closed: np.ndarray, rest: np.ndarray, failed: np.ndarray, ending: np.ndarray
) -> list[list[int]]:
    """Read the best batches off what the programme found, per belief the subset of jobs of one batch after another.

    Args:
        first, closed: cost of each subset as the first batch and as a later one, shape (2**n,).
        rest, failed, ending: per subset done what is still uncured, the price of going on after it, and that of leaving
            it, shape (k, 2**n).
    """
    numbers, plans = np.arange(len(closed)), [list[int]() for _ in rest]
    rows, done = np.arange(len(rest)), np.zeros(len(rest), dtype=np.intp)
    while len(rows):
        batches = numbers ^ done[:, None]
        ahead = np.where(done[:, None] > 0, closed[batches], first[batches]) * rest[rows, done][:, None] + failed[rows]
        ahead[(numbers & done[:, None] != done[:, None]) | (batches == 0)] = np.inf
        best = np.argmin(ahead, axis=1)
        goes_on = np.take_along_axis(ahead, best[:, None], axis=1)[:, 0] < ending[rows, done]
        rows, done, best = rows[goes_on], done[goes_on], best[goes_on]
        for row, subset in zip(rows.tolist(), (best ^ done).tolist(), strict=True):
            plans[row].append(subset)
        done = best
    return plans


@lru_cache(maxsize=13)
def _grow_subsets(n: int) -> list[tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]]:
    """Every way in which a subset of `n` jobs that is neither empty nor whole grows, the largest subsets first.

    Returns: per size its subsets, where the ways of each begin, and per way the subset before and after.
    """
    before, grown, left = np.zeros(1, dtype=np.int32), np.zeros(1, dtype=np.int32), np.full(1, n)
    for bit in 1 << np.arange(n, dtype=np.int32):  # not done yet, done with this growth, done before
        before, grown = (
            np.concatenate([before, before, before | bit]),
            np.concatenate([grown, grown | bit, grown | bit]),
        )
        left = np.concatenate([left, left, left - 1])
    key = (left << n | before).astype(np.min_scalar_type((n + 1) << n))  # narrow keys are sorted by their digits, fast
    order = np.argsort(key, kind="stable")
    order = order[(before != grown)[order]]
    found = []
    for jobs_left in range(1, n):
        mine = order[left[order] == jobs_left]
        subsets, starts = np.unique(before[mine], return_index=True)
        found.append((subsets, starts, before[mine], grown[mine]))
    return found


def subset_jobs(subset: int, jobs: Sequence[int]) -> tuple[int, ...]:
    """Positions of the jobs in a subset; the first job is the highest bit."""
    n = len(jobs)
    return tuple(job for i, job in enumerate(jobs) if subset >> (n - 1 - i) & 1)


def _bar(n_jobs: np.ndarray, n_alone: np.ndarray) -> np.ndarray:
    """Give what keeps batches with a job beside one that stands alone from being chosen, shape of `n_jobs`."""
    return NEVER * ((n_jobs > 1) & (n_alone > 0))


def _price_leaving(situation: Situation, weights: np.ndarray, missed: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Probability that the problem is still there after some jobs, and the cost of leaving the vehicle then.

    Args:
        weights: shape (..., n_hypotheses).
        missed: p that each cause survives, shape (..., m, n_causes); the first of the m is before any job, with open
            what is open now, behind all others everything is closed.
    Returns: shapes (..., m) each, rounding cut off.
    """
    rest = _weigh_rest(situation, weights, missed)
    ending = situation.uncured_cost * rest
    ending[..., 0] += situation.access.close_costs[situation.opened] * rest[..., 0]
    return rest, ending


def _weigh_rest(situation: Situation, weights: np.ndarray, missed: np.ndarray) -> np.ndarray:
    """Weight that is still uncured, shape (..., m)."""
    rest = np.einsum("...mh,...h->...m", situation.hypotheses.uncured(missed), weights)
    return np.where(rest > NOTHING_LEFT, rest, 0.0)


def plan_by_counts(situation: Situation, belief: np.ndarray, groups: Sequence[Sequence[int]]) -> tuple[float, Batches]:
    """Find the best batches that keep the given order inside each level.

    A state is how many jobs are done per level. Not always optimal (24.2 against 24.0 in the smallest
    counter-example), within about 1 % of it on random trees.

    Args:
        groups: per level its jobs, best first.
    Returns: expected total and batches.
    """
    states = list(product(*(range(len(group) + 1) for group in groups)))
    jobs_of = [
        tuple(job for group, count in zip(groups, state, strict=True) for job in group[:count]) for state in states
    ]
    counts, missed = np.array(states), situation.weigh_batches(jobs_of)[2]
    rest, ending = _price_leaving(situation, belief, missed)
    own = [np.concatenate([[0.0], np.cumsum(situation.job_costs[list(group)])]) for group in groups]
    alone = np.array([situation.stands_alone[list(jobs)].sum() for jobs in jobs_of])
    masks = [int(situation.job_masks[group[0]]) if len(group) else 0 for group in groups]
    more = counts[None] - counts[:, None]
    touched = np.bitwise_or.reduce(np.where(more > 0, np.array(masks, dtype=np.int64), 0), axis=2)
    costs = sum(
        (sums[then] - sums[then[:, None]] for sums, then in zip(own, counts.T, strict=True)), situation.test_cost
    )
    costs = costs + _price_shared_of_spans(situation, counts, groups)
    costs = costs + situation.access.round_trip(touched) + _bar(more.sum(axis=2), alone - alone[:, None])
    costs[0] += situation.access.round_trip(touched[0], situation.opened) - situation.access.round_trip(touched[0])
    ahead = costs * rest[:, None] + situation.comeback_cost * rest
    ahead[(more < 0).any(axis=2) | ~more.any(axis=2)] = np.inf
    value, step = ending.copy(), np.full(len(states), -1)
    for place in reversed(range(len(states))):
        totals = ahead[place] + value
        best = int(np.argmin(totals))
        if totals[best] < value[place]:
            value[place], step[place] = totals[best], best
    batches, place = [], 0
    while step[place] >= 0:
        batches.append(tuple(job for job in jobs_of[step[place]] if job not in jobs_of[place]))
        place = int(step[place])
    plan = situation.drop_contained(tuple(batches))
    return evaluate_plan(situation, belief, plan).expected_total, plan


def _price_shared_of_spans(situation: Situation, counts: np.ndarray, groups: Sequence[Sequence[int]]) -> np.ndarray:
    """Cost of what the jobs share that are done from one state to another, shape (n_states, n_states).

    Args:
        counts: how many jobs of each group are done in each state, shape (n_states, n_groups).
    """
    joined = np.zeros((len(counts), len(counts), *situation.shares.shape[1:]), dtype=bool)
    for group, count in zip(groups, counts.T, strict=True):
        spans = np.zeros((len(group) + 1, len(group) + 1, *joined.shape[2:]), dtype=bool)
        for first in range(len(group)):
            spans[first, first + 1 :] = np.logical_or.accumulate(situation.shares[list(group[first:])], axis=0)
        joined |= spans[count[:, None], count]
    prices: np.ndarray = situation.price_shared(joined)[0]
    return prices


def count_steps(sizes: Sequence[int]) -> int:
    """How many pairs of states the programme compares for levels with that many jobs."""
    return int(np.prod([(size + 1) * (size + 2) // 2 for size in sizes], dtype=float))


def cut_orders(situation: Situation, weights: np.ndarray, orders: np.ndarray) -> tuple[np.ndarray, list[Batches]]:
    """Cut one order per belief into the best batches, with the best place to end.

    Dynamic programming over the cut points, O(m**2) per belief; exact for the given order.

    Args:
        weights: shape (k, n_hypotheses); rows need not sum to 1.
        orders: positions of jobs, shape (k, m).
    Returns: expected totals, shape (k,), and the batches.
    """
    k, m = orders.shape
    missed = situation.missed_in_turn(orders)
    rest, value = _price_leaving(situation, weights, missed)
    costs, cut, rows = _costs_of_spans(situation, orders), np.zeros((k, m + 1), dtype=np.intp), np.arange(k)
    for place in reversed(range(m)):
        ahead = costs[:, place, place:] * rest[:, place, None]
        ahead = ahead + situation.comeback_cost * rest[:, place + 1 :] + value[:, place + 1 :]
        best = np.argmin(ahead, axis=1)
        better = ahead[rows, best] < value[:, place]
        value[:, place] = np.where(better, ahead[rows, best], value[:, place])
        cut[:, place] = np.where(better, place + best + 1, 0)
    plans = []
    for order, cuts in zip(orders.tolist(), cut.tolist(), strict=True):
        batches, place = [], 0
        while cuts[place]:  # 0 means that the plan ends there
            batches.append(tuple(order[place : cuts[place]]))
            place = cuts[place]
        plans.append(situation.drop_contained(tuple(batches)))
    return value[:, 0], plans


def _costs_of_spans(situation: Situation, orders: np.ndarray) -> np.ndarray:
    """Cost of the jobs from place i up to and including j in one go, shape (k, m, m)."""
    k, m = orders.shape
    own, masks = situation.job_costs[orders], situation.job_masks[orders]
    costs = np.zeros((k, m, m))
    for first in range(m):
        touched = np.bitwise_or.accumulate(masks[:, first:], axis=1)
        access = situation.access.round_trip(touched, situation.opened if first == 0 else 0)
        alone = np.cumsum(situation.stands_alone[orders[:, first:]], axis=1)
        barred = _bar(np.arange(1, m - first + 1), alone)
        shares = np.logical_or.accumulate(situation.shares[orders[:, first:]], axis=1)
        shared = situation.price_shared(shares)[0] + situation.test_cost
        costs[:, first, first:] = np.cumsum(own[:, first:], axis=1) + access + shared + barred
    return costs
