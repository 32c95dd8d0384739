"""Why a step is proposed, in numbers: what each answer would change."""

from dataclasses import dataclass

import numpy as np

from shiftlore.planning import Bench, Decision, Outcomes, Situation, start_bench

TOLD_SHIFTS = 3
"""Causes named per answer; more than three nobody reads."""

TOLD_FROM = 0.005
"""Answers that are rarer than this are left out of the reasons."""


@dataclass(frozen=True, slots=True)
class Shift:
    """How one answer moves the probability of one cause."""

    cause: str
    before: float
    after: float


@dataclass(frozen=True, slots=True)
class OutcomeReason:
    """What one answer of a check would change.

    Args:
        label: the answer.
        p: probability of it.
        shifts: the causes that it moves most, largest move first.
        jobs: the first batch of the best plan after it; empty means leaving it is cheapest.
        dropped: jobs of the plan now that the plan after it no longer holds.
        added: jobs that only the plan after it holds.
        expected_total_after: what is expected to be paid after it by jobs alone.
        saves: what a change of plan after it saves, weighed with `p`; their sum is what the check saves.
    """

    label: str
    p: float
    shifts: tuple[Shift, ...]
    jobs: tuple[str, ...]
    dropped: tuple[str, ...]
    added: tuple[str, ...]
    expected_total_after: float
    saves: float


@dataclass(frozen=True, slots=True)
class CheckReason:
    """Why a check is worth its cost.

    Args:
        outcomes: the answers, most probable first.
        p_changes: probability that the answer changes what is done first.
        saves: what the answers save on average before the check is paid.
    """

    outcomes: tuple[OutcomeReason, ...]
    p_changes: float
    saves: float


@dataclass(frozen=True, slots=True)
class JobReason:
    """Why jobs are proposed now.

    Args:
        aims: causes that the jobs put right: (cause, probability at work, probability of putting it right).
        p_cured: probability that the problem is gone after them.
        if_not: the causes that would be most probable if it persists.
        best_check_saving: what the best check would have saved; zero or less, or None without a check.
    """

    aims: tuple[tuple[str, float, float], ...]
    p_cured: float
    if_not: tuple[Shift, ...]
    best_check_saving: float | None


def explain_check(choice: Decision, belief: np.ndarray, check: str, outcomes: Outcomes) -> CheckReason:
    """Say what each answer of a check (or bundle, with its joint outcomes) would change.

    Args:
        choice: as chosen.
        belief: shape (n_hypotheses,), the belief that it was chosen with.
        check: id of the check, or of the last check of a bundle.
        outcomes: the labels and likelihoods of its answers.
    """
    situation = choice.outlook.situation
    place = situation.check_index(check)
    cost, _, opened = situation.reach_check(place, situation.opened)
    bench = start_bench(situation)
    after = Bench(opened, (), bench.done, bench.spend(cost))
    rows = outcomes.likelihoods * belief
    prices = choice.outlook.book.price_each(rows, opened, None, after.budget)
    now = choice.outlook.book.price_each(belief[None], opened, None, after.budget)[0]
    plan_now = int(np.argmin(now))
    reasons, p_changes = [], 0.0
    for row, label in enumerate(outcomes.labels):
        p = float(rows[row].sum())
        plan = int(np.argmin(prices[row])) if prices[row, plan_now] > prices[row].min() + 1e-12 else plan_now
        p_changes += p * (_first(choice, plan) != _first(choice, plan_now))
        if p >= TOLD_FROM:
            reasons.append(
                _explain_outcome(
                    choice=choice,
                    belief=belief,
                    label=label,
                    weights=rows[row],
                    plan_now=plan_now,
                    plan=plan,
                    prices=prices[row],
                )
            )
    reasons.sort(key=lambda reason: -reason.p)
    return CheckReason(tuple(reasons), p_changes, float(now.min() - prices.min(axis=1).sum()))


def explain_job(choice: Decision, belief: np.ndarray, jobs: tuple[str, ...]) -> JobReason:
    """Say what jobs aim at, how sure they are, and what would be believed if they fail.

    Args:
        jobs: ids of the jobs done in one go.
    """
    situation = choice.outlook.situation
    hypotheses = situation.hypotheses
    missed = situation.missed_by(tuple(situation.job_index(job) for job in jobs))
    p_causes = hypotheses.cause_probabilities(belief)
    aims = [
        (cause, float(p), 1.0 - float(left))
        for cause, p, left in zip(hypotheses.causes, p_causes, missed, strict=True)
        if left < 1.0 and p > 0.0
    ]
    aims.sort(key=lambda aim: -aim[1] * aim[2])
    left = hypotheses.persist(belief, missed)
    shifts = _shifts(situation, belief, left, by_after=True) if left.sum() > TOLD_FROM else ()
    saving = choice.stop.best_check_saving if choice.stop.best_check is not None else None
    return JobReason(tuple(aims[:TOLD_SHIFTS]), 1.0 - float(left.sum()), shifts, saving)


def _explain_outcome(
    choice: Decision,
    belief: np.ndarray,
    label: str,
    weights: np.ndarray,
    *,
    plan_now: int,
    plan: int,
    prices: np.ndarray,
) -> OutcomeReason:
    situation, p = choice.outlook.situation, float(weights.sum())
    before, after = _jobs(choice, plan_now), _jobs(choice, plan)
    return OutcomeReason(
        label=label,
        p=p,
        shifts=_shifts(situation, belief, weights),
        jobs=_first(choice, plan),
        dropped=tuple(job for job in before if job not in after),
        added=tuple(job for job in after if job not in before),
        expected_total_after=float(prices[plan]) / p,
        saves=float(prices[plan_now] - prices[plan]),
    )


def _shifts(situation: Situation, belief: np.ndarray, weights: np.ndarray, by_after: bool = False) -> tuple[Shift, ...]:
    """The causes that move most, or that are most probable afterwards."""
    before = situation.hypotheses.cause_probabilities(belief)
    after = situation.hypotheses.cause_probabilities(weights / weights.sum())
    ranked = np.argsort(-after if by_after else -np.abs(after - before), kind="stable")[:TOLD_SHIFTS]
    return tuple(Shift(situation.hypotheses.causes[i], float(before[i]), float(after[i])) for i in ranked)


def _jobs(choice: Decision, plan: int) -> tuple[str, ...]:
    situation = choice.outlook.situation
    return tuple(situation.jobs[job].id for batch in choice.outlook.book.plans[plan] for job in batch)


def _first(choice: Decision, plan: int) -> tuple[str, ...]:
    batches = choice.outlook.book.plans[plan]
    return tuple(choice.outlook.situation.jobs[job].id for job in sorted(batches[0])) if batches else ()
