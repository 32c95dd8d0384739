"""One round of practice as a state machine: what is known, what was done and paid, and what an act makes of it.

A round follows from its exercise and its acts alone, so acts kept in a file give it back to the byte.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np

from shiftlore.advising import name_job, name_jobs
from shiftlore.basics import UsageProblem
from shiftlore.compiling import Expansion
from shiftlore.practising.exercises import Exercise
from shiftlore.practising.owner import (
    TOLD_AT_ONCE,
    NamedComplaint,
    list_complaints,
    owner_can_tell,
    say_answer,
    say_complaint,
    telling_of,
)
from shiftlore.practising.settling import find_ruling, name_closer
from shiftlore.simulating import Action, Work, WorkState, act_on, leaving_cost, start_work

ASK, MORE, CHECK, JOB, THINK, HINT, LEAVE, GIVE_UP = "ask", "more", "check", "job", "think", "hint", "leave", "give_up"
KINDS = (ASK, MORE, CHECK, JOB, THINK, HINT, LEAVE, GIVE_UP)
"""What a round is made of."""
PAID = (CHECK, JOB)
ENDED = "The round is over."
P_TINY = 1e-12
IN_ORDER, NOT_FOUND = "In order", "Not found"
MOST_SOUND = 6
"""Signs in order that are named after a check; `known` names all."""


@dataclass(frozen=True, slots=True)
class Move:
    """One thing that the apprentice did.

    Args:
        kind: one of `KINDS`.
        ids: findings asked for, the check, the jobs in one go, or the suspected cause.
        agrees: of each finding asked for the answer to which a yes agrees, as `say_answer` takes them; it changes words alone.
    """

    kind: str
    ids: tuple[str, ...] = ()
    agrees: tuple[str, ...] = field(default=(), compare=False)


@dataclass(frozen=True, eq=False)
class Made:
    """A check or work that was paid for, or the vehicle given back, with what was known before and after it.

    Args:
        cost, minutes: of it alone, a comeback or an uncured vehicle included.
        decibans: by how much the odds of what it was rose, the mean over its causes; 0 for work.
        before, after: where the work stood.
        cured: whether the vehicle drove right after it.
    """

    act: Move
    cost: float
    minutes: float
    decibans: float
    before: Work
    after: Work
    cured: bool = False


@dataclass(frozen=True, eq=False)
class Round:
    """Where a round stands.

    Args:
        acts: everything done so far, in order.
        named: how many of the complaints the owner has named.
        made: what was paid for.
        suspicion: the cause that was suspected last, or "".
        hinted: where the work stood at each hint; one that is asked for again before anything new is known is the same.
        outcome: "" while it goes on; ``cured``, ``left`` (given back as it was) or ``given_up``.
    """

    exercise: Exercise
    work: Work
    named: int
    acts: tuple[Move, ...] = ()
    made: tuple[Made, ...] = ()
    suspicion: str = ""
    hinted: tuple[WorkState, ...] = field(default=(), repr=False)
    outcome: str = ""
    complaints: tuple[NamedComplaint, ...] = field(default=(), repr=False)

    @property
    def spent(self) -> float:
        """Give what was paid so far, in the shop's currency."""
        return sum((one.cost for one in self.made), 0.0)

    @property
    def minutes(self) -> float:
        """Give the labour so far."""
        return sum((one.minutes for one in self.made), 0.0)

    @property
    def hints(self) -> int:
        """Count the hints that were asked for."""
        return len(self.hinted)

    @property
    def found(self) -> bool:
        """Tell whether the vehicle drives right, or what was suspected last is what it has."""
        return self.outcome == "cured" or self.suspicion in self.exercise.causes

    @cached_property
    def expansion(self) -> Expansion:
        """Give the rules written out for the unit."""
        return self.exercise.bench.compiled.expansion


@dataclass(frozen=True, slots=True)
class Followed:
    """What came of an act: the round that follows, and what is said or seen."""

    round: Round
    says: tuple[str, ...] = ()


def begin_round(exercise: Exercise) -> Round:
    """Begin: the owner has named the first of his complaints."""
    complaints = list_complaints(exercise)
    named = min(TOLD_AT_ONCE, len(complaints))
    told = _told_by(exercise, complaints[:named])
    work = Work(start_work(exercise.bench, exercise.vehicle, told), frozenset(exercise.vehicle.causes))
    return Round(exercise, work, named, complaints=complaints)


def introduce(current: Round) -> tuple[str, ...]:
    """Say what the owner has come in with, as far as he has named it."""
    return tuple(say_complaint(current.exercise, one) for one in current.complaints[: current.named])


def replay(exercise: Exercise, acts: Sequence[Move]) -> Round:
    """Give the round that acts lead to.

    Raises: UsageProblem: an act cannot be done on this vehicle where it stands.
    """
    current = begin_round(exercise)
    for act in acts:
        current = follow(current, act).round
    return current


def follow(current: Round, act: Move) -> Followed:
    """Do one thing, and tell what is heard or seen then.

    Raises: UsageProblem: it cannot be done; says why.
    """
    check_act(current, act)
    done = replace(current, acts=(*current.acts, act))
    if act.kind == ASK:
        return _ask(done, act)
    if act.kind == MORE:
        return _name_more(done)
    if act.kind in PAID:
        return _work(done, act)
    if act.kind == THINK:
        return Followed(replace(done, suspicion=act.ids[0]))
    if act.kind == HINT:
        is_new = not any(state is current.work.state for state in current.hinted)
        return Followed(replace(done, hinted=(*current.hinted, current.work.state)) if is_new else done)
    return _leave(done, act)


def check_act(current: Round, act: Move) -> None:
    """Refuse what cannot be done on this vehicle where it stands.

    Raises: UsageProblem: says why.
    """
    situation, state, expansion = current.exercise.bench.situation, current.work.state, current.expansion
    if current.outcome:
        raise UsageProblem(ENDED)
    if act.kind not in KINDS or (act.kind in (ASK, THINK, *PAID)) != bool(act.ids):
        raise UsageProblem(f'"{act.kind}" is nothing that can be done here.')
    if act.kind == ASK and (unknown := [name for name in act.ids if name not in current.exercise.vehicle.readings]):
        raise UsageProblem(f"This vehicle has no finding {unknown[0]}.")
    if act.kind == THINK and act.ids[0] not in expansion.causes:
        raise UsageProblem(f"This vehicle cannot have {act.ids[0]}.")
    if act.kind == CHECK:
        places = {check.id: place for place, check in enumerate(situation.checks)}
        if act.ids[0] not in places:
            raise UsageProblem(_no_such_check(current, act.ids[0]))
        if state.checked[places[act.ids[0]]]:
            raise UsageProblem(f"{expansion.checks[act.ids[0]].label} was made already; k shows what is known.")
    if act.kind == JOB:
        _check_jobs(current, act.ids)


def _no_such_check(current: Round, check: str) -> str:
    records = current.expansion.checks
    if check not in records:
        return f"There is no check {check} on this vehicle."
    lacking = set(records[check].tools) - set(current.exercise.bench.shop.tools)
    return f"{records[check].label}: " + (
        "this shop has not the tools for it." if lacking else "it would tell nothing that tells causes apart."
    )


def _check_jobs(current: Round, jobs: tuple[str, ...]) -> None:
    bench = current.exercise.bench
    places = {job.id: place for place, job in enumerate(bench.situation.jobs)}
    for job in jobs:
        if job not in places:
            known = current.expansion.jobs
            raise UsageProblem(
                f"{name_job(bench.compiled, job)}: this shop has not the tools for it."
                if job in known
                else f"There is no job {job} on this vehicle."
            )
        if current.work.state.done[places[job]]:
            raise UsageProblem(f"{name_job(bench.compiled, job)} was done already.")
    if len(set(jobs)) < len(jobs):
        raise UsageProblem("The same job stands there twice.")
    if not bench.situation.is_batch(tuple(places[job] for job in jobs)):
        alone = next(job for job in jobs if bench.situation.jobs[places[job]].alone)
        raise UsageProblem(f"{name_job(bench.compiled, alone)} is done by itself, with nothing else.")


def _told_by(exercise: Exercise, complaints: Sequence[NamedComplaint]) -> dict:
    told: dict = {}
    for one in complaints:
        for finding in (one.finding, *one.covers):
            told |= exercise.tell(finding)
    return told


def _hear(current: Round, told: dict) -> Round:
    """Take what the owner says into what is known; what a check has shown stays as it was seen."""
    state = current.work.state
    seen = {name: value for name, value in told.items() if name not in state.evidence}
    heard = replace(state, compiled=state.compiled.with_evidence(seen))
    later = current.exercise.bench.believe(heard) if seen else state
    return replace(current, work=replace(current.work, state=later))


def _ask(current: Round, act: Move) -> Followed:
    exercise, told = current.exercise, dict[str, object]()
    asked = _ask_closer(exercise, act)
    for finding in asked:
        told |= exercise.tell(finding)
    return Followed(_hear(current, told), (say_answer(exercise, [*asked], [*asked.values()]),))


def _ask_closer(exercise: Exercise, act: Move) -> dict[str, str]:
    """Give what a question comes to, finding -> to which answer a yes agrees: of a sign in general, what there is of it."""
    expansion, readings = exercise.bench.compiled.expansion, exercise.vehicle.readings
    asked: dict[str, str] = {}
    for name, agreed in zip(act.ids, act.agrees or [telling_of(exercise, name) for name in act.ids], strict=True):
        closer = (name,) if name in exercise.unsure else name_closer(expansion, readings, name)
        told = [one for one in closer if one != name and owner_can_tell(exercise, one) and exercise.unsure.get(one, 1)]
        is_sound = agreed == expansion.findings[name].grades[0]
        for key in told[:TOLD_AT_ONCE]:
            asked[key] = expansion.findings[key].grades[0 if is_sound else readings[key]] if agreed else ""
        if not told:
            asked[name] = agreed
    return asked


def _name_more(current: Round) -> Followed:
    more = current.complaints[current.named : current.named + TOLD_AT_ONCE]
    if not more:
        return Followed(current, ("No, that is all.",))
    says = tuple(say_complaint(current.exercise, one) for one in more)
    return Followed(_hear(replace(current, named=current.named + len(more)), _told_by(current.exercise, more)), says)


def _work(current: Round, act: Move) -> Followed:
    exercise, before = current.exercise, current.work
    after = act_on(exercise.bench, exercise.vehicle, before, Action(act.kind, act.ids), exercise.luck)
    told = weigh_told(exercise, before, after.state) if act.kind == CHECK else 0.0
    made = Made(
        act=act, cost=after.cost, minutes=after.minutes, decibans=told, before=before, after=after, cured=not after.left
    )
    outcome = "" if after.left else "cured"
    done = replace(current, work=after, made=(*current.made, made), outcome=outcome)
    return Followed(done, () if act.kind == JOB else tuple(_say_shown(done, act.ids[0], before.state)))


def _leave(current: Round, act: Move) -> Followed:
    """Give the vehicle back as it is: the owner starts over elsewhere."""
    cost = leaving_cost(current.exercise.bench, current.work.state)
    made = Made(act=act, cost=cost, minutes=0.0, decibans=0.0, before=current.work, after=current.work)
    outcome = "left" if act.kind == LEAVE else "given_up"
    return Followed(replace(current, made=(*current.made, made), outcome=outcome))


def _say_shown(current: Round, check: str, before: WorkState) -> list[str]:
    """Say what a check has shown: all that is not sound, then what was measured and is right, and what was not found."""
    names = [name for name in current.exercise.bench.reveals[check] if name in current.exercise.vehicle.readings]
    told = sort_shown(current, names)
    shown = [f"It shows: {'; '.join(told['checks'])}."] if told["checks"] else ["It shows nothing wrong."]
    left = MOST_SOUND
    for key, head in (("sound", IN_ORDER), ("absent", NOT_FOUND)):
        listed, more = told[key][:left], len(told[key]) - left
        if listed:
            shown.append(f"{head}: {'; '.join(listed)}{f'; and {more} more' if more > 0 else ''}.")
        left = max(left - len(listed), 1)
    return shown


def sort_shown(current: Round, names: Sequence[str]) -> dict[str, list[str]]:
    """Sort what checks have read: what is wrong, what was measured and is right, and what was looked for and is not there.

    A sign is named by its fault, so no list of what is right holds one. What others say more closely, or rule out, and that a
    scan has found codes, is left out.
    """
    records, readings = current.expansion.finding_records, current.exercise.vehicle.readings
    telling = {records[name].id for name in names if readings[name]}
    said: dict[str, list[str]] = {"checks": [], "sound": [], "absent": []}
    for name in names:
        record, node = records[name], current.expansion.findings[name]
        is_graded = node.grades != ("no", "yes")
        if readings[name] and not telling.intersection(record.general_of):
            said["checks"].append(say_reading(current, name))
        elif not readings[name] and not record.none_by and find_ruling(current.expansion, readings, name) is None:
            said["sound" if is_graded else "absent"].append(say_reading(current, name) if is_graded else node.label)
    return said


def say_reading(current: Round, finding: str) -> str:
    """Say what a finding of the vehicle reads; a plain yes by its label alone."""
    grade = current.expansion.findings[finding].grades[current.exercise.vehicle.readings[finding]]
    said = current.expansion.name_answer(finding, grade)
    return said.rsplit(": ", 1)[0] if grade == "yes" else said


def weigh_told(exercise: Exercise, before: Work, after: WorkState) -> float:
    """Give by how many decibans the odds of what is still wrong rose, the mean over its causes.

    Source: Good 1950, the weight of evidence, in Turing's unit.
    """
    p_before, p_after = (p_truth(exercise, before.left, state) for state in (before.state, after))
    odds = [
        np.log10(p / (1.0 - p)) for p in (np.clip(p_before, P_TINY, 1 - P_TINY), np.clip(p_after, P_TINY, 1 - P_TINY))
    ]
    return float(10.0 * (odds[1] - odds[0]).mean())


def p_truth(exercise: Exercise, left: frozenset[int], state: WorkState) -> np.ndarray:
    """Give how probable each cause that is still there is by what is known, in the order of the causes."""
    bench = exercise.bench
    p_causes = bench.situation.hypotheses.cause_probabilities(state.belief)
    return p_causes[np.searchsorted(bench.weighing.kept, sorted(left))]


def name_act(current: Round, act: Move) -> str:
    """Name a check or jobs as they are called on this vehicle."""
    if act.kind == JOB:
        return name_jobs(current.exercise.bench.compiled, act.ids)
    if act.kind == CHECK:
        return current.expansion.checks[act.ids[0]].label
    return "Given up" if act.kind == GIVE_UP else "Given back as it was"
