"""What work that was done leaves: from belief in what was wrong before it to belief in what is wrong now, or in what it was.

All that was found before a job counts for the state before it. Then every state of the vehicle comes to this, by its chance:

- The job does not put right all that is wrong (`Survival`). What is left shows at once; or it is eased for a while and comes
  back soon: often where the job was aimed at it (new fluid, a part that was exchanged for the wrong reason) or eases it (what
  adaptation makes up for until its limit), seldom else.
- The job puts all right, but is itself faulty: assembly, a wrong part, wrong fluid, adaptation. That is the greater part of
  what its rules call not curing of the cause that it cures most surely, for "imperfect work is included", as far as work is
  ever so bad; what else it misses is left for other reasons. Which causes it brings is said by the backgrounds whose
  `by_jobs` name the kind of job, or by the job itself (`leaves`): of those in its reach (`_list_reached`), the more a cause is
  raised by them and shows the complaint, the likelier.
- The job puts all right, and the new part is destroyed again, by itself or by a cause that damages it. That takes a while.

When it came back tells these apart: each has its own usual distance (exponential). What was found after the job counts for
the state after it; where nothing was put right, it is seen together with all that was found before.
Source: Breese and Heckerman 1996 for the state before and after a repair; the chances are judgement.
"""

from collections.abc import Iterable, Mapping, Sequence

import numpy as np
from msgspec import field

from shiftlore.basics.structs import Value
from shiftlore.cases import CAME_BACK, CURED, NOT_CURED, Done
from shiftlore.compiling.evidence import Observation
from shiftlore.compiling.expansion import Expansion
from shiftlore.compiling.faults import Faults
from shiftlore.compiling.priors import Lived
from shiftlore.exact import Doubted, Evidence, FloatArray, HubEngine
from shiftlore.knowledge import Knowledge

P_EASED_AIMED, P_EASED = 0.4, 0.1
"""Chance that what a job did not put right stays away for a while all the same: where it was aimed at it, and else."""
P_OVERLOOKED, P_FAULTY_AT_ONCE = 0.3, 0.7
"""Part of what a job misses of what it cures most surely that is simply left; else the work is faulty, and shows it at once."""
EXCHANGE = "exchange"
"""Kind of the jobs that put another unit in: done alone."""
MOST_FAULTY = 0.08
"""Part of all work that is imperfect at the most: what is missed by work that nearly always cures. A flush that misses more
is no bad work: it is not enough. Where more is bad (another unit), the rest shows something else than it came with."""
P_REACHED = 0.5
"""Work that puts a cause right less surely than this part of the surest does not reach where it sits."""
P_AGAIN = 0.05
"""Chance that a new part is destroyed again."""
P_BY_ITSELF = 0.5
"""Part of these in which nothing else destroyed it, where something else could."""
P_BY_LUCK = 0.02
"""Chance that any job cures what it is not meant for: a plug put on anew, a module without power for an hour."""
KM_EASED, KM_FAULTY, KM_AGAIN = 400.0, 800.0, 4_000.0
"""Usual distance until what was eased, what was done badly and what is destroyed again shows."""
KM_A_DAY = 40.0


class JobDone(Value, frozen=True, eq=False):
    """A job that was done and what came of it.

    Args:
        id: as the case names it.
        jobs: expanded ids.
        missed: chance that each cause is left by it, shape (n_causes,).
        faulty: weights of the causes that it may bring, shape (n_causes,); all 0 where it brings none.
        answers, found: what was found after it, as given and as evidence.
        overlooked: part of what it misses of what it cures most surely that is simply left.
        eases: places of the causes that it eases for a time, besides those at which it is aimed.
    """

    id: str
    jobs: tuple[str, ...]
    result: str
    missed: FloatArray
    faulty: FloatArray
    km: float | None = None
    answers: tuple[Observation, ...] = ()
    found: Evidence = field(default_factory=dict)
    overlooked: float = P_OVERLOOKED
    eases: tuple[int, ...] = ()

    @property
    def p_faulty(self) -> float:
        """Give how often such work is bad itself; where nothing can be overlooked, all that it misses of the surest is."""
        least = float(self.missed.min())
        return (1 - self.overlooked) * min(least, MOST_FAULTY) if self.overlooked else least


def list_works(done: Iterable[Done], expansion: Expansion, knowledge: Knowledge) -> tuple[JobDone, ...]:
    """List the jobs among what was done, in order; a template stands for all of its instances."""
    works: list[JobDone] = []
    for item in done:
        jobs = tuple(job for job, template in expansion.job_templates.items() if item.id in (job, template))
        if not jobs:
            continue
        km = item.after_km
        if km is None and item.after_days is not None:
            km = item.after_days * KM_A_DAY
        works.append(weigh_work(works, jobs, expansion, knowledge, name=item.id, result=item.result).vary(km=km))
    return tuple(works)


def list_tried(lived: Lived, expansion: Expansion, knowledge: Knowledge) -> tuple[JobDone, ...]:
    """List the jobs that the vehicle's life says to have been done for this in vain, those that may have been meant each.

    The belief has such work by its hazard ratios already; this is for what the same will cure again.
    """
    works: list[JobDone] = []
    for name, chances in lived.items():
        record, answer = knowledge.backgrounds[name], max(chances, key=lambda one: chances[one])
        if answer in (next(iter(record.shares)), *record.recent):
            continue
        eased = answer != list(record.shares)[1]
        for job in record.done:
            ids = tuple(key for key, template in expansion.job_templates.items() if template == job)
            result = CAME_BACK if eased else NOT_CURED
            works += [weigh_work((), ids, expansion, knowledge, name=job, result=result)] if ids else []
    return tuple(works)


def list_alike(works: Sequence[JobDone], job: str, expansion: Expansion, knowledge: Knowledge) -> list[JobDone]:
    """List the work that was of the kind of a job, or that job itself."""
    kind = _kind_of(job, expansion, knowledge)
    return [one for one in works if job in one.jobs or (kind and _kind_of(one.jobs[0], expansion, knowledge) == kind)]


def keep_again(kept: FloatArray, earlier: Iterable[tuple[JobDone, FloatArray]]) -> FloatArray:
    """Give the chance that each cause survives a job after others of its kind, shape as `kept`.

    Args:
        kept: that it survives the job alone, shape (..., n_causes).
        earlier: work, each with the chance that it leaves each cause, shape (n_causes,).
    """
    from shiftlore.network import keep_after

    failed, left = np.ones(kept.shape[-1]), np.zeros(kept.shape[-1])
    for work, missed in earlier:
        failed, left = np.minimum(failed, missed), np.maximum(left, _left_by(work))
    again: FloatArray = left * keep_after(kept, failed) + (1 - left) * kept
    return again


def _left_by(work: JobDone) -> FloatArray:
    """Give the chance that a cause at work after a job was never put right by it: where it came back it may be new."""
    if work.result != CAME_BACK:
        return np.ones(len(work.missed))
    left = work.missed * P_EASED_AIMED * _come_by(work.km, KM_EASED)
    new = (1 - work.missed) * P_AGAIN * _come_by(work.km, KM_AGAIN)
    part: FloatArray = left / (left + new)
    return part


def _kind_of(job: str, expansion: Expansion, knowledge: Knowledge) -> str:
    return knowledge.kind_of_cure(expansion.job_templates[job])


def weigh_work(
    earlier: Sequence[JobDone],
    jobs: tuple[str, ...],
    expansion: Expansion,
    knowledge: Knowledge,
    *,
    name: str,
    result: str,
) -> JobDone:
    """Weigh what jobs that were done in one go miss, and what they may bring.

    The same again cures hardly anything more than what was done in vain of its kind earlier.
    """
    from shiftlore.network import join_kept, number_kinds  # where nothing was done yet it is not needed

    kept = [[1 - cured[cause].p if cause in cured else 1.0 for cause in expansion.causes]
            for cured in map(expansion.cures.__getitem__, jobs)]  # fmt: skip
    missed = join_kept(np.array(kept), number_kinds([_kind_of(job, expansion, knowledge) for job in jobs]))
    past = [one for one in list_alike(earlier, jobs[0], expansion, knowledge) if one.result in (NOT_CURED, CAME_BACK)]
    missed = keep_again(missed, [(one, one.missed) for one in past])
    kinds = {expansion.jobs[job].kind for job in jobs}
    backgrounds = knowledge.backgrounds.items()
    after_it = {key: record.happened for key, record in backgrounds if kinds.intersection(record.by_jobs)}
    after_it |= {key: said for job in jobs for key, said in expansion.jobs[job].leaves.items()}
    reached = _list_reached(jobs, expansion, knowledge)
    faulty = [_raised_by(expansion, cause, after_it) if cause in reached else 0.0 for cause in expansion.causes]
    overlooked = 0.0 if EXCHANGE in kinds else P_OVERLOOKED  # what was broken has left the vehicle with the unit
    eased = {cause for job in jobs for cause in expansion.jobs[job].eases}
    eases = tuple(i for i, record in enumerate(expansion.causes.values()) if record.cause.id in eased)
    return JobDone(name, jobs, result, missed=missed, faulty=np.array(faulty), overlooked=overlooked, eases=eases)


def _list_reached(jobs: Sequence[str], expansion: Expansion, knowledge: Knowledge) -> set[str]:
    """List the causes that jobs renew, or that are put right in a state of disassembly which they open.

    Another unit puts right what lies deeper than the state in which it is put in: it says nothing of what is reached there.
    """
    opened = {level for job in jobs for level in knowledge.access_path(expansion.jobs[job].access)}
    surest: dict[str, float] = {}
    for cured in expansion.cures.values():
        for cause, strength in cured.items():
            surest[cause] = max(surest.get(cause, 0.0), strength.p)
    within = {job for job, record in expansion.jobs.items() if record.access in opened and record.kind != EXCHANGE}
    return {
        cause
        for job, cured in expansion.cures.items()
        for cause, strength in cured.items()
        if job in jobs or (job in within and strength.p >= P_REACHED * surest[cause])
    }


def _raised_by(expansion: Expansion, cause: str, after_it: Mapping[str, str]) -> float:
    """Give by how much a cause's share grows after such work."""
    record = expansion.causes[cause]
    ratios = [line.ratio - 1 for line in record.cause.raised_by if after_it.get(line.background) == line.grade]
    return record.share * max([0.0, *ratios])


def add_found(
    works: tuple[JobDone, ...], found: Evidence, answers: tuple[Observation, ...] = ()
) -> tuple[JobDone, ...]:
    """Add what was found after the last job of which it is known that the fault is there after it."""
    place = max(i for i, work in enumerate(works) if work.result in (NOT_CURED, CAME_BACK))
    last = works[place]
    more = last.vary(answers=(*last.answers, *answers), found={**last.found, **found})
    return (*works[:place], more, *works[place + 1 :])


def list_destroyers(expansion: Expansion) -> FloatArray:
    """Give, per cause that was put right, the shares of the causes that bring it back, shape (n_causes, n_causes)."""
    causes = tuple(expansion.causes)
    place = {cause: i for i, cause in enumerate(causes)}
    brings = np.zeros((len(causes), len(causes)))
    for cause, record in expansion.causes.items():
        for damaged in record.cause.driven_on.damages:
            for other in expansion.of_template.get(damaged, ()):
                if other != cause:
                    brings[place[other], place[cause]] = record.share
    total = brings.sum(axis=1, keepdims=True)
    others = np.where(total > 0, (1 - P_BY_ITSELF) * brings / np.where(total > 0, total, 1.0), 0.0)
    return others + np.diag(1 - others.sum(axis=1))


class Aftermath(Value, frozen=True, eq=False):
    """All work on one vehicle, in order, and what its causes show.

    Args:
        before: what was found before any work of which a result is known.
        complaint: the part of it with which the vehicle came; a new fault must show it too.
    """

    works: tuple[JobDone, ...]
    faults: Faults
    engine: HubEngine
    before: Evidence
    complaint: Evidence
    destroyers: FloatArray

    @property
    def is_watched(self) -> bool:
        """Tell whether of any job it is known that the fault is there after it: answers now are of another state."""
        return any(work.result in (NOT_CURED, CAME_BACK) for work in self.works)

    @property
    def closed_by(self) -> str:
        """Name the job that cured the vehicle, or ""."""
        return self.works[-1].id if self.works and self.works[-1].result == CURED else ""

    @property
    def after(self) -> dict[str, int | Doubted]:
        """Give all that was found after work, the later of two answers to one finding winning."""
        return {key: answer for work in self.works for key, answer in work.found.items()}

    def turn(self, weights: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Turn weights of root states before the work into weights after it, shape (..., n_states).

        Returns: of vehicles in which nothing was put right, and of those in which something changed.
        """
        untouched, changed = weights, np.zeros_like(weights)
        before, after = dict(self.before), dict[str, int | Doubted]()
        for work in self.works:
            untouched, changed = self._work(work, untouched, changed)
            new = {key: answer for key, answer in work.found.items() if before.get(key) != answer}
            if new:
                untouched = untouched * self._shown({key: old for key, old in before.items() if key not in new}, new)
            if work.found:
                changed = changed * self._shown(
                    {key: old for key, old in after.items() if key not in work.found}, work.found
                )
            before, after = {**before, **work.found}, {**after, **work.found}
        return untouched, changed

    def _work(self, work: JobDone, untouched: FloatArray, changed: FloatArray) -> tuple[FloatArray, FloatArray]:
        survival, both = self.faults.survival, untouched + changed
        if work.result == CURED:
            lucky = work.missed * (1 - P_BY_LUCK)
            cured = survival.all_right(lucky, P_BY_LUCK)
            return untouched * cured, changed * cured
        brought = self._brought_by(work)
        badly = work.p_faulty if work.result and brought.any() else 0.0
        left = np.where(work.missed < 1, work.missed - badly, 1.0)
        stay = survival.none_right(left)
        moved = survival.carry_over(both, left, changed_only=True) + changed * stay
        untouched = untouched * stay
        if not work.result:
            return untouched, moved
        right = survival.all_right(work.missed, 0.0)
        faulty = np.maximum(survival.all_right(left, 0.0) - right, 0.0)
        shown = 1 - P_FAULTY_AT_ONCE if work.result == CAME_BACK else P_FAULTY_AT_ONCE
        came = _come_by(work.km, KM_FAULTY) if work.result == CAME_BACK else 1.0
        alike = MOST_FAULTY / max(badly, MOST_FAULTY)
        moved_in = (both * faulty).sum(axis=-1, keepdims=True) * alike * shown * came * brought
        if work.result == CAME_BACK:
            moved_in += self._destroyed(work, both * right)
        eased = self._eased(work)
        shows = 1 - eased if work.result == NOT_CURED else eased * _come_by(work.km, KM_EASED)
        return untouched * shows, moved * shows + moved_in

    def _eased(self, work: JobDone) -> FloatArray:
        """Give the chance that what is at work in each state stays away for a while though it is left, shape (n_states,)."""
        per_cause = np.where(work.missed < 1, P_EASED_AIMED, P_EASED)
        per_cause[[*work.eases]] = P_EASED_AIMED
        eased = self.faults.spread_over_states(per_cause)
        eased[0] = P_EASED
        return eased

    def _brought_by(self, work: JobDone) -> FloatArray:
        """Give the chance of each state when the work itself has brought a fault, shape (n_states,), sum 1 or 0."""
        brought = np.zeros(len(self.faults.members))
        singles = slice(1, len(self.faults.causes) + 1)
        if work.result and work.faulty.any():
            brought[singles] = work.faulty * self._shown({}, self.complaint)[singles]
        return brought / (brought.sum() or 1.0)

    def _destroyed(self, work: JobDone, put_right: FloatArray) -> FloatArray:
        """Give the weights of what destroys, again, what was put right, shape (..., n_states)."""
        total, per_cause = put_right.sum(axis=-1, keepdims=True), self.faults.sum_over_causes(put_right)
        per_cause = per_cause * total / np.maximum(per_cause.sum(axis=-1, keepdims=True), 1e-300)
        again = np.zeros_like(put_right)
        again[..., 1 : len(self.faults.causes) + 1] = per_cause @ self.destroyers
        return P_AGAIN * _come_by(work.km, KM_AGAIN) * again

    def _shown(self, given: Evidence, found: Evidence) -> FloatArray:
        """Give P(found | root state, given), shape (n_states,); 0 where the given cannot be."""
        log_given = self.engine.weigh(given)
        with np.errstate(invalid="ignore"):
            log_p = self.engine.weigh({**given, **found}) - log_given
        return np.where(np.isfinite(log_given), np.exp(np.minimum(log_p, 0.0)), 0.0)


def _come_by(km: float | None, usual_km: float) -> float:
    """Give the density of coming back at a distance, on any scale: 1 where the distance is not known.

    Of a Pareto distribution of the second kind (Lomax 1954): some of what was only eased stays away for years.
    """
    return 1.0 if km is None else KM_AGAIN / usual_km / (1 + km / usual_km) ** 2
