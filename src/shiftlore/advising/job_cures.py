"""What each job puts right on a case, after all that was done in vain of its kind, and for which causes it is made."""

from collections.abc import Iterable, Sequence

import numpy as np

from shiftlore.cases import CAME_BACK, NOT_CURED
from shiftlore.compiling import CompiledCase, find_makers, keep_again, list_alike
from shiftlore.knowledge import Background
from shiftlore.planning import LEAST_MEANT


def cures_of(compiled: CompiledCase, jobs: Sequence[str]) -> np.ndarray:
    """p that each job puts right each cause after the work of its kind done in vain, shape (n_jobs, n_causes)."""
    kept = 1.0 - tabulate_cures(compiled, jobs)
    return 1.0 - np.array([keep_in_vain(compiled, job, row) for job, row in zip(jobs, kept, strict=True)])


def keep_in_vain(compiled: CompiledCase, job: str, kept: np.ndarray) -> np.ndarray:
    """P that each cause survives a job where it may have survived what was done in vain of its kind, shape as `kept`.

    What such work may itself have brought is as easy to put right as ever; what came back after it, as far as it is new.

    Args:
        kept: P that each survives the job by itself, shape (..., n_causes).
    """
    alike = list_alike(compiled.tried, job, compiled.expansion, compiled.knowledge)
    return keep_again(kept, [(work, np.where(work.faulty > 0.0, 1.0, work.missed)) for work in alike])


def tell_tried(compiled: CompiledCase, jobs: Sequence[str]) -> str:
    """Name the best that came of such work where all of it was done for this before: came back, not cured, or ""."""
    tried = [list_alike(compiled.tried, job, compiled.expansion, compiled.knowledge) for job in jobs]
    results = {one.result for works in tried for one in works} if all(tried) else set()
    return next((result for result in (CAME_BACK, NOT_CURED) if result in results), "")


def list_others_work(compiled: CompiledCase) -> tuple[str, ...]:
    """List the labels of what says that it began after work of others: who did that answers for it first."""
    life = _list_likeliest(compiled)
    return tuple(record.label for record, said in life if record.by_jobs and said == record.happened)


def is_under_warranty(compiled: CompiledCase) -> bool:
    """Tell whether the maker's warranty may still hold: it is asked before anything is paid (common practice)."""
    km = compiled.case.odometer_km or 0.0
    return any(km <= record.warranty_km.get(said, -1.0) for record, said in _list_likeliest(compiled))


def _list_likeliest(compiled: CompiledCase) -> list[tuple[Background, str]]:
    """List what is known of the vehicle's life, each with its likeliest answer."""
    records = compiled.knowledge.backgrounds
    return [(records[name], max(said, key=lambda one: said[one])) for name, said in compiled.lived.items()]


def tabulate_cures(compiled: CompiledCase, jobs: Sequence[str]) -> np.ndarray:
    """p that each job puts right each cause, taken by itself, shape (n_jobs, n_causes)."""
    place = {cause: i for i, cause in enumerate(compiled.causes)}
    table = np.zeros((len(jobs), len(place)))
    for row, job in enumerate(jobs):
        for cause, strength in compiled.expansion.cures[job].items():
            table[row, place[cause]] = strength.p
    return table


def list_complained(compiled: CompiledCase) -> frozenset[str]:
    """List the causes that bring about, if ever so seldom, something that was told and is no mere circumstance.

    Others may be there too, but to put them right leaves the complaint: a valve body frees no key.
    """
    kept = compiled.worked_out
    if list_complained not in kept:
        records, expansion = compiled.expansion.finding_records, compiled.expansion
        signs = (sign for sign in compiled.telling if sign in records and not records[sign].speaks_of)
        makers = frozenset[str]().union(*(find_makers(expansion, sign) for sign in signs))
        kept[list_complained] = makers.intersection(compiled.causes) or frozenset(compiled.causes)
    complained: frozenset[str] = kept[list_complained]
    return complained


def is_meant(compiled: CompiledCase, job: str) -> bool:
    """Tell whether a job is made for nothing in particular, or for something that is likely here."""
    meant = list_meant(compiled, job)
    return not meant or is_likely(compiled, meant)


def list_against(compiled: CompiledCase, job: str) -> list[str]:
    """List by their labels the told signs with which a job is not done; none where the causes beside them are unlikely."""
    expansion, unless = compiled.expansion, compiled.expansion.jobs[job].unless
    causes = [one for one in unless if one not in expansion.finding_records and one in expansion.of_template]
    told = sorted(compiled.telling.intersection(unless)) if not causes or is_likely(compiled, causes) else []
    return [expansion.finding_records[one].label for one in told]


def is_likely(compiled: CompiledCase, names: Iterable[str]) -> bool:
    """Tell whether those of the names that are causes are likely together, each in all its instances."""
    of_template, place = compiled.expansion.of_template, compiled.causes.index
    causes = {cause for name in names for cause in of_template.get(name, (name,)) if cause in compiled.expansion.causes}
    return float(compiled.causes_now[[place(cause) for cause in sorted(causes)]].sum()) >= LEAST_MEANT


def list_meant(compiled: CompiledCase, job: str) -> frozenset[str]:
    """List the causes for which a job is made; none once a sign is told for which it is made too."""
    of_template, findings = compiled.expansion.of_template, compiled.expansion.findings
    made_for = compiled.expansion.jobs[job].made_for
    if not compiled.telling.isdisjoint(made_for):
        return frozenset()
    made = (name for name in made_for if name not in findings)
    return frozenset(cause for name in made for cause in of_template.get(name, ()))
