"""Which checks can wait until the first work has failed: those whose answers change only what is done after it."""

from typing import NamedTuple

import numpy as np

from shiftlore.planning.outlook import Bench, Outlook

NEARLY = 0.02
"""Share of the total within which the planner cannot tell steps apart: plans written for one answer ahead instead of
three move it by up to 1.8 % (15 drawn vehicles of five units)."""

NO_GAIN = 1e-9
"""A saving below this is rounding, not worth proposing anything for."""


class Urgency(NamedTuple):
    """What checks save, and how much of it is lost unless they are made before the first work.

    Args:
        first: the jobs with which the cheapest plan begins; empty where leaving the vehicle is cheapest.
        gross: what each check's answers save before its cost, against reaching the same access without them.
        saves: what of it they save because other work is done first; the rest can wait.
        changes: in how many vehicles other work is done first.
        least: what they must save so at the least: made after that work, a check costs nothing where it cures.
    The last four are of shape (n_checks,).
    """

    first: tuple[int, ...]
    gross: np.ndarray
    saves: np.ndarray
    changes: np.ndarray
    least: np.ndarray

    @property
    def can_wait(self) -> np.ndarray:
        """Which checks can, shape (n_checks,)."""
        can_wait: np.ndarray = self.saves <= self.least
        return can_wait


def weigh_urgency(outlook: Outlook, belief: np.ndarray, bench: Bench, one_step: np.ndarray) -> Urgency:
    """Weigh which checks can wait.

    Args:
        belief: weights, shape (n_hypotheses,); one_step: as `Outlook.price_checks` gives it for this belief.
    """
    situation, blind = outlook.situation, outlook.price_blind(belief, bench) if bench.checks else np.zeros(0)
    reached = [situation.reach_check(check, bench.opened) for check in bench.checks]
    reach = np.array([cost for cost, _, _ in reached])
    first, gross = find_first_work(outlook, belief, bench), blind - (one_step - reach)
    saves, changes = np.array([gross, gross > NO_GAIN])
    ways = dict[tuple[int, float | None], list[int]]()
    for place in np.flatnonzero(gross > NO_GAIN).tolist():
        cost, _, opened = reached[place]
        ways.setdefault((opened, bench.spend(cost)), []).append(place)
    for (opened, budget), group in ways.items():
        tables = [outlook.likelihoods[bench.checks[place]] for place in group]
        starts = np.cumsum([0, *map(len, tables[:-1])])
        rows, after = np.concatenate(tables) * belief, bench.vary(opened=opened, budget=budget)
        saved, changed = change_first_work(outlook, rows, after, first)
        saves[group] = np.minimum(np.add.reduceat(saved, starts), gross[group])
        changes[group] = np.add.reduceat(rows.sum(axis=1) * changed, starts)
    p_first = 1.0 - float(belief @ situation.hypotheses.uncured(situation.missed_by(first)))
    now = float(outlook.price_jobs(belief[None], bench)[0])
    return Urgency(
        first, gross, saves=saves, changes=changes, least=np.maximum(p_first * (reach + blind - now), NO_GAIN)
    )


def find_first_work(outlook: Outlook, belief: np.ndarray, bench: Bench) -> tuple[int, ...]:
    """Find the jobs with which the cheapest plan begins; none where leaving the vehicle is cheapest."""
    prices = outlook.book.price_each(belief[None], bench.opened, None, bench.budget)[0]
    return next(iter(outlook.book.plans[int(np.argmin(prices))]), ())


def change_first_work(
    outlook: Outlook, rows: np.ndarray, after: Bench, first: tuple[int, ...]
) -> tuple[np.ndarray, np.ndarray]:
    """Weigh what other first work saves after each answer of a check, and tell where that is more than can be told apart.

    A plan of the book that begins with the first work bounds what that costs: what follows it there may be no plan by itself.

    Args:
        rows: weights after each answer, shape (n_outcomes, n_hypotheses); after: where the work then stands.
    Returns: both of shape (n_outcomes,).
    """
    situation, best = outlook.situation, outlook.price_jobs(rows, after)
    leaving = situation.uncured_cost + float(situation.access.close_costs[after.opened])
    same = outlook.price_batch(rows, after, first, 1) if first else leaving * rows.sum(axis=1)
    book = outlook.book_after(after.done)
    begin = [place for place, plan in enumerate(book.plans) if plan and {*plan[0]} == {*first}]
    if begin:
        prices = book.price_each(rows, after.opened, after.done, after.budget)
        same = np.minimum(same, prices[:, begin].min(axis=1))
    saved = np.maximum(same - best, 0.0)
    return saved, saved > NEARLY * best
