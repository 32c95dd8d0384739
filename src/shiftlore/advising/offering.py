"""What to offer the owner: a few options that differ in kind, with price, chance, and what comes after.

The belief, the plan and its prices are the planner's; the chance of a cure is computed over everything that may be
wrong (`options_cures`). What a budget buys is planned within it, as the next steps are, and only that is advised; what
is dearer is listed and marked all the same: whoever decides should see what a little more would buy.
"""

import time
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from shiftlore.advising.job_cures import is_under_warranty, list_others_work, tell_tried
from shiftlore.advising.options_asked import LeftOut, find_asked, find_left_out, find_stopgap, list_services
from shiftlore.advising.options_budget import CHECK_LABEL, BudgetAdvice, advise_budget, weighs_worth
from shiftlore.advising.options_candidates import (
    Candidate,
    choose_few,
    differs,
    keep_frontier,
    list_candidates,
)
from shiftlore.advising.options_outlook import CheckFirst, LikelyArea, OwnersView, look_ahead
from shiftlore.advising.options_records import NOTHING, IfNotCured, NeededFollowUp, Option
from shiftlore.advising.options_risks import Risk, list_risks, p_harmless, tell_risks
from shiftlore.advising.options_sureness import Sureness, judge_sureness, share_same_advice
from shiftlore.advising.pricing import OptionCost, count_days, list_follow_ups, price_waiting
from shiftlore.advising.reasons import LITTLE, name_jobs, tell_closed
from shiftlore.advising.situations import WHOLE_UNIT
from shiftlore.basics import UsageProblem
from shiftlore.compiling import CompiledCase
from shiftlore.knowledge import Shop
from shiftlore.planning import LookAhead, leaves_for_budget
from shiftlore.ranking.dangers import Danger, DoNow, list_do_now, tell_danger

MOST_JOB_OPTIONS = 4
"""With doing nothing and one more check that makes six: as many as people compare with care (common practice)."""

CHECK_FIRST = "check_first"

LEAST_OFFERED, LEAST_SERVICE = 0.1, 0.05
"""A repair that helps in fewer than one of ten vehicles is not offered while there is a better one, nor the plain service
that helps in fewer than one of twenty, which owners ask for and are told of below: judgement."""
AREAS_SHOWN = 6


@dataclass(frozen=True, slots=True)
class Complaint:
    """What the owner came with."""

    id: str
    label: str


@dataclass(frozen=True, slots=True)
class Options:
    """All that an owner is told: options, cheapest first, and what stands behind them.

    Args:
        advised: id of the option with the lowest expected total of those within the budget.
        areas: where the trouble lies, most probable first: that at least one cause there is at work.
        zones: the same shared out, so that with `nothing_found` all zones make 1: two faults count half each.
        left_out: the plain service where it is not among the options; None where it is, there is none, or it is not paid.
        stopgap: what only keeps it going for a while; weigh_worth: whether the dear options are to be weighed against what
            the vehicle is worth, which nobody told.
        uncured_cost: what a vehicle that nobody cures counts for in every expected total; nobody pays it.
        nothing_found: probability that nothing known is wrong.
        driving_on: what happens if nothing is done, danger to people first.
        budget: what the budget buys; None where none is set.
        for_budget: whether only the budget makes leaving the vehicle better than any repair.
        others_work: labels of the work of others after which it began.
        warranty: whether the maker's may still hold.
        danger: why it should not be driven, where no repair is advised that is likely to help.
        do_now: what owner and shop do at once, for what is told.
        invented, tax_percent: what of the prices is an example, and the tax in them; as of the shop.
    """

    currency: str
    unit: str
    odometer_km: float | None
    complaint: tuple[Complaint, ...]
    options: tuple[Option, ...]
    advised: str
    areas: tuple[LikelyArea, ...]
    nothing_found: float
    driving_on: tuple[Risk, ...]
    budget: BudgetAdvice | None
    sureness: Sureness
    seconds: float
    invented: tuple[str, ...] = ()
    tax_percent: float = 0.0
    zones: tuple[LikelyArea, ...] = ()
    left_out: LeftOut | None = None
    stopgap: LeftOut | None = None
    weigh_worth: bool = False
    uncured_cost: float = 0.0
    for_budget: bool = False
    danger: Danger | None = None
    do_now: tuple[DoNow, ...] = ()
    others_work: tuple[str, ...] = ()
    warranty: bool = False


def offer_options(
    compiled: CompiledCase,
    shop: Shop | None = None,
    budget: float | None = None,
    look: LookAhead | None = None,
    asked: Sequence[str] = (),
) -> Options:
    """Say what to offer the owner of a case.

    Args:
        shop: another shop than the knowledge's own.
        budget: what the owner will spend; None takes the case's own.
        look: how far the planner thinks; as `next_steps` by default.
        asked: jobs that are priced whatever their chance, by id; a template stands for its likeliest instance.
    Raises: UsageProblem: no shop, the case is closed, or a job cannot be done here. UnknownId: there is no such job.
        ImpossibleEvidence: the answers contradict each other.
    """
    if compiled.closed is not None:
        raise UsageProblem(
            f"{tell_closed(compiled)} There is nothing to offer; if it came back, write result: came_back."
        )
    begun, findings = time.perf_counter(), compiled.expansion.findings
    budget = compiled.case.budget if budget is None else budget
    view = look_ahead(compiled.vary(case=replace(compiled.case, budget=budget)), shop, look)
    wanted = [find_asked(view, name) for name in asked]
    chosen, shop = _choose(view, budget), view.pricer.shop
    chosen += [one for one in dict.fromkeys(wanted) if one not in chosen]
    risks = list_risks(compiled, view.cures.p_states)
    told = tell_risks(risks)
    check = view.check_first()
    ways = [_check_first(view, check, budget, told)]
    by_price = sorted(chosen, key=lambda one: one.cost.typical)
    ways += [replace(_offer(view, one, budget, told), asked=one in wanted) for one in by_price]
    is_next = bool(view.steps) and view.steps[0][1].kind != "job"  # what the next steps begin with is advised
    real = (ways if is_next else ways[1:]) or ways
    cheapest = min(real, key=lambda one: (not one.is_paid, one.expected_total))
    looks_first = is_next and ways[0].within_budget
    best = ways[0] if looks_first else cheapest
    options = [_do_nothing(view, budget, told, best.expected_total), *ways]
    is_better = looks_first or (
        best.is_paid and best is not ways[0] and best.expected_total <= options[0].expected_total
    )
    danger = _find_danger(view, best if is_better else options[0])
    options[0] = options[0] if danger is None else _keep_parked(options[0])
    advised = best if is_better else options[0]
    marked = _mark(options, advised)
    weighs = weighs_worth(view, marked, advised)
    stable = cheapest if advised is best and best.is_paid else advised
    judged = {one.id: one for one in marked if (one.is_paid or one.advised) and (one.checks or one.kind != "check")}
    same_advice = share_same_advice(view, judged, stable.id if stable.id in judged else NOTHING, check)
    return Options(
        currency=shop.currency,
        unit=compiled.case.unit,
        odometer_km=compiled.case.odometer_km,
        complaint=tuple(Complaint(key, findings[key].label) for key in compiled.case.complaint if key in findings),
        options=marked,
        advised=advised.id,
        areas=view.likely_areas(view.cures.p_states)[:AREAS_SHOWN],
        nothing_found=float(view.cures.p_states[0]),
        driving_on=risks,
        budget=None if budget is None else advise_budget(view, budget, marked),
        sureness=judge_sureness(view, same_advice),
        seconds=time.perf_counter() - begun,
        invented=shop.invented,
        tax_percent=shop.tax_percent,
        zones=view.share_areas(view.cures.p_states),
        left_out=_keep_paid(find_left_out(view, chosen), budget),
        stopgap=_keep_paid(find_stopgap(view, chosen), budget) if weighs and danger is None else None,
        weigh_worth=weighs,
        uncured_cost=view.situation.uncured_cost,
        for_budget=leaves_for_budget(view.choice, view.beyond),
        danger=danger,
        do_now=list_do_now(compiled),
        others_work=list_others_work(compiled),
        warranty=is_under_warranty(compiled),
    )


def _mark(options: Sequence[Option], advised: Option) -> tuple[Option, ...]:
    """Mark what is advised, and what no other option beats in everything."""
    return tuple(
        replace(one, advised=one is advised, on_frontier=one is advised or _is_undominated(one, options))
        for one in options
    )


def _choose(view: OwnersView, budget: float | None) -> list[Candidate]:
    """Choose the jobs to offer: the cheapest in the end, the best within the budget, a plain service, the surest."""
    unbeaten = keep_frontier(list_candidates(view.pricer, view.cures, view.planned_jobs()))
    asked = list_services(view.compiled, view.cures.offered)[:1]
    # A smaller chance is not worth the owner's time; the plain service is asked for anyway.
    least = {one: LEAST_SERVICE if list(one.jobs) == asked else LEAST_OFFERED for one in unbeaten}
    frontier = [one for one in unbeaten if one.p_cured >= least[one]] or unbeaten
    first = [min(frontier, key=lambda one: (not _fits(one.cost, budget), view.expected_total(one)))] if frontier else []
    services = {one.jobs[0]: one for one in frontier if one.kind == "service"}
    plain = next((services[job] for job in list_services(view.compiled, services)), None)
    within = [one for one in frontier if budget is not None and one.cost.typical <= budget]
    best_within = max(within, key=lambda one: one.p_cured, default=None)
    for one in (best_within, plain, frontier[-1] if frontier else None):
        if one is not None and all(differs(one, other) for other in first):
            first.append(one)
    return choose_few(frontier, first, view.expected_total, MOST_JOB_OPTIONS)


def _offer(view: OwnersView, candidate: Candidate, budget: float | None, told: str) -> Option:
    """Put names, prices, chances and what comes after to a set of jobs."""
    records = [view.compiled.expansion.jobs[job] for job in candidate.jobs]
    low, high = view.cures.spread(candidate.jobs)
    paid, cured = view.go_on(candidate)
    needed = list_follow_ups(view.compiled.knowledge, records)
    return Option(
        id="+".join(candidate.jobs),
        kind=candidate.kind,
        label=name_jobs(view.compiled, candidate.jobs),
        says=_join(record.says for record in records),
        jobs=candidate.jobs,
        job_kinds=tuple(record.kind for record in records),
        cost=candidate.cost,
        first_cost=candidate.cost,
        p_cured=candidate.p_cured,
        p_cured_low=low,
        p_cured_high=high,
        expected_total=view.expected_total(candidate),
        paid_in_the_end=paid,
        cured_in_the_end=cured,
        within_budget=_fits(candidate.cost, budget),
        days=count_days(records, candidate.cost.labour_minutes),
        follow_ups=tuple(NeededFollowUp(it.id, it.label, it.says, it.who) for it in needed),
        not_covered=_join([*(record.not_covered for record in records), view.tell_left(candidate)]),
        if_not_cured=_if_not_cured(view, candidate),
        if_nothing_done=told,
        cautions=_unique(caution for record in records for caution in record.cautions),
        tried=tell_tried(view.compiled, candidate.jobs),
    )


def _do_nothing(view: OwnersView, budget: float | None, told: str, best_total: float) -> Option:
    """The option of doing nothing for now: whatever is open is closed again.

    Where the fault gets worse, strands or endangers, it ends as a vehicle that leaves uncured. A mere nuisance is put
    right later at the same cost. Where nothing is wrong, nothing has to be paid.
    """
    cost = view.pricer.price_jobs(())
    p_nuisance, p_nothing = p_harmless(view.compiled, view.cures.p_states)
    p_bad = max(0.0, 1.0 - p_nuisance - p_nothing)
    total = cost.typical + view.situation.uncured_cost * p_bad + best_total * p_nuisance
    return Option(
        id=NOTHING,
        kind="nothing",
        label="Nothing for now",
        says="The vehicle stays as it is.",
        cost=cost,
        first_cost=cost,
        expected_total=total,
        within_budget=_fits(cost, budget),
        not_covered="The complaint stays.",
        if_nothing_done=told,
    )


def _find_danger(view: OwnersView, advised: Option) -> Danger | None:
    """Find out whether it should stand, where nothing is advised that is likely to help or a sign itself says so."""
    helps = advised.is_paid and (view.situation.budget is None or advised.p_cured >= LITTLE)
    return tell_danger(view.compiled, helps=helps and advised.kind != NOTHING)


def _keep_parked(nothing: Option) -> Option:
    """Give the option of doing nothing as what it is where driving on is dangerous."""
    return replace(nothing, label="Do not drive it, and nothing for now", says="The vehicle is not driven.")


def _check_first(view: OwnersView, check: CheckFirst, budget: float | None, told: str) -> Option:
    """The option of one more check first, with the job that its answer leads to."""
    records = [view.compiled.expansion.checks[name] for name in check.checks]
    label = " + ".join(record.label for record in records)
    jobs = [view.compiled.expansion.jobs[job] for job in check.likeliest_jobs]
    paid, cured = view.go_on_after(check)
    return Option(
        id=CHECK_FIRST,
        kind="check",
        label=f"{CHECK_LABEL}{label}" if label else "No check is left to make",
        says=_join(record.how for record in records),
        jobs=check.likeliest_jobs,
        job_kinds=tuple(job.kind for job in jobs),
        checks=check.checks,
        check_ways=view.ways_of(check.checks),
        cost=check.cost,
        first_cost=check.first_cost,
        p_cured=check.p_cured,
        p_cured_low=check.p_cured_low,
        p_cured_high=check.p_cured_high,
        expected_total=check.expected_total,
        paid_in_the_end=paid,
        cured_in_the_end=cured,
        within_budget=_fits(check.first_cost, budget),
        repair_within_budget=not check.beyond_budget,
        days=count_days(jobs, view.pricer.price_jobs(check.likeliest_jobs).labour_minutes) if jobs else 0.0,
        not_covered="A check repairs nothing: it says which repair fits." if label else "",
        waiting=sum(price_waiting(view.pricer.shop, record) for record in records),
        if_nothing_done=told,
        cautions=_unique(caution for record in records for caution in record.cautions),
    )


def _if_not_cured(view: OwnersView, candidate: Candidate) -> IfNotCured | None:
    """Say what comes after a failure, what it costs then, and what would be saved by ordering both at once."""
    after = view.after_failure(candidate)
    if after is None:
        return None
    following, left, p_cured = after
    cost = view.pricer.price_jobs(following, frozenset())
    both, saved = (*candidate.jobs, *following), 0.0
    in_one_go = view.situation.is_batch(tuple(map(view.situation.job_index, both)))
    if following and candidate.kind not in WHOLE_UNIT and in_one_go:
        saved = max(0.0, candidate.cost.typical + cost.typical - view.pricer.price_jobs(both).typical)
    jobs = view.compiled.expansion.jobs
    first = {name for job in candidate.jobs for name in jobs[job].follow_ups}
    known = view.compiled.knowledge.follow_ups
    again = _unique(
        name
        for job in following
        for name in jobs[job].follow_ups
        if name in first and name in known and known[name].lasting
    )
    label = name_jobs(view.compiled, following)
    return IfNotCured(following, label, cost, saved_together=saved, already_paid=again, left=left, p_cured=p_cured)


def _fits(cost: OptionCost, budget: float | None) -> bool:
    return budget is None or cost.typical <= budget


def _keep_paid(left: LeftOut | None, budget: float | None) -> LeftOut | None:
    """Leave out what the budget does not pay: who spends nothing is not told of "only a service"."""
    return left if left is not None and _fits(left.cost, budget) else None


def _is_undominated(option: Option, options: Sequence[Option]) -> bool:
    """No other option costs as little and cures as surely, and one of the two by more.

    What a check leads to costs so much on average only, so it beats no price that stands.
    """
    return not any(
        other.kind != "check"
        and other.cost.typical <= option.cost.typical
        and other.p_cured >= option.p_cured
        and (other.cost.typical < option.cost.typical or other.p_cured > option.p_cured)
        for other in options
    )


def _join(texts: Iterable[str]) -> str:
    return " ".join(_unique(text.strip() for text in texts if text.strip()))


def _unique(items: Iterable[str]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(items))
