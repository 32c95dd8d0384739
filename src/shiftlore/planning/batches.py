"""What to do in one go: the exact batch programme, and its short cuts for many jobs.

A plan is a list of batches. Each batch opens what it needs, does its jobs, closes everything and ends
with a road test; only then is it known whether the problem is gone. See `acts` for what is charged.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from shiftlore.planning.costs import Situation

Batches = tuple[tuple[int, ...], ...]

NOTHING_LEFT = 1e-12
"""Probability below which a problem counts as cured: rounding, far below any belief that matters."""


@dataclass(frozen=True, slots=True)
class PlanValue:
    """What a plan is expected to cost.

    Args:
        expected_total: in the shop's currency, comebacks and an uncured vehicle included.
        expected_minutes: labour minutes expected to be worked.
        p_cured: probability that the plan ends with the problem gone.
        worst_spend: what the owner pays if every batch is needed, comebacks not counted.
    """

    expected_total: float
    expected_minutes: float
    p_cured: float
    worst_spend: float


def evaluate_plan(situation: Situation, belief: np.ndarray, batches: Batches) -> PlanValue:
    """Add up what a plan costs on average from what is open now.

    Args:
        belief: weights, shape (n_hypotheses,); totals scale with their sum.
        batches: positions of jobs; an empty plan closes up and leaves the vehicle uncured.
    """
    missed, rest = np.ones(len(situation.hypotheses.causes)), float(belief.sum())
    total = minutes = spend = 0.0
    whole, opened = rest, situation.opened
    for batch in batches:
        cost = situation.batch_cost(batch, opened)
        total, spend = total + cost * rest, spend + cost
        minutes += situation.batch_minutes(batch, opened) * rest
        missed = missed * situation.missed_by(batch)
        rest, opened = float(belief @ situation.hypotheses.uncured(missed)), 0
        total += situation.comeback_cost * rest
    closing = float(situation.access.close_costs[opened])
    total += closing * rest + situation.uncured_cost * rest
    minutes += float(situation.access.close_minutes[opened]) * rest
    return PlanValue(total, minutes, whole - rest, spend + closing)


@dataclass(frozen=True, slots=True, eq=False)
class _Subsets:
    """Tables over all subsets of the jobs at hand, each of shape (2**n,)."""

    rest: np.ndarray
    closed_cost: np.ndarray
    first_cost: np.ndarray
    ending: np.ndarray
    first_ending: float


def plan_exactly(situation: Situation, belief: np.ndarray, jobs: Sequence[int]) -> tuple[float, Batches]:
    """Find the best batches of up to twelve or so jobs by dynamic programming over subsets.

    V(S) = min over non-empty B of what is left: cost(B) P(S) + comeback P(S u B) + V(S u B), or the end:
    give up, or leave it. 3**n steps.

    Args:
        jobs: positions of ordinary jobs; give-up jobs of the situation are always considered.
    Returns: expected total and batches.
    """
    n = len(jobs)
    tables = _tabulate_subsets(situation, belief, jobs)
    cube, axes = (2,) * n, range(n)
    value, rest = tables.ending.reshape(cube).copy(), tables.rest.reshape(cube)
    closed = tables.closed_cost.copy()
    closed[0] = 0.0  # doing nothing leads back to the same subset: harmless in the minimum
    closed = closed.reshape(cube)
    whole = slice(None)
    for subset in reversed(range(1, 2**n - 1)):
        bits = [subset >> (n - 1 - axis) & 1 for axis in axes]
        here = tuple(1 if bit else whole for bit in bits)
        there = tuple(0 if bit else whole for bit in bits)
        ahead = closed[there] * tables.rest[subset] + value[here] + situation.comeback_cost * rest[here]
        value[tuple(bits)] = min(value[tuple(bits)], float(np.min(ahead)))
    batches = _trace(situation, tables, value.reshape(-1), list(jobs))
    return end_plan(situation, belief, batches)


def _trace(situation: Situation, tables: _Subsets, value: np.ndarray, jobs: list[int]) -> Batches:
    """Read the best batches off the finished table, from the empty set on, without the ending."""
    done = 0
    batches: list[tuple[int, ...]] = []
    numbers = np.arange(value.size)
    while True:
        costs, ending = (tables.closed_cost, tables.ending[done]) if done else (tables.first_cost, tables.first_ending)
        grown = numbers[(numbers & done == done) & (numbers != done)]
        if not grown.size:
            return tuple(batches)
        ahead = costs[grown ^ done] * tables.rest[done] + value[grown] + situation.comeback_cost * tables.rest[grown]
        best = int(np.argmin(ahead))
        if ending <= ahead[best]:
            return tuple(batches)
        batches.append(subset_jobs(int(grown[best]) ^ done, jobs))
        done = int(grown[best])


def end_plan(situation: Situation, belief: np.ndarray, batches: Batches) -> tuple[float, Batches]:
    """End a plan in the cheapest way: leave it, or one of the give-up jobs."""
    endings: list[Batches] = [(), *(((job,),) for job in situation.last_resorts)]
    totals = [evaluate_plan(situation, belief, batches + ending).expected_total for ending in endings]
    best = int(np.argmin(totals))
    return totals[best], batches + endings[best]


def subset_jobs(subset: int, jobs: Sequence[int]) -> tuple[int, ...]:
    """Positions of the jobs in a subset; the first job is the highest bit."""
    n = len(jobs)
    return tuple(job for i, job in enumerate(jobs) if subset >> (n - 1 - i) & 1)


def _tabulate_subsets(situation: Situation, belief: np.ndarray, jobs: Sequence[int]) -> _Subsets:
    """Rest, batch cost and cost of ending for every subset of the jobs."""
    missed = np.ones((1, len(situation.hypotheses.causes)))
    masks, own = np.zeros(1, dtype=np.int64), np.zeros(1)
    for job in reversed(jobs):
        missed = np.concatenate([missed, missed * (1.0 - situation.cures[job])])
        masks = np.concatenate([masks, masks | situation.job_masks[job]])
        own = np.concatenate([own, own + situation.job_costs[job]])
    present = np.flatnonzero(belief)
    rest = _rest_of(situation, belief, missed, present)
    tree, opened = situation.access, situation.opened
    own = own + situation.test_cost
    closed = own + tree.open_costs[masks] + tree.close_costs[masks]
    first = own + tree.open_costs[masks & ~opened] + tree.close_costs[masks | opened]
    ending = situation.uncured_cost * rest
    first_ending = float(ending[0] + tree.close_costs[opened] * rest[0])
    for job in situation.last_resorts:
        left = _rest_of(situation, belief, missed * (1.0 - situation.cures[job]), present)
        tail = (situation.comeback_cost + situation.uncured_cost) * left
        ending = np.minimum(ending, situation.batch_cost((job,)) * rest + tail)
        first_ending = min(first_ending, float(situation.batch_cost((job,), opened) * rest[0] + tail[0]))
    return _Subsets(rest, closed, first, ending, first_ending)


def _rest_of(situation: Situation, belief: np.ndarray, missed: np.ndarray, present: np.ndarray) -> np.ndarray:
    """Probability that the problem is still there, per row of `missed`, rounding cut off."""
    rest = situation.hypotheses.uncured(missed)[:, present] @ belief[present]
    return np.where(rest > NOTHING_LEFT, rest, 0.0)
