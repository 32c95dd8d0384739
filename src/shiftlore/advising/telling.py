"""What things are called, and reasons in one sentence, from the numbers of `reasons`."""

from shiftlore.advising.reasons import CheckReason, JobReason, OutcomeReason
from shiftlore.compiling import CompiledCase
from shiftlore.planning import NOTHING_WRONG, SOMETHING_ELSE, Stop

OTHER_NAMES = {NOTHING_WRONG: "Nothing found", SOMETHING_ELSE: "Something else"}
NAME_SLOT = "{name}"


def name_job(compiled: CompiledCase, job: str) -> str:
    """Label of a job; a job per instance carries the instance's label."""
    record = compiled.expansion.jobs[job]
    instance = job.removeprefix(f"{compiled.expansion.job_templates[job]}_")
    for item in compiled.expansion.instances.get(record.scope.each or "", ()):
        if item.id == instance:
            return record.label.replace(NAME_SLOT, item.label)
    return record.label


def name_jobs(compiled: CompiledCase, jobs: tuple[str, ...]) -> str:
    """Labels of jobs done in one go."""
    return " + ".join(name_job(compiled, job) for job in jobs)


def name_cause(compiled: CompiledCase, cause: str) -> str:
    """Label of a cause, or of what stands for none or the rest."""
    return OTHER_NAMES.get(cause) or compiled.expansion.causes[cause].label


def name_answer(compiled: CompiledCase, finding: str, grade: str) -> str:
    """An answer in words: `Fluid level: over full`."""
    return compiled.expansion.name_answer(finding, grade)


PERCENT = 100
TOLD_ANSWERS = 2
"""Findings named per outcome."""


def tell_check(compiled: CompiledCase, reason: CheckReason, answers: dict[str, dict[str, str]]) -> str:
    """Say what the most telling outcome of a check would change.

    Args:
        answers: per outcome label what it says, finding -> grade.
    """
    if not reason.outcomes:
        return "It settles what a later check starts from."
    outcome = max(reason.outcomes, key=_weight)
    said = _unsound_first(compiled, answers.get(outcome.label, {}))
    shift = outcome.shifts[0]
    sentence = (
        f"If it shows {said or outcome.label} ({_percent(outcome.p)}), {name_cause(compiled, shift.cause)} goes from "
        f"{_percent(shift.before)} to {_percent(shift.after)}"
    )
    if outcome.dropped:
        return f"{sentence} and {name_job(compiled, outcome.dropped[0])} is no longer offered."
    if outcome.added:
        return f"{sentence} and {name_job(compiled, outcome.added[0])} comes into question."
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
        left = f"{name_cause(compiled, shift.cause)} would then be the likeliest, with {_percent(shift.after)}"
        return f"{sentence}. If not, {left}."
    return f"{sentence}."


def tell_stop(compiled: CompiledCase, stop: Stop) -> str:
    """Say whether to stop checking, and why."""
    work = name_jobs(compiled, stop.jobs) or "leaving it as it is"
    best = f"{work} ({_percent(stop.p_cured)} sure to cure it)" if stop.jobs else work
    return {
        "check_pays": f"A check still saves more than it costs. Without it the best work is {best}.",
        "job_pays_more": f"No check saves as much as doing the work now: {best}.",
        "no_check_pays": f"No check saves more than it costs. The best work is {best}.",
        "no_check_matters": f"Whatever a check shows, the same would be done: {best}.",
        "no_check_left": f"There is no check left that this shop can make. The best work is {best}.",
    }[stop.reason]


def _weight(outcome: OutcomeReason) -> tuple[float, float]:
    """What an outcome saves; where none saves anything by itself, how much it moves, weighed with its chance."""
    moved = abs(outcome.shifts[0].after - outcome.shifts[0].before) if outcome.shifts else 0.0
    return outcome.saves, outcome.p * moved


def _unsound_first(compiled: CompiledCase, answers: dict[str, str]) -> str:
    """The answers of an outcome in words, those that are not sound first."""
    findings = compiled.expansion.findings
    ranked = sorted(answers.items(), key=lambda item: item[1] == findings[item[0]].grades[0])
    return ", ".join(name_answer(compiled, finding, grade) for finding, grade in ranked[:TOLD_ANSWERS])


def _percent(p: float) -> str:
    return f"{PERCENT * p:.0f} %"
