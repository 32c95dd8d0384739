"""What a choice was worth when it was made, what the planner would have done, and how a round went beside the planner's."""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from shiftlore.advising import (
    CaseSituation,
    CheckReason,
    choose_safely,
    describe_step,
    explain_check,
    explain_job,
    name_jobs,
    say_outcome,
    tell_job,
)
from shiftlore.compiling import TOLD, ExpandedCause, fill_name
from shiftlore.planning import Decision, LookAhead, choose_step, join_outcomes, start_bench
from shiftlore.practising.exercises import Exercise
from shiftlore.practising.rounds import CHECK, GIVE_UP, JOB, LEAVE, P_TINY, Made, Move, Round, say_reading
from shiftlore.simulating import (
    Action,
    Run,
    UnitBench,
    WorkState,
    leaving_cost,
    plan_and_persist,
    prepare_work,
    start_work,
    take_first,
    work_on,
)

AS_GOOD_SHARE, AS_GOOD_MONEY = 0.02, 2.0
"""A choice that is expected to cost no more than this above the best one is as good: judgement."""
WHOLE_LOOK = LookAhead(at_once=False)
"""How far is thought where choices are compared: as far for the planner's as for any other."""
TOLD_OUTCOMES = 4
TOLD_QUESTIONS = 2
LEAST_DECIBANS = 3.0
"""A question that would have told less is not named afterwards: odds doubled, judgement."""


@dataclass(frozen=True, slots=True)
class Planned:
    """What the planner would do at one point of the work.

    Args:
        act: the check or jobs; of kind ``leave`` where no job helps.
        why: its reason in a sentence.
        expected_total: what is expected to be paid from there, its way.
        outcomes: of a check what each result would mean: its probability and a sentence.
    """

    act: Move
    label: str
    why: str
    expected_total: float
    outcomes: tuple[tuple[float, str], ...] = ()


@dataclass(frozen=True, slots=True)
class JudgedAct:
    """A choice beside the planner's.

    Args:
        expected_total: what was expected to be paid from there by this choice and then the best.
        planned: the planner's step at that point, by what was known then.
        outcomes: of a check, what each result would have meant; why: of jobs, what they aim at.
    """

    act: Move
    label: str
    expected_total: float
    planned: Planned
    why: str = ""
    outcomes: tuple[tuple[float, str], ...] = ()

    @property
    def dearer(self) -> float:
        """Give by how much it was dearer than the planner's step by expectation; less than 0 where it was better."""
        return self.expected_total - self.planned.expected_total

    @property
    def is_same(self) -> bool:
        """Tell whether the planner would have done the same."""
        return (self.act.kind, sorted(self.act.ids)) == (self.planned.act.kind, sorted(self.planned.act.ids))

    @property
    def is_as_good(self) -> bool:
        """Tell whether neither it nor the planner's step was expected to cost noticeably less than the other."""
        return abs(self.dearer) <= max(AS_GOOD_MONEY, AS_GOOD_SHARE * self.planned.expected_total)


@dataclass(frozen=True, slots=True)
class NotAsked:
    """A question that the owner was not asked, what it would have shown, and what that tells, in decibans."""

    shown: str
    decibans: float


@dataclass(frozen=True, slots=True)
class Appraisal:
    """How a round went.

    Args:
        causes: what it was, labels; says: the same in a sentence.
        choices: each check, job and giving back, beside what the planner would have done then.
        expected: what the planner's way was expected to cost when the first tool was taken up.
        chosen_dearer: what the choices added to that by expectation; negative where they were better.
        luck: what chance added; negative where it helped. The three add up to what was spent.
        planner_run: the planner's own work on the same vehicle; planner_acts: what it did, in words.
        not_asked: what the owner could have told.
        report: of a published repair what it was, in its own words; "" for a vehicle drawn from the rules.
    """

    causes: tuple[str, ...]
    says: tuple[str, ...]
    choices: tuple[JudgedAct, ...]
    expected: float
    chosen_dearer: float
    luck: float
    planner_run: Run
    planner_acts: tuple[str, ...]
    not_asked: tuple[NotAsked, ...]
    report: str = ""


def plan_next(bench: UnitBench, state: WorkState) -> Planned:
    """Say what the planner would do next, as `simulate` runs it, and why."""
    prepared, choice, _ = choose_safely(prepare_work(bench, state), WHOLE_LOOK)
    return _plan(bench, state, prepared, choice)


def _plan(bench: UnitBench, state: WorkState, prepared: CaseSituation, choice: Decision) -> Planned:
    action = take_first(bench, state, choice.steps)
    leaving = leaving_cost(bench, state)
    total = min(choice.upper_bound, leaving)
    if action.kind == "leave":
        return Planned(Move(LEAVE), "nothing more", "No job may still help.", leaving)
    first = choice.steps[0] if choice.steps else None
    is_first = first is not None and action.ids in (first.ids, first.ids[:1])
    if first is None or not is_first:
        label = name_jobs(bench.compiled, action.ids)
        why = "Nothing is expected to save its cost; of what may still help this helps most for its price."
        return Planned(Move(JOB, action.ids), label, why, total)
    step = describe_step(prepared, choice, first.vary(ids=action.ids))
    act, total, outcomes = Move(action.kind, action.ids), first.expected_total, tuple[tuple[float, str], ...]()
    if isinstance(step.reason, CheckReason):
        total = min(total, _price_beside(bench, state, choice, action.ids[0]))
        outcomes = _say_outcomes(prepared, action.ids[0], step.reason)
    return Planned(act, step.label, step.why, total, outcomes)


def judge_act(exercise: Exercise, made: Made, label: str) -> JudgedAct:
    """Say what a choice was worth by what was known when it was made, and what the planner would have done.

    The worth of a choice is its cost and the expected cost of the best way on after each of its results, thought as many
    steps ahead as the planner thinks.
    """
    bench, state = exercise.bench, made.before.state
    prepared, choice, _ = choose_safely(prepare_work(bench, state), WHOLE_LOOK)
    planned = _plan(bench, state, prepared, choice)
    if made.act.kind == JOB and not {*made.act.ids} <= {job.id for job in choice.outlook.situation.jobs}:
        whole = prepared.situation  # what nobody would begin with has its price all the same
        whole = whole.vary(jobs=tuple(job.vary(least=0.0, meant=frozenset()) for job in whole.jobs))
        choice = choose_step(whole, prepared.oracle, WHOLE_LOOK)
    why, outcomes = "", tuple[tuple[float, str], ...]()
    if made.act.kind == JOB:
        why = tell_job(
            prepared.compiled, explain_job(choice, prepared.oracle.belief, made.act.ids, prepared.oracle.in_vain)
        )
    elif made.act.kind == CHECK and made.act.ids[0] in prepared.checks:
        table = prepared.oracle.outcomes(made.act.ids[0])
        reason = explain_check(choice, prepared.oracle.belief, made.act.ids[0], table)
        outcomes = _say_outcomes(prepared, made.act.ids[0], reason)
    elif made.act.kind == CHECK:
        why = "What it would show was as good as known beforehand."
    judged = JudgedAct(made.act, label, planned.expected_total, planned, why=why, outcomes=outcomes)
    if judged.is_same:
        return judged
    return replace(judged, expected_total=_price_choice(bench, state, prepared, choice, made.act))


def _say_outcomes(prepared: CaseSituation, check: str, reason: CheckReason) -> tuple[tuple[float, str], ...]:
    """Say what the results of a check would mean, the likeliest first."""
    table = join_outcomes([prepared.oracle.outcomes(check)])
    answers = dict(zip(table.labels, table.answers, strict=True))
    told = [one for one in reason.outcomes if one.shifts][:TOLD_OUTCOMES]
    return tuple((one.p, say_outcome(prepared.compiled, one, answers.get(one.label, {}))) for one in told)


def _price_choice(bench: UnitBench, state: WorkState, prepared: CaseSituation, choice: Decision, act: Move) -> float:
    """Expected total of a choice and the best way on after it."""
    if act.kind in (LEAVE, GIVE_UP):
        return leaving_cost(bench, state)
    situation, ids = choice.outlook.situation, tuple(sorted(act.ids))
    listed = {tuple(sorted(step.ids)): step.expected_total for step in choice.steps}
    beside = _price_beside(bench, state, choice, act.ids[0]) if act.kind == CHECK else math.inf
    if ids in listed or (act.kind == CHECK and act.ids[0] not in prepared.checks):
        return min(listed.get(ids, math.inf), beside)
    row, start, look = prepared.oracle.belief[None], start_bench(situation), WHOLE_LOOK
    alone = choice.outlook.price_checks(row, start)[0] if situation.checks else np.zeros(0)
    nearest = tuple(sorted(map(int, np.argsort(alone, kind="stable")[: look.second_checks])))
    if act.kind == CHECK:
        place = situation.check_index(act.ids[0])
        around = start.vary(checks=tuple(sorted({place, *nearest})))
        deep = choice.outlook.price_check(row, around, place, look.depth)[0]
        return float(min(alone[place], deep, beside))
    batch = tuple(situation.job_index(job) for job in act.ids)
    depth = look.depth if situation.checks else 1
    return float(choice.outlook.price_batch(row, start.vary(checks=nearest), batch, depth)[0])


def _price_beside(bench: UnitBench, state: WorkState, choice: Decision, check: str) -> float:
    """Expected total of a check that is made beside the best way on, its opening and closing included.

    It takes one of the steps that are thought ahead: without this a look for a few coins would be charged with what the
    last of them saves.
    """
    situation, access = bench.situation, bench.situation.access
    cost, _, opened = situation.reach_check(situation.check_index(check), state.opened)
    shut = access.close_costs[opened & ~state.opened] + access.round_trip(state.opened & ~opened)
    return choice.upper_bound + cost + float(shut)


def judge_round(
    current: Round, choices: Sequence[JudgedAct], planner: "PlannerWork", name: Callable[[Move], str]
) -> Appraisal:
    """Judge a round that is over: every choice, luck, and the planner's own work on the same vehicle.

    Args:
        choices: one for each thing that was paid for, as from `judge_act`.
        planner: as from `run_planner`.
        name: gives the name of an act.
    """
    records = current.expansion.causes
    causes = [records[cause] for cause in current.exercise.causes]
    expected, dearer = choices[0].planned.expected_total, sum(one.dearer for one in choices)
    return Appraisal(
        causes=tuple(cause.label for cause in causes),
        says=tuple(_say_cause(current, cause) for cause in causes),
        choices=tuple(choices),
        expected=expected,
        chosen_dearer=dearer,
        luck=current.spent - expected - dearer,
        planner_run=planner.run,
        planner_acts=tuple(name(act) for act in planner.acts),
        not_asked=list_not_asked(current),
        report=current.exercise.report,
    )


def _say_cause(current: Round, expanded: ExpandedCause) -> str:
    """Say what a cause is, the part that it is about filled in."""
    instances = current.expansion.instances.get(expanded.cause.scope.each or "", ())
    return fill_name(expanded.cause.says, next((one for one in instances if one.id == expanded.instance), None))


@dataclass(frozen=True, slots=True)
class PlannerWork:
    """The planner's own work on a vehicle, as `simulate` has it."""

    run: Run
    acts: tuple[Move, ...]


def run_planner(exercise: Exercise, tell_done: Callable[[int], None] = lambda steps: None) -> PlannerWork:
    """Let the planner work on the same vehicle, as `simulate` does: it knows the complaints and asks the usual questions first.

    Args:
        tell_done: called with the number of steps chosen so far.
    """
    bench, steps = exercise.bench, [0]

    def plan(at: UnitBench, state: WorkState) -> Action:
        steps[0] += 1
        tell_done(steps[0])
        return plan_and_persist(at, state)

    start = start_work(bench, exercise.vehicle, exercise.tell_all())
    run = work_on(bench, exercise.vehicle, start, plan, exercise.luck)
    return PlannerWork(run, tuple(Move(kind, ids) for kind, ids, _ in run.acts))


def list_not_asked(current: Round) -> tuple[NotAsked, ...]:
    """List what the owner was not asked and could have told, what would have told most of what it was first.

    Each is weighed beside what was known when the round began.
    """
    exercise = current.exercise
    begun = current.made[0].before if current.made else current.work
    compiled = begun.state.compiled
    records = compiled.expansion.finding_records
    known = set(current.work.state.evidence) | {name for one in current.made for name in one.after.state.evidence}
    names = [
        name
        for name, record in records.items()
        if record.got_by in TOLD
        and record.asked
        and name not in known
        and name in exercise.vehicle.readings
        and name not in exercise.unsure
    ]
    predicted, p_faults = compiled.predict_now(names), compiled.faults_now
    true = np.array([set(exercise.vehicle.causes) <= set(member) for member in compiled.faults.members])
    told = []
    for name in names:
        shown = predicted[name][exercise.vehicle.readings[name]] * p_faults
        inside, outside = shown[true].sum() / p_faults[true].sum(), shown[~true].sum() / p_faults[~true].sum()
        told.append((10.0 * float(np.log10(max(inside, P_TINY) / max(outside, P_TINY))), name))
    best = sorted(told, reverse=True)[:TOLD_QUESTIONS]
    return tuple(NotAsked(_say_as_asked(current, name), told) for told, name in best if told >= LEAST_DECIBANS)


def _say_as_asked(current: Round, name: str) -> str:
    said = say_reading(current, name)
    return said if ": " in said else f"{said}: yes"
