"""What an owner asks for by name: any job priced with its chance, and the plain service where nobody offers it."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from shiftlore.advising.job_cures import list_against, list_complained
from shiftlore.advising.options_candidates import Candidate, make_candidate
from shiftlore.advising.options_outlook import OwnersView
from shiftlore.advising.pricing import OptionCost
from shiftlore.advising.reasons import LITTLE, name_jobs
from shiftlore.basics import UnknownId, UsageProblem, nearest
from shiftlore.compiling import CompiledCase

TOUCHED = 0.5
"""Chance that the fault lies where a stopgap is for, from which on it is named: judgement."""


@dataclass(frozen=True, slots=True)
class LeftOut:
    """A service that owners ask for, or may live with: its price and chance where it is not among the options.

    Args:
        beaten: whether an option costs no more and cures more surely.
    """

    jobs: tuple[str, ...]
    label: str
    cost: OptionCost
    p_cured: float
    beaten: bool


def pick_asked(compiled: CompiledCase, words: str, hits: Sequence[tuple[str, str]]) -> str:
    """Pick the job that words mean: the best found, of several called so the first that this shop has the tools for.

    Args:
        hits: ids and labels of jobs of this unit, best first.
    Returns: its id; the words themselves, to be taken for an id, where nothing was found.
    """
    shop, jobs = compiled.knowledge.shop, compiled.knowledge.jobs
    called = {name: (label, *(jobs[name].words if name in jobs else ())) for name, label in hits}
    named = [name for name, texts in called.items() if any(words.casefold() in text.casefold() for text in texts)]
    able = [name for name in named if shop is None or shop.has(jobs[name].tools)]
    return next(iter([*able, *named, *called]), words)


def name_asked(
    compiled: CompiledCase, words: str, hits: Sequence[tuple[str, str]], nearest_labels: Sequence[str], not_done: str
) -> str:
    """Name the job that words ask for, as `pick_asked`.

    Args:
        nearest_labels: what comes nearest; not_done: why nobody does it, or "".
    Raises: UnknownId: the words name no job, or one that nobody does.
    """
    if hits and not not_done:
        return pick_asked(compiled, words, hits)
    near = f" Nearest: {'; '.join(nearest_labels)}." if nearest_labels else ""
    raise UnknownId(f'"{words}" is not offered. {not_done or f"No job here is called so.{near}"}')


def find_asked(view: OwnersView, name: str) -> Candidate:
    """Price a job that somebody asked for by name; a template stands for its likeliest instance.

    Raises: UnknownId: the unit has no such job. UsageProblem: this shop cannot do it, or it was done already.
    """
    expansion = view.compiled.expansion
    ids = [job for job, template in expansion.job_templates.items() if name in (job, template)]
    if not ids:
        near = ", ".join(nearest(name, {*expansion.jobs, *expansion.job_templates.values()}))
        advice = f" Nearest: {near}." if near else " `shiftlore find --kind job WORDS` finds jobs."
        raise UnknownId(f'This unit has no job "{name}".{advice}')
    able = [make_candidate(view.pricer, view.cures, (job,)) for job in ids if job in view.cures.offered]
    against = list_against(view.compiled, ids[0])
    if against or not able:
        missing = [tool for tool in expansion.jobs[ids[0]].tools if not view.pricer.shop.has([tool])]
        done = ids[0] in view.compiled.jobs_done
        why = (
            "it was done on this vehicle already" if done else "it repairs nothing, and a fault is nearly certain here"
        )
        if list_complained(view.compiled).isdisjoint(expansion.cures[ids[0]]):
            why = "nothing that was told comes from what it puts right"
        why = f"it is not done with this: {', '.join(against)}" if against else why
        why = f"this shop lacks {', '.join(missing)}" if missing else why
        raise UsageProblem(f"{expansion.name_job(ids[0])} cannot be offered: {why}.")
    return max(able, key=lambda one: one.p_cured)


def list_services(compiled: CompiledCase, jobs: Iterable[str]) -> list[str]:
    """List the services with parts among jobs, the plainest first: one that contains no other and cures most causes."""
    expansion, within = compiled.expansion, compiled.knowledge.jobs_within
    records = {job: expansion.jobs[job] for job in jobs}
    found = [job for job, one in records.items() if one.kind == "service" and one.parts and not one.made_for]
    ids = {expansion.job_templates[job] for job in found}
    return sorted(found, key=lambda job: (len(within(expansion.job_templates[job]) & ids), -len(expansion.cures[job])))


def find_left_out(view: OwnersView, offered: Sequence[Candidate]) -> LeftOut | None:
    """Find the plain service, whatever its chance, where it is not among what is offered."""
    services = list_services(view.compiled, view.cures.offered)
    if not services or any(set(one.jobs) & set(services) for one in offered):
        return None
    return _leave_out(view, make_candidate(view.pricer, view.cures, (services[0],)), offered)


def find_stopgap(view: OwnersView, offered: Sequence[Candidate]) -> LeftOut | None:
    """Find the service that only keeps the vehicle going: no parts, and of a cause in the likely area it cures little.

    Returns: the cheapest, where it costs less than all that is offered; None elsewhere.
    """
    compiled, least = view.compiled, min((it.cost.typical for it in offered), default=0.0)
    jobs, areas, found = compiled.expansion.jobs, view.weigh_areas(view.cures.p_states), []
    for job in view.cures.offered:
        cured = view.cures.means[job]
        seldom = [cause for cause, p in zip(compiled.causes, cured, strict=True) if 0.0 < p < LITTLE]
        p_area = max((areas[compiled.expansion.causes[cause].area] for cause in seldom), default=0.0)
        is_plain = jobs[job].kind == "service" and not jobs[job].parts and not list_against(compiled, job)
        if is_plain and p_area >= TOUCHED:
            found.append(make_candidate(view.pricer, view.cures, (job,)))
    kept = [one for one in found if one.p_cured < LITTLE and one.cost.typical < least]
    best = min(kept, key=lambda one: one.cost.typical, default=None)
    return None if best is None else _leave_out(view, best, offered)


def _leave_out(view: OwnersView, one: Candidate, offered: Sequence[Candidate]) -> LeftOut:
    beaten = any(it.cost.typical <= one.cost.typical and it.p_cured >= one.p_cured for it in offered)
    return LeftOut(one.jobs, name_jobs(view.compiled, one.jobs), one.cost, one.p_cured, beaten)
