"""What an owner asks for by name: any job priced with its chance, and the plain service where nobody offers it."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from shiftlore.advising.options_candidates import Candidate, make_candidate
from shiftlore.advising.options_outlook import OwnersView
from shiftlore.advising.pricing import OptionCost
from shiftlore.advising.reasons import name_jobs
from shiftlore.basics import UnknownId, UsageProblem, nearest
from shiftlore.compiling import CompiledCase


@dataclass(frozen=True, slots=True)
class LeftOut:
    """The plain service, which owners ask for: its price and chance where it is not among the options.

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
    named = [name for name, label in hits if words.casefold() in label.casefold()]
    shop, jobs = compiled.knowledge.shop, compiled.knowledge.jobs
    able = [name for name in named if shop is None or shop.has(jobs[name].tools)]
    return next(iter([*able, *named, *(name for name, _ in hits)]), words)


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
    able = [make_candidate(view.pricer, view.cures, (job,)) for job in ids if job in view.cures.means]
    against = view.compiled.telling.intersection(expansion.jobs[ids[0]].unless)
    if against or not able:
        missing = [tool for tool in expansion.jobs[ids[0]].tools if not view.pricer.shop.has([tool])]
        done = ids[0] in view.compiled.jobs_done
        why = (
            "it was done on this vehicle already" if done else "it repairs nothing, and a fault is nearly certain here"
        )
        signs = ", ".join(expansion.finding_records[sign].label for sign in sorted(against))
        why = f"it is not done with this: {signs}" if against else why
        why = f"this shop lacks {', '.join(missing)}" if missing else why
        raise UsageProblem(f"{expansion.name_job(ids[0])} cannot be offered: {why}.")
    return max(able, key=lambda one: one.p_cured)


def list_services(compiled: CompiledCase, jobs: Iterable[str]) -> list[str]:
    """List the services with parts among jobs, the plainest first: one that contains no other and cures most causes."""
    expansion, within = compiled.expansion, compiled.knowledge.jobs_within
    found = [job for job in jobs if expansion.jobs[job].kind == "service" and expansion.jobs[job].parts]
    ids = {expansion.job_templates[job] for job in found}
    return sorted(found, key=lambda job: (len(within(expansion.job_templates[job]) & ids), -len(expansion.cures[job])))


def find_left_out(view: OwnersView, offered: Iterable[Candidate]) -> LeftOut | None:
    """Find the plain service, whatever its chance, where it is not among what is offered."""
    offered = list(offered)
    services = list_services(view.compiled, view.cures.means)
    if not services or any(set(one.jobs) & set(services) for one in offered):
        return None
    plain = services[0]
    one = make_candidate(view.pricer, view.cures, (plain,))
    beaten = any(it.cost.typical <= one.cost.typical and it.p_cured >= one.p_cured for it in offered)
    return LeftOut(one.jobs, name_jobs(view.compiled, one.jobs), one.cost, one.p_cured, beaten)
