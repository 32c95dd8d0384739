"""Why a step is proposed: what each answer would change, in numbers and in one sentence; what things are called."""

from collections.abc import Callable, Mapping

import numpy as np

from shiftlore.advising.looks_first import is_fault_seen
from shiftlore.basics.structs import Value
from shiftlore.compiling import CompiledCase
from shiftlore.planning import (
    BUDGET,
    NOTHING_WRONG,
    RARE,
    SOMETHING_ELSE,
    Decision,
    Outcomes,
    Situation,
    Stop,
    change_first_work,
    find_first_work,
    start_bench,
)
from shiftlore.ranking.dangers import say_share

TOLD_SHIFTS = 3
"""Causes named per answer; more than three nobody reads."""

TOLD_FROM = 0.005
"""Answers that are rarer than this are left out of the reasons."""


class Shift(Value, frozen=True):
    """How one answer moves the probability of one cause."""

    cause: str
    before: float
    after: float


class OutcomeReason(Value, frozen=True):
    """What one answer of a check would change.

    Args:
        label: the answer.
        p: probability of it.
        shifts: the causes that it moves most, largest move first.
        jobs: the first batch of the best plan after it; empty means leaving it is cheapest.
        dropped: jobs of the plan now that the plan after it no longer holds; none that nobody would begin with unasked.
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


class CheckReason(Value, frozen=True):
    """Why a check is worth its cost.

    Args:
        outcomes: the answers, most probable first.
        p_changes: probability that the answer changes what is done first.
        saves: what the answers save on average before the check is paid.
    """

    outcomes: tuple[OutcomeReason, ...]
    p_changes: float
    saves: float


class JobReason(Value, frozen=True):
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
    made = bench.vary(opened=opened, budget=bench.spend(cost))
    first = find_first_work(choice.outlook, belief, made)  # what its price alone changes is not its answer's doing
    rows, book = outcomes.likelihoods * belief, choice.outlook.book
    changed = change_first_work(choice.outlook, rows, made, first)[1]
    prices = book.price_each(rows, opened, None, made.budget)
    now = book.price_each(belief[None], opened, None, made.budget)[0]
    plan_now = int(np.argmin(now))
    reasons = []
    for row, label in enumerate(outcomes.labels):
        p = float(rows[row].sum())
        plan = int(np.argmin(prices[row])) if prices[row, plan_now] > prices[row].min() + 1e-12 else plan_now
        if p < TOLD_FROM:
            continue
        before, after = ([job for batch in book.plans[which] for job in batch] for which in (plan_now, plan))
        gone = [situation.jobs[job] for job in before if job not in after]
        reasons.append(
            OutcomeReason(
                label=label,
                p=p,
                shifts=_shifts(situation, belief, rows[row]),
                jobs=_first(choice, plan),
                dropped=tuple(job.id for job in gone if not job.least),
                added=tuple(situation.jobs[job].id for job in after if job not in before),
                expected_total_after=float(prices[row, plan]) / p,
                saves=float(prices[row, plan_now] - prices[row, plan]),
            )
        )
    reasons.sort(key=lambda reason: -reason.p)
    p_changes = float(rows.sum(axis=1) @ changed)
    return CheckReason(tuple(reasons), p_changes, float(now.min() - prices.min(axis=1).sum()))


def explain_job(
    choice: Decision, belief: np.ndarray, jobs: tuple[str, ...], foretell: Callable[[tuple[str, ...]], np.ndarray]
) -> JobReason:
    """Say what jobs aim at, how sure they are, and what would be believed if they fail.

    Args:
        jobs: ids of the jobs done in one go.
        foretell: gives what will be believed once they were in vain, shape (n_hypotheses,).
    """
    situation = choice.outlook.situation
    hypotheses = situation.hypotheses
    missed = situation.missed_by(tuple(situation.job_index(job) for job in jobs))
    p_causes = hypotheses.told_probabilities(belief)
    aims = [
        (cause, float(p), 1.0 - float(left))
        for cause, p, left in zip(hypotheses.causes, p_causes, missed, strict=True)
        if left < 1.0 and p > 0.0
    ]
    aims.sort(key=lambda aim: -aim[1] * aim[2])
    left = hypotheses.persist(belief, missed)
    shifts = _shifts(situation, belief, foretell(jobs), by_after=True) if left.sum() > TOLD_FROM else ()
    saving = choice.stop.best_check_saving if choice.stop.best_check is not None else None
    return JobReason(tuple(aims[:TOLD_SHIFTS]), 1.0 - float(left.sum()), shifts, saving)


def _shifts(situation: Situation, belief: np.ndarray, weights: np.ndarray, by_after: bool = False) -> tuple[Shift, ...]:
    """The causes that move most, or that are most probable afterwards."""
    before = situation.hypotheses.told_probabilities(belief)
    after = situation.hypotheses.told_probabilities(weights / weights.sum())
    ranked = np.argsort(-after if by_after else -np.abs(after - before), kind="stable")[:TOLD_SHIFTS]
    return tuple(Shift(situation.hypotheses.causes[i], float(before[i]), float(after[i])) for i in ranked)


def _first(choice: Decision, plan: int) -> tuple[str, ...]:
    batches = choice.outlook.book.plans[plan]
    return tuple(choice.outlook.situation.jobs[job].id for job in sorted(batches[0])) if batches else ()


OTHER_NAMES = {NOTHING_WRONG: "Nothing found", SOMETHING_ELSE: "Something else"}


def name_job(compiled: CompiledCase, job: str) -> str:
    """Label of a job; a job per instance carries the instance's label."""
    return compiled.expansion.name_job(job)


def name_jobs(compiled: CompiledCase, jobs: tuple[str, ...]) -> str:
    """Labels of jobs done in one go."""
    return " + ".join(name_job(compiled, job) for job in jobs)


def name_cause(compiled: CompiledCase, cause: str) -> str:
    """Label of a cause, or of what stands for none or the rest."""
    return OTHER_NAMES.get(cause) or compiled.expansion.causes[cause].label


LITTLE = 0.25
"""A chance below one in four is said to be little: judgement."""


PERCENT = 100
TOLD_ANSWERS = 2
"""Findings named per outcome."""
LEAST_MOVE = 0.02
"""A probability that moves less is not worth a number: judgement."""
LOOKS_FIRST = "It costs little beside the work, and may show what nobody thought of."


def tell_check(compiled: CompiledCase, reason: CheckReason, answers: Mapping[str, Mapping[str, str]]) -> str:
    """Say what the most telling outcome of a check would change.

    Args:
        answers: per outcome label what it says, finding -> grade.
    """
    if not reason.outcomes:
        return "It settles what a later check starts from."
    outcome = max(reason.outcomes, key=_weight)
    if _moves(outcome) < LEAST_MOVE:
        return f"By itself it would change next to nothing. {LOOKS_FIRST}"
    said = say_outcome(compiled, outcome, answers.get(outcome.label, {}))
    return f"Most telling result ({'rare' if outcome.p < RARE else say_share(outcome.p)}): {said}"


def say_outcome(compiled: CompiledCase, outcome: OutcomeReason, answers: Mapping[str, str]) -> str:
    """Say one outcome of a check, what it moves most, and which work drops out or comes into question by it.

    Args:
        answers: what it says, finding -> grade.
    """
    said = _unsound_first(compiled, answers)
    if _moves(outcome) < LEAST_MOVE:
        return f"{said or outcome.label}. That would change next to nothing."
    shift = outcome.shifts[0]
    moves = "rises" if shift.after >= shift.before else "falls"
    sentence = (
        f'{said or outcome.label}. Then "{name_cause(compiled, shift.cause)}" {moves} '
        f"from {PERCENT * shift.before:.0f} to {_percent(shift.after)}"
    )
    if outcome.dropped:
        return f'{sentence}, and "{name_job(compiled, outcome.dropped[0])}" drops out.'
    if outcome.added:
        return f'{sentence}, and "{name_job(compiled, outcome.added[0])}" comes into question.'
    return f"{sentence}."


def tell_job(compiled: CompiledCase, reason: JobReason) -> str:
    """Say what jobs aim at and how sure they are."""
    if not reason.aims:
        return "It puts right nothing that is probable now."
    cause, p, _ = reason.aims[0]
    sentence = (
        f"{name_cause(compiled, cause)} is at {_percent(p)}; "
        f"the chance that this cures the vehicle is {_percent(reason.p_cured)}"
    )
    if reason.if_not:
        shift = reason.if_not[0]
        if shift.cause in {cause for cause, *_ in reason.aims}:
            return f"{sentence}. If it does not help, the work most likely missed something: look at the work first."
        left = f"{name_cause(compiled, shift.cause)} would then be the likeliest, with {_percent(shift.after)}"
        return f"{sentence}. If not, {left}."
    return f"{sentence}."


def tell_closed(compiled: CompiledCase) -> str:
    """Say that the case is closed, and by what."""
    return f"{compiled.closed[1] if compiled.closed else 'A job'} cured it: the case is closed."


MOST_CHECKS = 15
"""Checks after which work is decided: 20 of 1,080 simulated vehicles had more, and cost no less with them (250 +- 590 more)."""


def has_checked_enough(compiled: CompiledCase) -> bool:
    """Tell whether so many checks were made that one more seldom changes what is done."""
    return sum(key in compiled.expansion.checks for key in compiled.case.done_ids) >= MOST_CHECKS


def is_work_decided(compiled: CompiledCase) -> bool:
    """Tell whether work comes before all checks: many were made, or the fault itself was seen."""
    return has_checked_enough(compiled) or is_fault_seen(compiled)


BUDGET_CHECK = "budget_check"
"""Reasons to stop, and to make a check all the same, where the budget buys no repair."""


def tell_stop(compiled: CompiledCase, stop: Stop, money: str = "") -> str:
    """Say whether to stop checking, and why.

    Args:
        money: the budget in words, where it alone makes leaving the vehicle best; "" elsewhere.
    """
    work, sure = name_jobs(compiled, stop.jobs) or "leaving it as it is", _percent(stop.p_cured)
    best = f"the best work is {work} ({sure} sure to cure it)" if stop.jobs else f"the best is {work}"
    if stop.jobs and stop.p_cured < LITTLE:
        best = f"no work is likely to cure it at once: the first in order, {work}, does in {sure}"
    if money:
        best = f"{money} buys no repair of it that is worth its price, and because of the budget the best is {work}"
    left = "There is no check left that this shop can make"
    if has_checked_enough(compiled):
        left = f"{MOST_CHECKS} checks were made, and one more seldom changes what is done"
    if is_fault_seen(compiled):
        left = "The fault itself was seen, and no check says more than that look"
    return {
        BUDGET: f"{best}.",
        BUDGET_CHECK: f"{best}. It does pay a check, which tells what more money would be for.",
        "check_pays": f"A check still saves more than it costs. Without it {best}.",
        "look_first": f"{LOOKS_FIRST} Without it {best}.",
        "job_pays_more": f"No check saves as much as doing the work now: {best}.",
        "no_check_pays": f"No check saves much more than it costs: {best}.",
        "no_check_matters": f"Whatever a check shows, the same would be done: {best}.",
        "no_check_left": f"{left}: {best}.",
    }[stop.reason]


def _weight(outcome: OutcomeReason) -> tuple[float, float]:
    """What an outcome saves; where none saves anything by itself, how much it moves, weighed with its chance."""
    return outcome.saves, outcome.p * _moves(outcome)


def _moves(outcome: OutcomeReason) -> float:
    """Give by how much an outcome moves the cause that it moves most."""
    return abs(outcome.shifts[0].after - outcome.shifts[0].before) if outcome.shifts else 0.0


def _unsound_first(compiled: CompiledCase, answers: Mapping[str, str]) -> str:
    """The answers of an outcome in words, those that are not sound first."""
    findings = compiled.expansion.findings
    ranked = sorted(answers.items(), key=lambda item: item[1] == findings[item[0]].grades[0])
    return ", ".join(compiled.expansion.name_answer(finding, grade) for finding, grade in ranked[:TOLD_ANSWERS])


def _percent(p: float) -> str:
    return f"{PERCENT * p:.0f} %"
