"""A book of ready plans that prices a state of knowledge by one matrix product, and what a check is then worth.

The expected total of a fixed plan is linear in the belief. A book keeps one vector per plan; the price of a
belief is the least over the book. Because every belief is priced by the same book, free information
never raises the expected cost, to the last digit.
"""

from collections.abc import Iterable, Sequence
from functools import cached_property
from itertools import combinations
from typing import NamedTuple

import numpy as np

from shiftlore.basics.structs import Value
from shiftlore.planning.batches import Batches, plan_each_exactly
from shiftlore.planning.costs import AccessTree, Situation
from shiftlore.planning.ordering import bound_each_fault
from shiftlore.planning.plans import JobPlan, end_plan, list_endings, plan_quickly

WRITE_ALL_UP_TO = 4
"""Jobs up to which every possible plan is written down: 150 of them for four jobs."""

PLAN_EXACTLY_UP_TO = 7
"""Jobs up to which the plan of each belief asked about is the exact one: some milliseconds for two hundred of them."""

MAX_PLANS = 200
"""Plans kept; the ones that are best for no belief asked about go first."""

BEGINNINGS = 12
"""First batches, cheapest now, of which what follows when they fail is kept too: no fewer than are ever proposed."""

ROUNDING = 1e-9
"""Share of a price by which two sums of the same figures may differ."""


class PlanBook(Value, frozen=True, eq=False):
    """Ready plans and their prices.

    Args:
        plans: batches of each plan.
        vectors: expected total under each hypothesis when nothing is open, access of the first batch
            left out, shape (n_plans, n_hypotheses).
        first_masks: levels that the first batch needs open, shape (n_plans,).
        uses: whether a plan does a job, shape (n_plans, n_jobs).
        spends: worst-case spend, access of the first batch left out, shape (n_plans,).
        access: the levels to open.
    """

    plans: tuple[Batches, ...]
    vectors: np.ndarray
    first_masks: np.ndarray
    uses: np.ndarray
    spends: np.ndarray
    access: AccessTree

    def first_access(self, opened: int) -> np.ndarray:
        """Access cost of each plan's first batch from what is open, shape (n_plans,)."""
        return self.access.round_trip(self.first_masks, opened)

    def pick(self, rows: np.ndarray, hypotheses: np.ndarray | None = None) -> "PlanBook":
        """Only these plans, and where they are given only these hypotheses."""
        vectors = self.vectors[rows] if hypotheses is None else self.vectors[np.ix_(rows, hypotheses)]
        return self.vary(
            plans=tuple(self.plans[row] for row in rows),
            vectors=vectors,
            first_masks=self.first_masks[rows],
            uses=self.uses[rows],
            spends=self.spends[rows],
        )

    def join(self, other: "PlanBook") -> "PlanBook":
        """All plans of both books, which must be about the same jobs."""
        return self.vary(
            plans=self.plans + other.plans,
            vectors=np.concatenate([self.vectors, other.vectors]),
            first_masks=np.concatenate([self.first_masks, other.first_masks]),
            uses=np.concatenate([self.uses, other.uses]),
            spends=np.concatenate([self.spends, other.spends]),
        )

    def allowed(self, opened: int, done: np.ndarray | None, budget: float | None) -> np.ndarray:
        """Which plans repeat nothing done and stay within the budget, shape (n_plans,)."""
        allowed = np.ones(len(self.plans), dtype=bool)
        if done is not None:
            allowed &= ~(self.uses & done).any(axis=1)
        if budget is not None:
            allowed &= (self.spends + self.first_access(opened) <= budget) | ~self.uses.any(axis=1)
        return allowed

    def surcharge(self, opened: int, done: np.ndarray | None, budget: float | None) -> np.ndarray:
        """What to add per plan to the linear price; infinite where the plan is not allowed, shape (n_plans,)."""
        if budget is None and (done is None or not done.any()):
            return self.first_access(opened)
        return np.where(self.allowed(opened, done, budget), self.first_access(opened), np.inf)

    def price_each(
        self, weights: np.ndarray, opened: int, done: np.ndarray | None = None, budget: float | None = None
    ) -> np.ndarray:
        """Expected total of every plan for every row of weights, shape (k, n_plans)."""
        extra = self.surcharge(opened, done, budget)
        barred = ~np.isfinite(extra)
        prices = weights @ self.vectors.T + np.where(barred, 0.0, extra) * weights.sum(axis=-1, keepdims=True)
        prices[..., barred] = np.inf
        return prices

    def price(
        self, weights: np.ndarray, opened: int, done: np.ndarray | None = None, budget: float | None = None
    ) -> np.ndarray:
        """Expected total of the best plan in the book for every row of weights, shape (k,)."""
        return self.price_each(weights, opened, done, budget).min(axis=-1)


def write_book(situation: Situation, beliefs: np.ndarray, *plans: JobPlan) -> PlanBook:
    """Write the book for the beliefs that are to be priced.

    Args:
        beliefs: weights, shape (k, n_hypotheses); each row gets its quick plan.
        plans: better ones for some belief, to be written too.
    """
    jobs = tuple(range(len(situation.jobs)))
    if len(jobs) <= WRITE_ALL_UP_TO + (situation.budget is not None):
        return bind_plans(situation, all_plans(jobs))
    heads = [tuple(tuple(map(situation.job_index, batch)) for batch in plan.batches) for plan in plans]
    for at in {situation.opened, 0}:  # a check may close what stands open
        there = situation.vary(opened=at)
        heads += _plan_each(there, beliefs, jobs)
    endings = list_endings(situation, beliefs[0])
    whole = [end_plan(head, ending) for head in dict.fromkeys(((), *heads)) for ending in endings]
    tails = (plan[at:] for plan in whole for at in range(1, len(plan)))  # what follows when the first batches failed
    book = bind_plans(situation, _with_beginnings(situation, [*whole, *tails]))
    if len(book.plans) <= MAX_PLANS:
        return book
    prices = book.price_each(beliefs, situation.opened, None, situation.budget)
    regret = (prices - prices.min(axis=1, keepdims=True)).min(axis=0)
    always = [row for row, written in enumerate(book.plans) if not any(written)]
    keep = [*np.argsort(regret, kind="stable")[:MAX_PLANS], *always, *_list_tails(book, prices[0])]
    return book.pick(np.array(sorted({*keep}), dtype=np.intp))


def write_after(
    situation: Situation,
    book: PlanBook,
    beliefs: np.ndarray,
    batches: Sequence[tuple[int, ...]],
    likelihoods: Sequence[np.ndarray],
) -> PlanBook:
    """Add plans for what a batch that failed leaves of some beliefs, and for what a check may show then of the first.

    Most plans of the book do again what has just been done, and of two causes only the one that is left still shows.

    Args:
        beliefs: shape (k, n_hypotheses).
        likelihoods: per check, shape (n_outcomes, n_hypotheses).
    """
    if len(situation.jobs) <= WRITE_ALL_UP_TO:
        return book
    closed, plans, shown = situation.vary(opened=0), list[Batches](), np.concatenate(likelihoods)
    for batch in batches:
        jobs = tuple(job for job in range(len(situation.jobs)) if job not in batch)
        left = situation.hypotheses.persist(beliefs, situation.missed_by(batch))
        left = np.concatenate([left, (left[:1, None] * shown).reshape(-1, left.shape[1])])
        plans += _plan_each(closed, left, jobs)
    written = {*book.plans}
    new = [plan for plan in _with_beginnings(situation, plans) if plan not in written]
    return book.join(bind_plans(situation, new))


def _with_beginnings(situation: Situation, plans: Iterable[Batches]) -> list[Batches]:
    """Plans, each once, and where there is a budget how they begin: one that is too dear may still be begun."""
    if situation.budget is not None:
        plans = (plan[:length] for plan in plans for length in range(len(plan) + 1))
    return list(dict.fromkeys(plans))


def _plan_each(situation: Situation, beliefs: np.ndarray, jobs: tuple[int, ...]) -> list[Batches]:
    """A plan of these jobs for each belief."""
    if len(jobs) <= PLAN_EXACTLY_UP_TO:
        return plan_each_exactly(situation, beliefs, jobs)
    return plan_quickly(situation, beliefs, jobs)


def _list_tails(book: PlanBook, prices: np.ndarray) -> list[int]:
    """Rows of what follows in the cheapest plan that begins with each first batch, when that fails."""
    rows = {plan: row for row, plan in enumerate(book.plans)}
    tails: dict[Batches, int] = {}
    for row in np.argsort(prices, kind="stable"):
        plan = book.plans[row]
        if plan[1:] in rows:
            tails.setdefault(plan[:1], rows[plan[1:]])
    return list(tails.values())[:BEGINNINGS]


def all_plans(jobs: tuple[int, ...]) -> list[Batches]:
    """Every ordered list of disjoint batches of some of the jobs, the empty plan first."""
    plans: list[Batches] = [()]
    for size in range(1, len(jobs) + 1):
        for first in combinations(jobs, size):
            left = tuple(job for job in jobs if job not in first)
            plans += [(first, *tail) for tail in all_plans(left)]
    return plans


def bind_plans(situation: Situation, plans: Sequence[Batches]) -> PlanBook:
    """Price plans; those with a batch that makes no sense drop out."""
    fine = {batch for batch in {batch for plan in plans for batch in plan} if situation.is_batch(batch)}
    plans = tuple(plan for plan in plans if fine.issuperset(plan))
    uses = np.zeros((len(plans), len(situation.jobs)), dtype=bool)
    for row, plan in enumerate(plans):
        uses[row, [job for batch in plan for job in batch]] = True
    begun = _begin(situation, plans)
    return PlanBook(
        plans=plans,
        vectors=begun.paid + situation.uncured_cost * begun.left,
        first_masks=begun.first_mask,
        uses=uses,
        spends=begun.spend,
        access=situation.access,
    )


class _Begun(NamedTuple):
    """Plans carried out so far: paid per hypothesis, worst spend, first levels, and p of survival so far.

    Shapes (k, n_hypotheses), (k,), (k,), (k, n_causes), and (k, n_hypotheses) of what is left; `is_begun` of shape (k,).
    """

    paid: np.ndarray
    spend: np.ndarray
    first_mask: np.ndarray
    missed: np.ndarray
    left: np.ndarray
    is_begun: np.ndarray

    def pick(self, rows: np.ndarray) -> "_Begun":
        """Some of them."""
        return _Begun(*(part[rows] for part in self))


def _begin(situation: Situation, heads: Sequence[Batches]) -> _Begun:
    """Carry out plans, all together batch by batch; what several begin with is carried out once."""
    hypotheses = situation.hypotheses
    paid, left = np.zeros((1, len(hypotheses.members))), np.ones((1, len(hypotheses.members)))
    missed, nothing = np.ones((1, len(hypotheses.causes))), np.zeros(1)
    begun = [_Begun(paid, nothing, np.zeros(1, dtype=np.int64), missed=missed, left=left, is_begun=nothing > 0)]
    found: dict[Batches, int] = {(): 0}
    for length in range(1, max(map(len, heads), default=0) + 1):
        first, begins = len(found) - len(begun[-1].spend), [head[:length] for head in heads if len(head) >= length]
        begins = [*dict.fromkeys(begins)]
        rows = np.array([found[head[:-1]] - first for head in begins], dtype=np.intp)
        begun.append(_go_on(situation, begun[-1].pick(rows), begins))
        found |= zip(begins, range(len(found), len(found) + len(begins)), strict=True)
    whole = _Begun(*map(np.concatenate, zip(*begun, strict=True)))
    return whole.pick(np.array([found[head] for head in heads], dtype=np.intp))


def _go_on(situation: Situation, begun: _Begun, heads: Sequence[Batches]) -> _Begun:
    """Add the last batch of each head to the plan begun; access of the first is left out."""
    cost, mask, missed = _weigh_each(situation, [head[-1] for head in heads])
    cost = cost + begun.is_begun * situation.access.round_trip(mask)
    if (situation.kinds >= 0).any():
        missed = situation.missed_by_each([tuple(job for batch in head for job in batch) for head in heads])
    else:
        missed = begun.missed * missed
    left = situation.hypotheses.uncured(missed)
    paid = begun.paid + cost[:, None] * begun.left + situation.comeback_cost * left
    mask, is_begun = np.where(begun.is_begun, begun.first_mask, mask), np.ones(len(heads), dtype=bool)
    return _Begun(paid, begun.spend + cost, first_mask=mask, missed=missed, left=left, is_begun=is_begun)


def _weigh_each(situation: Situation, batches: Sequence[tuple[int, ...]]) -> list[np.ndarray]:
    """The same as `weigh_batches`, each batch weighed once."""
    number = {batch: place for place, batch in enumerate(dict.fromkeys(batches))}
    rows = np.array([number[batch] for batch in batches], dtype=np.intp)
    return [figures[rows] for figures in situation.weigh_batches(list(number))]


class Bench(Value, frozen=True, eq=False):
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


def start_bench(situation: Situation) -> Bench:
    """The bench as it stands now: everything in the situation still to do."""
    checks = tuple(range(len(situation.checks)))
    return Bench(situation.opened, checks, np.zeros(len(situation.jobs), dtype=bool), situation.budget)


class Outlook(Value, frozen=True, eq=False, dict=True):
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
        return self.book_after(bench.done).price(weights, bench.opened, bench.done, bench.budget)

    def book_after(self, done: np.ndarray) -> PlanBook:
        """The book as it is when some jobs have failed: others of their kind are worth less then."""
        key = done.tobytes()
        if key not in self._books:
            self._books[key] = self._write_anew(done)
        return self._books[key]

    @cached_property
    def _books(self) -> dict[bytes, PlanBook]:
        return {}

    def _write_anew(self, done: np.ndarray) -> PlanBook:
        kinds, jobs = self.situation.kinds, tuple(np.flatnonzero(done).tolist())
        failed = kinds[list(jobs)]
        alike = np.isin(kinds[:-1], failed[failed >= 0]) & ~done
        if not alike.any():
            return self.book
        uses, vectors = self.book.uses, self.book.vectors.copy()
        rows = np.flatnonzero(uses[:, alike].any(axis=1) & ~uses[:, done].any(axis=1))  # others are as dear, or barred
        vectors[rows] = bind_plans(self.situation.after(jobs), [self.book.plans[row] for row in rows]).vectors
        return self.book.vary(vectors=vectors)

    def price(self, weights: np.ndarray, bench: Bench, depth: int, *, most: np.ndarray | None = None) -> np.ndarray:
        """Expected total of the best that can be done, thinking `depth` steps ahead, or `most` if that is less, shape (k,)."""
        best = self.price_jobs(weights, bench)
        best = best if most is None else np.minimum(best, most)
        if depth <= 0 or not bench.checks:
            return best
        if depth == 1:
            return np.minimum(best, self.price_checks(weights, bench).min(axis=1))
        for check in bench.checks:
            best = self.price_check(weights, bench, check, depth, most=best)
        for batch in self.batches:
            if not bench.done[list(batch)].any():
                best = self.price_batch(weights, bench, batch, depth, most=best)
        return best

    def price_check(
        self, weights: np.ndarray, bench: Bench, check: int, depth: int, *, most: np.ndarray | None = None
    ) -> np.ndarray:
        """Expected total of making one check first, thinking `depth` steps ahead in all, or `most` if that is less.

        Returns: shape (k,).
        """
        cost, _, opened = self.situation.reach_check(check, bench.opened)
        best = np.full(len(weights), np.inf) if most is None else most.copy()
        rows = cost * weights.sum(axis=1) + weights @ self._floor(opened) < best
        if not bench.affords(cost) or not rows.any():
            return best
        left = tuple(other for other in bench.checks if other != check)
        after = bench.vary(opened=opened, checks=left, budget=bench.spend(cost))
        table = self.likelihoods[check]
        parts = (weights[rows, None, :] * table[None]).reshape(-1, weights.shape[1])
        totals = self.price(parts, after, depth - 1).reshape(-1, len(table)).sum(axis=1)
        best[rows] = np.minimum(best[rows], totals + cost * weights[rows].sum(axis=1))
        return best

    def price_batch(
        self, weights: np.ndarray, bench: Bench, batch: tuple[int, ...], depth: int, *, most: np.ndarray | None = None
    ) -> np.ndarray:
        """Expected total of doing a batch of jobs first and, if it fails, the best after it, or `most` if that is less.

        Returns: shape (k,).
        """
        cost = self.situation.batch_cost(batch, bench.opened)
        best = np.full(len(weights), np.inf) if most is None else most.copy()
        if not bench.affords(cost):
            return best
        left = self.situation.hypotheses.persist(weights, self.situation.missed_by(batch))
        paid = cost * weights.sum(axis=1) + self.situation.comeback_cost * left.sum(axis=1)
        rows = paid + left @ self._floor(0) < best
        if rows.any():
            done = bench.done.copy()
            done[list(batch)] = True
            after = bench.vary(opened=0, done=done, budget=bench.spend(cost))
            best[rows] = np.minimum(
                best[rows], paid[rows] + self.price(left[rows], after, depth - 1, most=best[rows] - paid[rows])
            )
        return best

    def _floor(self, opened: int) -> np.ndarray:
        """Least that going on costs under each hypothesis, from some open levels, shape (n_hypotheses,)."""
        if opened not in self._floors:
            self._floors[opened] = bound_each_fault(self.situation.vary(opened=opened))
        return self._floors[opened]

    @cached_property
    def _floors(self) -> dict[int, np.ndarray]:
        return {}

    def price_checks(self, weights: np.ndarray, bench: Bench) -> np.ndarray:
        """Expected total of making each check first and then only jobs, shape (k, n_checks_left).

        All outcomes of the checks that leave the same levels open are priced in one product.
        """
        tables = [self.likelihoods[check] for check in bench.checks]
        starts = np.concatenate([[0], np.cumsum([len(table) for table in tables])[:-1]]).astype(np.intp)
        owners = np.repeat(np.arange(len(tables)), [len(table) for table in tables])
        reached = [self.situation.reach_check(check, bench.opened) for check in bench.checks]
        extra, ways = self._surcharges(bench, reached)
        book = self.book_after(bench.done)
        shown = np.concatenate(tables)
        cheapest = np.full((len(weights), len(shown)), np.inf)
        for way, surcharge in enumerate(extra):
            allowed, mine = np.isfinite(surcharge), ways[owners] == way
            if allowed.any():
                vectors = book.vectors[allowed] + surcharge[allowed, None]
                parts = (weights[:, None, :] * shown[mine]).reshape(-1, weights.shape[1])
                cheapest[:, mine] = (vectors @ parts.T).min(axis=0).reshape(len(weights), -1)
        totals = np.add.reduceat(cheapest, starts, axis=1)
        totals += np.array([cost for cost, _, _ in reached]) * weights.sum(axis=1, keepdims=True)
        totals[:, [not bench.affords(cost) for cost, _, _ in reached]] = np.inf
        return totals

    def leave_enough(self, weights: np.ndarray, bench: Bench, nearly: float = ROUNDING) -> np.ndarray:
        """Whether the budget still buys after each check what it buys best without: a check costs its price and no more.

        Args:
            weights: shape (n_hypotheses,).
            nearly: share of the total by which what it then buys may be worse.
        Returns: shape (n_checks_left,).
        """
        if bench.budget is None:
            return np.ones(len(bench.checks), dtype=bool)
        costs = np.array([self.situation.reach_check(check, bench.opened)[0] for check in bench.checks])
        now = float(self.price_jobs(weights[None], bench)[0]) + costs * weights.sum()
        enough: np.ndarray = self.price_checks(weights[None], bench)[0] <= now * (1.0 + nearly)
        return enough

    def price_blind(self, weights: np.ndarray, bench: Bench) -> np.ndarray:
        """Expected total of paying for each check without looking and then only jobs, its cost left out.

        Args:
            weights: shape (n_hypotheses,).
        Returns: shape (n_checks_left,).
        """
        reached = [self.situation.reach_check(check, bench.opened) for check in bench.checks]
        extra, ways = self._surcharges(bench, reached)
        blind: np.ndarray = (self.book_after(bench.done).vectors @ weights + extra * weights.sum()).min(axis=1)[ways]
        return blind

    def _surcharges(self, bench: Bench, reached: Sequence[tuple[float, float, int]]) -> tuple[np.ndarray, np.ndarray]:
        """What to add to the linear price of each plan, by how a check leaves the bench: levels open, and budget left.

        Returns: shape (n_ways, n_plans), and the way of each check, shape (n_checks,).
        """
        left = [(opened, bench.spend(cost)) for cost, _, opened in reached]
        ways = {way: i for i, way in enumerate(dict.fromkeys(left))}
        extra = np.array([self.book.surcharge(opened, bench.done, budget) for opened, budget in ways])
        return extra, np.array([ways[way] for way in left])
