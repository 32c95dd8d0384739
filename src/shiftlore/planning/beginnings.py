"""Which batches of jobs may be worth beginning with before anything more is checked."""

from itertools import combinations

import numpy as np

from shiftlore.planning.costs import Situation
from shiftlore.planning.outlook import PLAN_EXACTLY_UP_TO, Outlook, PlanBook, start_bench, write_after
from shiftlore.planning.plans import HARDLY_ADDS, lean_batch, useful_jobs

SMALL_JOBS, SMALL_BATCH = 7, 2
"""Jobs, those that help most for their cost, of which small batches are tried, and how many of them make one."""

BELIEFS = 20
"""Beliefs ahead, those that move most, for which batches are tried where there are many jobs."""

FOR_LATER = 4
"""Of the batches kept, those that are the best after some answer instead of now."""


def list_beginnings(situation: Situation, book: PlanBook, belief: np.ndarray, most: int) -> tuple[tuple[int, ...], ...]:
    """First batches of the cheapest plans, each once and without what hardly adds to it.

    Args:
        belief: weights, shape (n_hypotheses,).
    """
    found: dict[tuple[int, ...], None] = {}
    prices = book.price_each(belief[None], situation.opened, None, situation.budget)[0]
    order = [row for row in np.argsort(prices, kind="stable").tolist() if np.isfinite(prices[row])]
    for first in dict.fromkeys(tuple(sorted(book.plans[row][0])) for row in order if book.plans[row]):
        if len(found) < most:
            found.setdefault(lean_batch(situation, belief, first))
    return tuple(batch for batch in found if batch)


def try_small_batches(outlook: Outlook, beliefs: np.ndarray, most: int) -> Outlook:
    """The same outlook with the batches that are best with a check behind them, and plans for when they fail.

    A plan of jobs alone puts two causes that go together right in one go. Half of it first may be better: when that
    fails, a check tells what is left.

    Args:
        beliefs: the belief now and those ahead, shape (k, n_hypotheses).
        most: batches kept.
    """
    situation = outlook.situation
    few = beliefs if len(situation.jobs) <= PLAN_EXACTLY_UP_TO else beliefs[:BELIEFS]
    batches = [*dict.fromkeys((*outlook.batches, *_list_small_batches(situation, beliefs[0])))]
    if not batches:
        return outlook
    outlook = outlook.vary(book=write_after(situation, outlook.book, few, batches, outlook.likelihoods))
    prices = np.array([outlook.price_batch(few, start_bench(situation), batch, 2) for batch in batches])
    best = [*np.argsort(prices[:, 0], kind="stable")[: most - FOR_LATER], *np.argmin(prices, axis=0)]
    return outlook.vary(batches=tuple(batches[row] for row in dict.fromkeys(best))[:most])


def _list_small_batches(situation: Situation, belief: np.ndarray) -> list[tuple[int, ...]]:
    """Small batches of which each job adds something: to the chance of a cure, or of one cause of several put right."""
    jobs, hypotheses = sorted(useful_jobs(situation, belief)[:SMALL_JOBS]), situation.hypotheses
    batches = [batch for size in range(SMALL_BATCH + 1) for batch in combinations(jobs, size)]
    missed = situation.missed_by_each(batches)
    untouched = np.append(missed, np.ones((len(missed), 1)), axis=1)[:, hypotheses.survival.padded].prod(axis=2)
    left = dict(zip(batches, np.stack([hypotheses.uncured(missed), untouched], axis=1) @ belief, strict=True))
    return [
        batch
        for batch in batches[1:]
        if situation.is_batch(batch)
        and all((left[others] - left[batch]).max() >= HARDLY_ADDS for others in combinations(batch, len(batch) - 1))
    ]
