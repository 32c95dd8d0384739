"""A quick choice for thousands of simulated vehicles, from a book of plans written once.

One step ahead; two only where one step says that nothing pays, and then for the best few checks.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from shiftlore.planning import (
    NO_GAIN,
    Oracle,
    Outlook,
    PlanBook,
    Situation,
    bind_plans,
    plan_quickly,
    start_bench,
    write_book,
)

FEW_CHECKS = 4
"""Checks priced two steps ahead where no check pays alone."""


@dataclass(frozen=True, slots=True)
class Action:
    """What a policy does next.

    Args:
        kind: ``check``, ``job`` or ``leave``.
        ids: the check, or the jobs in one go; empty for ``leave``.
    """

    kind: str
    ids: tuple[str, ...] = ()


LEAVE = Action("leave")

Policy = Callable[[Situation, Oracle], Action]
"""Given what is known and what can be done, what to do next."""


def choose_quickly(situation: Situation, oracle: Oracle, book: PlanBook) -> Action:
    """Choose the next act one step ahead: the check that saves most, else the first batch of the plan.

    Args:
        book: plans of this situation's jobs, written for beliefs like this one.
    """
    belief = np.asarray(oracle.belief, dtype=float)[None]
    own = bind_plans(situation, plan_quickly(situation, belief))
    book = join_books(book, own)
    prices = book.price_each(belief, situation.opened, None, situation.budget)[0]
    plan = int(np.argmin(prices))
    if situation.checks:
        tables = tuple(oracle.outcomes(check.id).likelihoods for check in situation.checks)
        check = _choose_check(Outlook(situation, book, tables), belief, float(prices[plan]))
        if check is not None:
            return Action("check", (situation.checks[check].id,))
    if not book.plans[plan]:
        return LEAVE
    return Action("job", tuple(situation.jobs[job].id for job in book.plans[plan][0]))


def _choose_check(outlook: Outlook, belief: np.ndarray, now: float) -> int | None:
    """The check that saves most in one step, or with a second one behind it; None if no check pays."""
    bench = start_bench(outlook.situation)
    totals = outlook.price_checks(belief, bench)[0]
    best = int(np.argmin(totals))
    if totals[best] < now - NO_GAIN:
        return best
    few = [int(check) for check in np.argsort(totals, kind="stable")[:FEW_CHECKS]]
    deep = [float(outlook.price_check(belief, bench, check, 2)[0]) for check in few]
    return few[int(np.argmin(deep))] if min(deep) < now - NO_GAIN else None


def join_books(first: PlanBook, second: PlanBook) -> PlanBook:
    """All plans of both books, which must be about the same jobs."""
    return replace(
        first,
        plans=first.plans + second.plans,
        vectors=np.concatenate([first.vectors, second.vectors]),
        first_masks=np.concatenate([first.first_masks, second.first_masks]),
        uses=np.concatenate([first.uses, second.uses]),
        spends=np.concatenate([first.spends, second.spends]),
    )


class QuickPlanner:
    """The planner as a policy for simulation: writes a book per set of open jobs, and remembers answers.

    Args:
        remember: keep what was chosen for a belief, so that vehicles that look alike cost nothing.
    """

    def __init__(self, remember: bool = True):
        self._books: dict[tuple[str, ...], PlanBook] = {}
        self._chosen: dict[tuple[object, ...], Action] = {}
        self._remember = remember

    def __call__(self, situation: Situation, oracle: Oracle) -> Action:
        """Choose the next act for one vehicle."""
        key = _describe(situation, oracle)
        if key not in self._chosen:
            action = choose_quickly(situation, oracle, self._book(situation, oracle))
            if not self._remember:
                return action
            self._chosen[key] = action
        return self._chosen[key]

    def _book(self, situation: Situation, oracle: Oracle) -> PlanBook:
        jobs = tuple(job.id for job in situation.jobs)
        if jobs not in self._books:
            belief = np.asarray(oracle.belief, dtype=float)
            tables = [oracle.outcomes(check.id).likelihoods * belief for check in situation.checks]
            self._books[jobs] = write_book(situation, np.concatenate([belief[None], *tables]))
        return self._books[jobs]


def _describe(situation: Situation, oracle: Oracle) -> tuple[object, ...]:
    """What a choice depends on, as a key; beliefs equal to nine digits count as equal."""
    acts = (*(job.id for job in situation.jobs), *(check.id for check in situation.checks))
    belief = np.round(np.asarray(oracle.belief), 9).tobytes()
    return situation.opened, situation.budget, acts, belief
