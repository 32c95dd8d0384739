"""The next steps of one case, best first, with all that the contract promises of them."""

import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from shiftlore.advising.job_cures import is_under_warranty, list_others_work
from shiftlore.advising.pricing import (
    list_follow_ups,
    price_borrowing,
    price_follow_ups,
    price_labour,
    price_waiting,
)
from shiftlore.advising.reasons import (
    BUDGET,
    BUDGET_CHECK,
    CheckReason,
    JobReason,
    explain_check,
    explain_job,
    name_cause,
    name_jobs,
    tell_check,
    tell_closed,
    tell_job,
    tell_stop,
)
from shiftlore.advising.situations import CaseSituation, Chosen, choose_for_case, closing_first
from shiftlore.basics.structs import Value
from shiftlore.compiling import CompiledCase, list_asked_first
from shiftlore.knowledge import Shop
from shiftlore.planning import (
    Decision,
    JobPlan,
    LookAhead,
    Step,
    Stop,
    TreeNode,
    grow_tree,
    join_outcomes,
    list_steps,
)
from shiftlore.ranking.dangers import tell_first

MOST_STEPS = 12
"""Steps listed; the twelfth is chosen by nobody."""

CLOSED = "closed"
"""Reason to stop: the vehicle is cured."""

HARDLY_MORE = 0.03
"""Work that adds no more than this to the chance of a cure is not worth a line of its own: judgement."""

LEAST_CURE = 0.005
"""Causes less probable than this are not named among what a job cures."""


class CostLines(Value, frozen=True):
    """What a step costs: total and its parts; access is the money for opening and closing, `closing_first` part of it.

    `waiting` is what the days and the appointment are worth, for shop and owner; it stands on no bill.
    """

    total: float
    labour_minutes: float
    labour: float
    parts_low: float
    parts_typical: float
    parts_high: float
    access: float
    test: float
    closing_later: float
    closing_first: float = 0.0
    waiting: float = 0.0
    borrowed: float = 0.0


class AskedFirst(Value, frozen=True):
    """What to ask before the steps, for it costs nothing: a background, its question, and its answers with their labels."""

    id: str
    ask: str
    answers: Mapping[str, str]


class Cured(Value, frozen=True):
    """A cause that a job puts right, and how surely."""

    cause: str
    probability: float


class NextStep(Value, frozen=True):
    """One step.

    Args:
        id: of the check (the first of several in one go) or job (several joined by a plus sign).
        kind: ``check`` or ``job``.
        together: ids of what is done in one go (one opening serves all).
        expected_total_after: what is expected to be paid after it.
        expected_saving: total now by jobs alone, minus cost, minus expected total after.
        p_cured: probability that it ends the problem; 0 for checks.
        reveals: findings that it answers.
        reason: the numbers behind `why`.
        beyond_budget: whether what is expected after it is more than the budget pays.
    """

    id: str
    kind: str
    label: str
    together: tuple[str, ...]
    cost: CostLines
    expected_total_after: float
    expected_saving: float
    p_cured: float
    reveals: tuple[str, ...]
    cures: tuple[Cured, ...]
    access_needed: str
    cautions: tuple[str, ...]
    why: str
    reason: CheckReason | JobReason
    beyond_budget: bool = False


class StopAdvice(Value, frozen=True):
    """Whether to stop checking, why, and what to do then; `danger` says why it should stand, or what is set right first."""

    advised: bool
    why: str
    reason: str
    jobs: tuple[str, ...]
    p_cured: float
    danger: str = ""


@dataclass(frozen=True, slots=True)
class NextSteps:
    """What to do next, best first.

    Args:
        expected_total_now: expected cost from here by jobs alone.
        lower_bound, upper_bound: what the best way of going on is expected to cost lies between them.
        plan: the plan of jobs if nothing more is checked.
        compiled: the case that it is for.
        tree: the whole check order, if asked for.
        invented, tax_percent: what of the prices is an example, and the tax in them; as of the shop.
        others_work, warranty: as of `Options`.
        asked_first: what nobody told that the vehicle must have for a step or a job of the plan.
    """

    currency: str
    steps: tuple[NextStep, ...]
    expected_total_now: float
    lower_bound: float
    upper_bound: float
    stop: StopAdvice
    plan: JobPlan
    seconds: float
    compiled: CompiledCase = field(repr=False, compare=False)
    tree: TreeNode | None = None
    invented: tuple[str, ...] = ()
    tax_percent: float = 0.0
    others_work: tuple[str, ...] = ()
    warranty: bool = False
    asked_first: tuple[AskedFirst, ...] = ()


def next_steps(
    compiled: CompiledCase,
    shop: Shop | None = None,
    look: LookAhead | None = None,
    *,
    tree_depth: int = 0,
    p_fold: float = 0.03,
    tell_done: Callable[[float], None] | None = None,
) -> NextSteps:
    """Say what to do next on a compiled case.

    Args:
        shop: another shop than the knowledge's own, for "what if" (dearer labour, no scan tool).
        look: how far to think; two steps by default.
        tree_depth: also grow the whole check order so deep; 0 for none.
        p_fold: answers less probable than this, seen from the top, are folded together in the tree.
        tell_done: called as the tree grows, with how far it is, 0 to 1.
    Raises: UsageProblem: no shop. ImpossibleEvidence: the answers contradict each other.
    """
    begun = time.perf_counter()
    if compiled.closed is not None:
        return _tell_closed(compiled, shop)
    chosen = choose_for_case(compiled, shop, look)
    prepared, choice, beyond = chosen.prepared, chosen.choice, chosen.beyond
    listed = list_steps(choice, beyond, prepared.oracle.belief)
    kept = _drop_beaten(_once_each(prepared, [step for _, step in listed]))[:MOST_STEPS]
    steps = tuple(describe_step(prepared, source, step) for source, step in listed if any(step is one for one in kept))
    tree = None
    if tree_depth > 0:
        tree = grow_tree(
            prepared.situation,
            prepared.oracle,
            tree_depth,
            p_fold,
            look,
            first=choice,
            fail=prepared.fail,
            tell_done=tell_done,
        )
    return NextSteps(
        currency=prepared.shop.currency,
        steps=steps,
        expected_total_now=choice.expected_total_now,
        lower_bound=choice.lower_bound,
        upper_bound=choice.upper_bound,
        stop=_advise_stop(chosen, is_look=bool(listed) and listed[0][0] is beyond, listed=bool(listed)),
        plan=choice.plan,
        seconds=time.perf_counter() - begun,
        compiled=compiled,
        tree=tree,
        invented=prepared.shop.invented,
        tax_percent=prepared.shop.tax_percent,
        others_work=list_others_work(compiled),
        warranty=is_under_warranty(compiled),
        asked_first=_ask_first(compiled, steps, choice.plan),
    )


def _ask_first(compiled: CompiledCase, steps: Sequence[NextStep], plan: JobPlan) -> tuple[AskedFirst, ...]:
    """List what is asked before what is proposed: whether the vehicle has what it is for."""
    ids = {*(key for step in steps for key in step.together), *(job for batch in plan.batches for job in batch)}
    checks, jobs = compiled.expansion.checks, compiled.expansion.jobs
    asked = list_asked_first(compiled, [checks[key] if key in checks else jobs[key] for key in sorted(ids)])
    return tuple(
        AskedFirst(one.id, one.ask, {key: one.grade_labels.get(key, key) for key in one.shares}) for one in asked
    )


def _advise_stop(chosen: Chosen, *, is_look: bool, listed: bool) -> StopAdvice:
    """Say whether to stop, whether the budget is why, and whether the vehicle may be driven where nothing likely helps.

    Args:
        is_look: whether the steps begin with a check that is made beyond what the budget can repair.
        listed: whether the budget pays any step; where it pays none, the first look of the way without one is named.
    """
    compiled, stop, danger = chosen.prepared.compiled, _name_best_work(chosen.choice), chosen.danger
    money = f"{chosen.prepared.shop.currency} {chosen.prepared.situation.budget:,.0f}" if chosen.for_budget else ""
    if is_look and not chosen.for_budget:
        stop = stop.vary(advised=False, reason="check_pays")
    elif chosen.for_budget and stop.advised:
        stop = stop.vary(advised=not is_look, reason=BUDGET_CHECK if is_look else BUDGET)
    why, says = tell_stop(compiled, stop, money), tell_first(compiled, danger)
    look = next((step for step in chosen.free.steps if step.kind != "job"), None)
    if chosen.for_budget and not listed and look is not None:
        label = " + ".join(chosen.prepared.checks[check].label for check in look.ids)
        why += f" With more, look first: {label} ({chosen.prepared.shop.currency} {look.cost.total:,.0f})."
    return StopAdvice(stop.advised, why, stop.reason, stop.jobs, stop.p_cured, danger=says)


def _name_best_work(choice: Decision) -> Stop:
    """Name the work that costs least in the end and cures no more seldom than that with which the plan of jobs begins."""
    works = [step for step in choice.steps if step.kind == "job" and step.p_cured >= choice.stop.p_cured]
    best = min(works, key=lambda step: step.expected_total, default=None)
    if best is None or not choice.stop.jobs or best.expected_total >= choice.expected_total_now:
        return choice.stop
    return choice.stop.vary(jobs=best.ids, p_cured=best.p_cured)


def _tell_closed(compiled: CompiledCase, shop: Shop | None) -> NextSteps:
    """Advise to stop: the vehicle is cured. What it was is what the ranking says."""
    shop, best = shop or compiled.knowledge.shop, int(np.argmax(compiled.causes_now))
    cause = name_cause(compiled, compiled.causes[best])
    was = f"It was most likely: {cause} ({100 * compiled.causes_now[best]:.0f} %)."
    stop = StopAdvice(True, f"{tell_closed(compiled)} {was}", CLOSED, (), 1.0)
    plan = JobPlan(
        (),
        expected_total=0.0,
        lower_bound=0.0,
        upper_bound=0.0,
        p_cured=1.0,
        worst_spend=0.0,
        labour_minutes=0.0,
        method=CLOSED,
    )
    return NextSteps(
        shop.currency if shop else "",
        (),
        expected_total_now=0.0,
        lower_bound=0.0,
        upper_bound=0.0,
        stop=stop,
        plan=plan,
        seconds=0.0,
        compiled=compiled,
    )


def _once_each(prepared: CaseSituation, steps: Sequence[Step]) -> list[Step]:
    """Leave out a bundle whose first check stands further up already, and checks that show no more, and as surely, as one."""
    kept, begun, shown = list[Step](), set[str](), list[tuple[set[str], float]]()
    for step in steps:
        if step.kind != "job":
            shows = {name for check in step.ids for name in prepared.oracle.reveals[check]}
            missed = min(prepared.checks[check].missed for check in step.ids)
            if step.ids[0] in begun or any(shows <= names and least <= missed for names, least in shown):
                continue
            begun.add(step.ids[0])
            shown.append((shows, max(prepared.checks[check].missed for check in step.ids)))
        kept.append(step)
    return kept


def _drop_beaten(steps: Sequence[Step]) -> list[Step]:
    """Leave out work that costs no less than other work further up and hardly cures more often."""
    kept: list[Step] = []
    for step in steps:
        rivals = [other for other in kept if other.kind == step.kind == "job"]
        if not any(it.cost.total <= step.cost.total and it.p_cured >= step.p_cured - HARDLY_MORE for it in rivals):
            kept.append(step)
    return kept


def describe_step(prepared: CaseSituation, choice: Decision, step: Step) -> NextStep:
    """Put names, prices, cautions and reasons to a chosen step."""
    compiled, situation, oracle = prepared.compiled, prepared.situation, prepared.oracle
    is_job = step.kind == "job"
    records = [prepared.jobs[act] if is_job else prepared.checks[act] for act in step.ids]
    reason: CheckReason | JobReason
    if is_job:
        deepest = max(step.ids, key=lambda job: int(situation.job_masks[situation.job_index(job)]).bit_count())
        access, reveals = prepared.jobs[deepest].access, []
        reason = explain_job(choice, oracle.belief, step.ids, oracle.in_vain)
        why = tell_job(compiled, reason)
    else:
        access, reveals = records[-1].access, [name for check in step.ids for name in oracle.reveals[check]]
        outcomes = join_outcomes([oracle.outcomes(check) for check in step.ids])
        reason = explain_check(choice, oracle.belief, step.ids[-1], outcomes)
        why = tell_check(compiled, reason, dict(zip(outcomes.labels, outcomes.answers, strict=True)))
    return NextStep(
        id="+".join(step.ids) if is_job else step.ids[0],
        kind="job" if is_job else "check",
        label=name_jobs(compiled, step.ids) if is_job else " + ".join(record.label for record in records),
        together=step.ids,
        cost=_cost_lines(prepared, step),
        expected_total_after=step.expected_total_after,
        expected_saving=step.expected_saving,
        p_cured=step.p_cured,
        reveals=tuple(dict.fromkeys(reveals)),
        cures=_cured_by(prepared, step.ids) if is_job else (),
        access_needed=access,
        cautions=tuple(dict.fromkeys(caution for record in records for caution in record.cautions)),
        why=why,
        reason=reason,
        beyond_budget=situation.budget != choice.outlook.situation.budget,
    )


def _cured_by(prepared: CaseSituation, jobs: Sequence[str]) -> tuple[Cured, ...]:
    """Causes that are probable now and that the jobs put right, most probable cure first."""
    situation = prepared.situation
    missed = situation.missed_by(tuple(situation.job_index(job) for job in jobs))
    p_causes = situation.hypotheses.told_probabilities(prepared.oracle.belief)
    known = len(prepared.oracle.weighing.kept)
    found = [
        (float(p), Cured(cause, 1.0 - float(left)))
        for cause, p, left in zip(situation.hypotheses.causes[:known], p_causes[:known], missed[:known], strict=True)
        if left < 1.0 and p >= LEAST_CURE
    ]
    return tuple(cured for _, cured in sorted(found, key=lambda entry: -entry[0] * entry[1].probability))


def _cost_lines(prepared: CaseSituation, step: Step) -> CostLines:
    spans, cost, shop = [prepared.parts[act] for act in step.ids], step.cost, prepared.shop
    is_job, knowledge = step.kind == "job", prepared.compiled.knowledge
    if is_job:
        needed = list_follow_ups(knowledge, [prepared.jobs[act] for act in step.ids])
        spans.append(price_follow_ups(knowledge, needed)[0])
    return CostLines(
        total=cost.total,
        labour_minutes=cost.labour_minutes,
        labour=price_labour(shop, cost.labour_minutes),
        parts_low=sum(span.low for span in spans),
        parts_typical=sum(span.typical for span in spans),
        parts_high=sum(span.high for span in spans),
        access=cost.access,
        test=cost.test,
        closing_later=cost.closing_later,
        closing_first=0.0 if is_job else closing_first(prepared.compiled, step.ids[0], shop)[0],
        waiting=0.0 if is_job else sum(price_waiting(shop, prepared.checks[act]) for act in step.ids),
        borrowed=price_borrowing(shop, [prepared.jobs[act] for act in step.ids])
        if is_job
        else sum(price_borrowing(shop, [prepared.checks[act]]) for act in step.ids),
    )
