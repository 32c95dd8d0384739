"""What an owner asks for by name: any job priced with its chance, and the plain service where nobody offers it."""

from collections.abc import Iterable
from dataclasses import dataclass

from shiftlore.advising.options_candidates import Candidate, make_candidate
from shiftlore.advising.options_outlook import OwnersView
from shiftlore.advising.pricing import OptionCost
from shiftlore.advising.reasons import name_jobs
from shiftlore.basics import UnknownId, UsageProblem, nearest


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
    if not able:
        missing = [tool for tool in expansion.jobs[ids[0]].tools if not view.pricer.shop.has([tool])]
        done = ids[0] in view.compiled.jobs_done
        why = (
            "it was done on this vehicle already" if done else "it repairs nothing, and a fault is nearly certain here"
        )
        why = f"this shop lacks {', '.join(missing)}" if missing else why
        raise UsageProblem(f"{expansion.name_job(ids[0])} cannot be offered: {why}.")
    return max(able, key=lambda one: one.p_cured)


def find_left_out(view: OwnersView, offered: Iterable[Candidate]) -> LeftOut | None:
    """Find the plain service, whatever its chance, where it is not among what is offered."""
    offered, expansion = list(offered), view.compiled.expansion
    services = [job for job in view.cures.means if expansion.jobs[job].kind == "service" and expansion.jobs[job].parts]
    if not services or any(set(one.jobs) & set(services) for one in offered):
        return None
    plain = max(services, key=lambda job: len(expansion.cures[job]))  # puts right most kinds of cause
    one = make_candidate(view.pricer, view.cures, (plain,))
    beaten = any(it.cost.typical <= one.cost.typical and it.p_cured >= one.p_cured for it in offered)
    return LeftOut(one.jobs, name_jobs(view.compiled, one.jobs), one.cost, one.p_cured, beaten)
