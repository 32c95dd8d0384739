"""Which jobs to do, in which batches, when nothing more is checked."""

from collections.abc import Sequence

import numpy as np
from msgspec.structs import asdict

from shiftlore.basics.structs import Value
from shiftlore.planning.batches import (
    MAX_STEPS,
    Batches,
    count_steps,
    cut_orders,
    evaluate_beginnings,
    evaluate_plan,
    plan_by_counts,
    plan_exactly,
)
from shiftlore.planning.costs import Situation
from shiftlore.planning.ordering import bound_inside, bound_known_fault, order_by_access, order_with_updates

EXACT_JOBS = 12
"""Open jobs up to which the exact programme runs: 3**12 = 531,441 steps."""

POLISHED_JOBS = 8
"""Jobs of the best short cut that are batched exactly where there are more than the programme can take: the ninth is
reached so rarely that its batch is no matter (measured)."""

MOST_JOBS = 40
"""Jobs that a plan is made of at most; the fortieth helps in a vehicle out of thousands."""

LAST_RESORTS = 2
"""Dear jobs that any plan may end with: those that save most where nothing else would be done."""

HARDLY_ADDS = 0.02
"""What adds less than this to the chance of a cure, beside what is done with it and before it, is not done: judgement."""

WORTH_A_LOOK = 1e-6
"""A job that touches what is wrong with less than this probability is left out of a plan."""


class JobPlan(Value, frozen=True, eq=False):
    """The jobs to do, in batches, and what they are expected to cost.

    Args:
        batches: ids of jobs; empty means to leave it.
        expected_total, p_cured, worst_spend, labour_minutes: as in `PlanValue`.
        lower_bound, upper_bound: the best plan of jobs costs no less and no more than these.
        method: ``exact``, ``counts`` or ``cut``.
    """

    batches: tuple[tuple[str, ...], ...]
    expected_total: float
    lower_bound: float
    upper_bound: float
    p_cured: float
    worst_spend: float
    labour_minutes: float
    method: str


def plan_jobs(situation: Situation, belief: np.ndarray, exact_jobs: int = EXACT_JOBS) -> JobPlan:
    """Plan the jobs: exactly up to twelve open ones, nearly so above, always with bounds.

    Args:
        belief: weights, shape (n_hypotheses,), sum 1.
        exact_jobs: how many open jobs the exact programme may take.
    """
    jobs = useful_jobs(situation, belief)
    if len(jobs) <= exact_jobs:
        found = [(plan_exactly(situation, belief, jobs)[1], "exact")]
    else:
        found = _plan_many(situation, belief, jobs, exact_jobs)
    _, batches, method = min((_keep_budget(situation, belief, *plan) for plan in found), key=lambda entry: entry[0])
    return describe_plan(situation, belief, batches, method)


def plan_otherwise(situation: Situation, belief: np.ndarray, plan: JobPlan) -> JobPlan:
    """Plan the jobs for where the work with which a plan begins has nothing to put right: so a check may show."""
    first = tuple(map(situation.job_index, next(iter(plan.batches), ())))
    left = belief * situation.hypotheses.uncured(situation.missed_by(first))
    return plan_jobs(situation, left / left.sum()) if first and left.sum() > 0.0 else plan


def describe_plan(situation: Situation, belief: np.ndarray, batches: Batches, method: str) -> JobPlan:
    """Give a plan with what it is expected to cost, and its bounds."""
    value = evaluate_plan(situation, belief, batches)
    total, is_exact = value.expected_total, method == "exact" and situation.budget is None
    bounds = (bound_known_fault(situation, belief), bound_inside(situation, belief) or 0.0)
    lower = total if is_exact else min(total, max(bounds))
    names = tuple(tuple(situation.jobs[job].id for job in batch) for batch in batches)
    return JobPlan(batches=names, lower_bound=lower, upper_bound=total, method=method, **asdict(value))


def tidy_plan(situation: Situation, belief: np.ndarray, plan: JobPlan) -> JobPlan:
    """Give a plan as a shop would do it, priced anew: what hardly adds to the chance is left out, an exchange comes last.

    What only shows that nothing is broken does not follow a repair.
    """
    found = [tuple(map(situation.job_index, batch)) for batch in plan.batches]
    later = sorted(found[1:], key=lambda batch: any(situation.jobs[job].last for job in batch))
    done, kept = tuple[int, ...](), list[tuple[int, ...]]()
    for batch in [*found[:1], *later]:
        fit = tuple(
            job for job in batch if not (kept and situation.jobs[job].least) and not _is_again(situation, job, done)
        )
        lean = lean_batch(situation, belief, fit, done)
        kept += [lean] if lean else []
        done += lean
    return plan if kept in ([], found) else describe_plan(situation, belief, tuple(kept), "cut")


def _is_again(situation: Situation, job: int, done: tuple[int, ...]) -> bool:
    """Tell whether a job on the whole follows another that is as sure of everything."""
    whole = [other for other in done if situation.jobs[other].last and situation.jobs[job].last]
    return any((situation.cures[job] <= situation.cures[other] + HARDLY_ADDS).all() for other in whole)


def lean_batch(
    situation: Situation, belief: np.ndarray, batch: tuple[int, ...], done: tuple[int, ...] = ()
) -> tuple[int, ...]:
    """Leave out of a batch what hardly adds to the chance of a cure; of jobs against one cause the surest alone counts.

    Of jobs on the whole only the likeliest to help stays.

    Args:
        done: what was done before in vain.
    """
    whole_unit = [job for job in batch if situation.jobs[job].last]
    if len(whole_unit) > 1:
        surest = max(whole_unit, key=lambda job: float(situation.touches[job] @ belief))
        batch = tuple(job for job in batch if job == surest or job not in whole_unit)
    before, *after = situation.missed_by_each([done, *((*done, job) for job in batch)])
    left, missed = float(situation.hypotheses.uncured(before) @ belief), dict(zip(batch, after, strict=True))
    while batch:
        others = [tuple(job for job in batch if job != one) for one in batch]
        kept = np.array([np.min([before, *(missed[job] for job in jobs)], axis=0) for jobs in (batch, *others)])
        whole, *without = situation.hypotheses.uncured(kept) @ belief
        least = int(np.argmin(without))
        if without[least] - whole >= HARDLY_ADDS * left:
            break
        batch = others[least]
    return batch


def plan_quickly(situation: Situation, weights: np.ndarray, jobs: Sequence[int] | None = None) -> list[Batches]:
    """Make the quick plan for many beliefs at once: bottom-up order, cut into batches.

    Args:
        weights: shape (k, n_hypotheses); rows need not sum to 1.
        jobs: positions of those to plan with; all by default.
    Returns: one plan per row.
    """
    places = np.arange(len(situation.jobs)) if jobs is None else np.array(jobs, dtype=np.intp)
    if not len(places) or not len(weights):
        return [()] * len(weights)
    p = weights @ situation.touches[places].T
    efficient = np.argsort(-p / situation.lone_costs[places], axis=1, kind="stable")
    chosen = np.sort(efficient[:, :EXACT_JOBS], axis=1)
    orders = _order_bottom_up(situation, np.take_along_axis(p, chosen, axis=1), places[chosen])
    return cut_orders(situation, weights, orders)[1]


def list_endings(situation: Situation, belief: np.ndarray) -> list[Batches]:
    """Ways to end a plan: leave it, or do a dear job that saves most, and after it what could still help."""
    key = belief.tobytes()
    if key not in situation.endings:
        gain = situation.touches @ belief * situation.uncured_cost - situation.lone_costs
        resorts = np.argsort(-gain, kind="stable")[:LAST_RESORTS].tolist()
        left = [situation.hypotheses.persist(belief, 1.0 - situation.cures[job]) for job in resorts]
        after = plan_quickly(situation.vary(opened=0), np.array(left))
        ways = (end_plan(((job,),), tail) for job, tail in zip(resorts, after, strict=True))
        situation.endings[key] = [(), *ways]
    return situation.endings[key]


def end_plan(plan: Batches, ending: Batches) -> Batches:
    """A plan with an ending, nothing done twice."""
    done = {job for batch in plan for job in batch}
    left = (batch if done.isdisjoint(batch) else tuple(job for job in batch if job not in done) for batch in ending)
    return plan + tuple(batch for batch in left if batch)


def useful_jobs(situation: Situation, belief: np.ndarray) -> list[int]:
    """Positions of the jobs that may help, most probable per cost first."""
    p = situation.touches @ belief
    ranked = np.argsort(-p / situation.lone_costs, kind="stable")
    return [int(job) for job in ranked if p[job] > WORTH_A_LOOK][:MOST_JOBS]


def _order_bottom_up(situation: Situation, p: np.ndarray, jobs: np.ndarray) -> np.ndarray:
    """Positions of jobs in bottom-up order of probability over cost, shape of `jobs`."""
    order = order_by_access(
        p, situation.full_costs[jobs], situation.job_levels[jobs], situation.access, situation.opened
    )
    return np.take_along_axis(jobs, order, axis=-1)


def _plan_many(situation: Situation, belief: np.ndarray, jobs: list[int], exact_jobs: int) -> list[tuple[Batches, str]]:
    """Plans for more jobs than the exact programme can take, by every short cut there is."""
    places = np.array(jobs, dtype=np.intp)
    touches = situation.touches[places]
    p = touches @ belief
    orders = [_order_bottom_up(situation, p, places)]
    if not situation.hypotheses.is_single:  # odds over cost
        orders.append(_order_bottom_up(situation, p / np.maximum(1.0 - p, WORTH_A_LOOK), places))
    updated = order_with_updates(belief, touches, situation.lone_costs[places])
    orders.append(places[list(updated)])
    totals, cuts = cut_orders(situation, np.tile(belief, (len(orders), 1)), np.array(orders))
    total, counted = plan_by_counts(situation, belief, _group_by_level(situation, belief, jobs))
    found = [(total, counted, "counts"), *((float(each), cut, "cut") for each, cut in zip(totals, cuts, strict=True))]
    head = min(found, key=lambda entry: entry[0])[1]
    done = [job for batch in head for job in batch][: min(POLISHED_JOBS, exact_jobs)]
    plans = [*((plan, method) for _, plan, method in found), (plan_exactly(situation, belief, done)[1], "cut")]
    endings = list_endings(situation, belief)[1:]
    plans += [(end_plan(plan, ending), "cut") for plan, _ in plans for ending in endings]
    return [*dict(reversed(plans)).items()][::-1]  # each once, by its first name


def _group_by_level(situation: Situation, belief: np.ndarray, jobs: list[int]) -> list[list[int]]:
    """Jobs per level in order of probability over cost, as many as the programme by counts can take."""
    p = situation.touches @ belief
    own = np.maximum(situation.full_costs, np.finfo(float).tiny)
    groups: dict[int, list[int]] = {}
    for job in jobs:
        mask = int(situation.job_masks[job])
        trial = [len(group) + (level == mask) for level, group in groups.items()]
        trial += [] if mask in groups else [1]
        if count_steps(trial) <= MAX_STEPS:
            groups.setdefault(mask, []).append(job)
    return [sorted(group, key=lambda job: -p[job] / own[job]) for group in groups.values()]


def _keep_budget(situation: Situation, belief: np.ndarray, batches: Batches, method: str) -> tuple[float, Batches, str]:
    """Price a plan; it is cut off where its worst case would pass the owner's budget."""
    values, budget = evaluate_beginnings(situation, belief, batches), situation.budget
    if budget is None or values[-1].worst_spend <= budget:
        return values[-1].expected_total, batches, method
    allowed = [length for length, value in enumerate(values) if value.worst_spend <= budget or not length]
    best = min(allowed, key=lambda length: values[length].expected_total)
    return values[best].expected_total, batches[:best], "cut"
