"""What things are called: labels of jobs, causes, findings and answers on one unit."""

from shiftlore.compiling import CompiledCase
from shiftlore.planning import NOTHING_WRONG, SOMETHING_ELSE

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
