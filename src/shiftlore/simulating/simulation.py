"""Run simulated vehicles through different ways of working and compare what the owners pay."""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field, replace
from typing import Protocol

import numpy as np

from shiftlore.basics import ImpossibleEvidence
from shiftlore.planning import Oracle, Situation
from shiftlore.simulating.quick import Action, Policy

MOST_STEPS = 60
"""A vehicle still uncured after so many steps is sent away: no policy here needs as many."""

NORMAL_95 = 1.959963984540054
"""Half width of a 95 % interval in standard errors, normal distribution."""


class Vehicle(Protocol):
    """A vehicle whose fault is decided, but not told."""

    def answer(self, check_id: str) -> int:
        """Which outcome the check shows on this vehicle."""

    def repair(self, job_ids: tuple[str, ...]) -> bool:
        """Do the jobs; whether the problem is gone."""


@dataclass(frozen=True, slots=True)
class Run:
    """What one vehicle cost under one policy.

    Args:
        total: in the shop's currency, comebacks and an uncured vehicle included.
        acts: what was done, in order, as (kind, ids, what it showed); for jobs 1 means cured.
    """

    total: float
    cured: bool
    checks: int
    labour_minutes: float
    acts: tuple[tuple[str, tuple[str, ...], int], ...]


@dataclass(frozen=True, slots=True)
class PolicyResult:
    """How one way of working did.

    Args:
        mean_total: mean of what owners paid; `low`, `high` its 95 % interval.
        share_cured: of all vehicles.
    """

    policy: str
    vehicles: int
    mean_total: float
    low: float
    high: float
    share_cured: float
    mean_checks: float
    mean_labour_minutes: float


@dataclass(eq=False)
class DrawnVehicle:
    """A vehicle drawn from a table model: some causes are at work, and each check reads once.

    Args:
        situation: as at the start; jobs are looked up in it.
        hypothesis: position of what is wrong.
        tables: per check, p of each outcome under each hypothesis.
    """

    situation: Situation
    hypothesis: int
    tables: Mapping[str, np.ndarray]
    rng: np.random.Generator
    _left: set[int] = field(init=False)

    def __post_init__(self) -> None:
        self._left = set(self.situation.hypotheses.members[self.hypothesis])

    def answer(self, check_id: str) -> int:
        """Draw which outcome the check shows."""
        p = self.tables[check_id][:, self._place()]
        return int(self.rng.choice(len(p), p=p / p.sum()))

    def repair(self, job_ids: tuple[str, ...]) -> bool:
        """Do the jobs; each puts right each cause left with its probability."""
        for job in job_ids:
            cures = self.situation.jobs[self.situation.job_index(job)].cures
            self._left = {cause for cause in self._left if self.rng.random() >= cures[cause]}
        return not self._left

    def _place(self) -> int:
        members = self.situation.hypotheses.members
        return next(i for i, member in enumerate(members) if set(member) == self._left)


def run_vehicle(situation: Situation, oracle: Oracle, vehicle: Vehicle, policy: Policy) -> Run:
    """Work on one vehicle as a policy says, until it is cured or given up.

    Args:
        situation, oracle: as at the start.
    """
    total = minutes = 0.0
    acts: list[tuple[str, tuple[str, ...], int]] = []
    for _ in range(MOST_STEPS):
        action = policy(situation, oracle)
        if action.kind == "leave":
            break
        if action.kind == "check":
            cost, longer, shown, situation, oracle = _make_check(situation, oracle, vehicle, action)
            total, minutes = total + cost, minutes + longer
            acts.append(("check", action.ids, shown))
            continue
        batch = tuple(situation.job_index(job) for job in action.ids)
        total += situation.batch_cost(batch, situation.opened)
        minutes += situation.batch_minutes(batch, situation.opened)
        cured = vehicle.repair(action.ids)
        acts.append(("job", action.ids, int(cured)))
        if cured:
            return _close_run(total, True, minutes, acts)
        total += situation.comeback_cost
        gave_up = situation.jobs[batch[0]].gives_up
        if gave_up:
            return _close_run(total + situation.uncured_cost, False, minutes, acts)
        missed = situation.missed_by(batch)
        situation = replace(situation.without(jobs=batch), opened=0)
        try:
            oracle = oracle.persists(missed)
        except ImpossibleEvidence:  # all that was thought of is put right, and still it is there
            break
    total += situation.uncured_cost + float(situation.access.close_costs[situation.opened])
    minutes += float(situation.access.close_minutes[situation.opened])
    return _close_run(total, False, minutes, acts)


def simulate_policies(
    draw: Callable[[np.random.Generator], tuple[Situation, Oracle, Callable[[np.random.Generator], Vehicle]]],
    policies: Mapping[str, Policy],
    vehicles: int,
    seed: int,
) -> tuple[PolicyResult, ...]:
    """Put the same drawn vehicles through every policy.

    Args:
        draw: draws a vehicle: where it starts, and a maker of fresh copies of it (same fault, same luck).
        policies: by name, ``planner`` among them.
    Returns: one result per policy, in the order given.
    """
    runs: dict[str, list[Run]] = {name: [] for name in policies}
    for number in range(vehicles):
        situation, oracle, make = draw(np.random.default_rng([seed, number]))
        for name, policy in policies.items():
            vehicle = make(np.random.default_rng([seed, number, 1]))
            runs[name].append(run_vehicle(situation, oracle, vehicle, policy))
    return tuple(summarise_runs(name, done) for name, done in runs.items())


def summarise_runs(policy: str, runs: Iterable[Run]) -> PolicyResult:
    """Mean total with its 95 % interval, share cured, checks and labour of the runs of one policy."""
    done = list(runs)
    totals = np.array([run.total for run in done])
    spread = totals.std(ddof=1) / np.sqrt(len(done)) if len(done) > 1 else 0.0
    mean, half = float(totals.mean()), NORMAL_95 * float(spread)
    return PolicyResult(
        policy, len(done), mean, mean - half, mean + half, float(np.mean([run.cured for run in done])),
        float(np.mean([run.checks for run in done])), float(np.mean([run.labour_minutes for run in done])),
    )


def _make_check(
    situation: Situation, oracle: Oracle, vehicle: Vehicle, action: Action
) -> tuple[float, float, int, Situation, Oracle]:
    """Make one check on a vehicle: its cost, its minutes, what it showed, and where the work stands then."""
    (check,) = action.ids
    place = situation.check_index(check)
    cost, minutes, opened = situation.reach_check(place, situation.opened)
    shown = vehicle.answer(check)
    budget = None if situation.budget is None else situation.budget - cost
    later = replace(situation.without(checks=(place,)), opened=opened, budget=budget)
    return cost, minutes, shown, later, oracle.after(check, shown)


def _close_run(total: float, cured: bool, minutes: float, acts: list[tuple[str, tuple[str, ...], int]]) -> Run:
    checks = sum(kind == "check" for kind, _, _ in acts)
    return Run(total, cured, checks, minutes, tuple(acts))
