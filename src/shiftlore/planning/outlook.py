"""What a check is worth: the expected total with its answers in hand against the total without."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from shiftlore.planning.costs import Situation
from shiftlore.planning.planbook import PlanBook


@dataclass(frozen=True, slots=True, eq=False)
class Bench:
    """Where the work stands while thinking ahead.

    Args:
        opened: bit mask of the open levels.
        checks: positions of the checks that can still be made.
        done: which jobs have been done, shape (n_jobs,).
        budget: what may still be spent, or None.
    """

    opened: int
    checks: tuple[int, ...]
    done: np.ndarray
    budget: float | None

    def spend(self, cost: float) -> float | None:
        """What is left of the budget after paying `cost`."""
        return None if self.budget is None else self.budget - cost

    def affords(self, cost: float) -> bool:
        """Whether `cost` can still be paid."""
        return self.budget is None or cost <= self.budget


@dataclass(frozen=True, slots=True, eq=False)
class Outlook:
    """Prices of states of knowledge, some steps ahead.

    Args:
        likelihoods: per check, p of each outcome under each hypothesis, shape (k, n_hypotheses);
            while thinking ahead, checks count as independent given the hypothesis.
        batches: batches of jobs to consider before further checks.
    """

    situation: Situation
    book: PlanBook
    likelihoods: tuple[np.ndarray, ...]
    batches: tuple[tuple[int, ...], ...] = ()

    def price_jobs(self, weights: np.ndarray, bench: Bench) -> np.ndarray:
        """Expected total of finishing with jobs alone, per row of weights, shape (k,)."""
        return self.book.price(weights, bench.opened, bench.done, bench.budget)

    def price(self, weights: np.ndarray, bench: Bench, depth: int) -> np.ndarray:
        """Expected total of the best that can be done, thinking `depth` steps ahead, shape (k,)."""
        best = self.price_jobs(weights, bench)
        if depth <= 0 or not bench.checks:
            return best
        if depth == 1:
            return np.minimum(best, self.price_checks(weights, bench).min(axis=1))
        for check in bench.checks:
            best = np.minimum(best, self.price_check(weights, bench, check, depth))
        for batch in self.batches:
            if not bench.done[list(batch)].any():
                best = np.minimum(best, self.price_batch(weights, bench, batch, depth))
        return best

    def price_check(self, weights: np.ndarray, bench: Bench, check: int, depth: int) -> np.ndarray:
        """Expected total of making one check first, thinking `depth` steps ahead in all, shape (k,)."""
        cost, _, opened = self.situation.reach_check(check, bench.opened)
        if not bench.affords(cost):
            return np.full(len(weights), np.inf)
        left = tuple(other for other in bench.checks if other != check)
        after = replace(bench, opened=opened, checks=left, budget=bench.spend(cost))
        table = self.likelihoods[check]
        parts = (weights[:, None, :] * table[None]).reshape(-1, weights.shape[1])
        totals = self.price(parts, after, depth - 1).reshape(len(weights), len(table))
        return totals.sum(axis=1) + cost * weights.sum(axis=1)

    def price_batch(self, weights: np.ndarray, bench: Bench, batch: tuple[int, ...], depth: int) -> np.ndarray:
        """Expected total of doing a batch of jobs first and, if it fails, the best after it, shape (k,)."""
        cost = self.situation.batch_cost(batch, bench.opened)
        if not bench.affords(cost):
            return np.full(len(weights), np.inf)
        left = self.situation.hypotheses.persist(weights, self.situation.missed_by(batch))
        done = bench.done.copy()
        done[list(batch)] = True
        after = replace(bench, opened=0, done=done, budget=bench.spend(cost))
        failed = self.situation.comeback_cost * left.sum(axis=1)
        return cost * weights.sum(axis=1) + failed + self.price(left, after, depth - 1)

    def price_checks(self, weights: np.ndarray, bench: Bench) -> np.ndarray:
        """Expected total of making each check first and then only jobs, shape (k, n_checks_left).

        All outcomes of all checks are priced in one product.
        """
        tables = [self.likelihoods[check] for check in bench.checks]
        starts = np.concatenate([[0], np.cumsum([len(table) for table in tables])[:-1]]).astype(np.intp)
        owners = np.repeat(np.arange(len(tables)), [len(table) for table in tables])
        reached = [self.situation.reach_check(check, bench.opened) for check in bench.checks]
        extra = self._surcharges(bench, reached)
        parts = weights[:, None, :] * np.concatenate(tables)[None]
        barred = ~np.isfinite(extra)
        prices = parts @ self.book.vectors.T
        prices += np.where(barred, 0.0, extra)[owners][None] * parts.sum(axis=-1, keepdims=True)
        if barred.any():
            prices[:, barred[owners]] = np.inf
        totals = np.add.reduceat(prices.min(axis=-1), starts, axis=1)
        costs = np.array([cost if bench.affords(cost) else np.inf for cost, _, _ in reached])
        return totals + costs[None] * weights.sum(axis=1, keepdims=True)

    def _surcharges(self, bench: Bench, reached: Sequence[tuple[float, float, int]]) -> np.ndarray:
        """What to add per check and plan to the linear price, shape (n_checks, n_plans)."""
        if bench.budget is not None:
            return np.array([self.book.surcharge(opened, bench.done, bench.spend(cost)) for cost, _, opened in reached])
        found = {opened: self.book.surcharge(opened, bench.done, None) for _, _, opened in reached}
        return np.array([found[opened] for _, _, opened in reached])
