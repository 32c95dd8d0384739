"""Simulated vehicles of one unit, put through the planner and the habits of shops."""

import time
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from shiftlore.basics.quantities import NORMAL_95
from shiftlore.compiling import CompiledUnit
from shiftlore.exact import Evidence
from shiftlore.knowledge import Shop
from shiftlore.network import sample_network
from shiftlore.simulating.habits import Habit, list_habits
from shiftlore.simulating.unit_bench import Action, UnitBench, WorkState, leaving_cost, set_up_bench

MOST_STEPS = 60
"""A vehicle still uncured after so many steps is sent away: no habit here needs as many."""

SPARE_DRAWS = 3
"""Vehicles drawn per vehicle wanted: some show no complaint and would not have been brought in."""


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
        dearer: by how much more than the first way of working on the same vehicles; `dearer_low`, `dearer_high` its
            95 % interval from the differences vehicle by vehicle.
    """

    policy: str
    vehicles: int
    mean_total: float
    low: float
    high: float
    share_cured: float
    mean_checks: float
    mean_labour_minutes: float
    dearer: float = 0.0
    dearer_low: float = 0.0
    dearer_high: float = 0.0


@dataclass(frozen=True, slots=True)
class Simulation:
    """Results of a simulation, the planner first; `invented` and `tax_percent` as of the shop.

    Args:
        visits: the first vehicles act by act, where that was asked for.
    """

    unit: str
    vehicles: int
    seed: int
    currency: str
    policies: tuple[PolicyResult, ...]
    seconds: float
    invented: tuple[str, ...] = ()
    tax_percent: float = 0.0
    visits: tuple["Visit", ...] = ()


@dataclass(frozen=True, slots=True)
class Act:
    """One act of a visit.

    Args:
        kind: ``check`` or ``job``.
        labels: the check, or the jobs that were done in one go.
        cost: of the act alone, opening and closing included; of a job in vain the comeback too.
        showed: the telling answers of a check that were not known before.
        cured: whether the vehicle drives right afterwards.
    """

    kind: str
    ids: tuple[str, ...]
    labels: tuple[str, ...]
    cost: float
    showed: tuple[str, ...] = ()
    cured: bool = False


@dataclass(frozen=True, slots=True)
class Visit:
    """One vehicle from the desk to the road.

    Args:
        complaints: what the owner came with; causes: what it was.
        total: in the shop's currency, as in `Run`.
    """

    complaints: tuple[str, ...]
    causes: tuple[str, ...]
    acts: tuple[Act, ...]
    total: float
    cured: bool


@dataclass(frozen=True, slots=True, eq=False)
class Drawn:
    """A drawn vehicle: its causes, and what every finding would read."""

    causes: tuple[int, ...]
    readings: Mapping[str, int]
    complaints: tuple[str, ...]


@dataclass(frozen=True, slots=True, eq=False)
class Work:
    """Where the work on a vehicle stands after an act.

    Args:
        left: causes that are still there; empty once it is cured.
        cost, minutes: of the act alone, a comeback included.
    """

    state: WorkState
    left: frozenset[int]
    cost: float = 0.0
    minutes: float = 0.0


WorkedAct = tuple[Action, Work]
"""What was done on a vehicle, and where it led."""
Watch = Callable[[UnitBench, Drawn, WorkState, Sequence[WorkedAct]], None]


def simulate_unit(
    unit: CompiledUnit,
    vehicles: int,
    seed: int,
    shop: Shop | None = None,
    *,
    policies: Mapping[str, Habit] | None = None,
    only: Collection[str] | None = None,
    tell_done: Callable[[int], None] | None = None,
    watch: Watch | None = None,
) -> Simulation:
    """Put drawn vehicles of a unit through several ways of working.

    Args:
        vehicles: how many, at least 1.
        policies: by name; None takes `list_habits`.
        only: names of the policies wanted; None takes all.
        tell_done: called with the number of vehicles done, after each.
        watch: shown each vehicle, as it came in and with all that the first way of working did.
    Raises: UsageProblem: no shop.
    """
    begun = time.perf_counter()
    bench = set_up_bench(unit, shop)
    drawn = draw_vehicles(bench, vehicles, np.random.default_rng(seed))
    known = policies or list_habits(bench)
    ways = {name: policy for name, policy in known.items() if only is None or name in only}
    runs: dict[str, list[Run]] = {name: [] for name in ways}
    for number, vehicle in enumerate(drawn):
        start = start_work(bench, vehicle)
        for place, (name, policy) in enumerate(ways.items()):
            acts = [*work_through(bench, vehicle, start, policy, draw_luck(bench, vehicle, (seed, number)))]
            runs[name].append(sum_up(bench, start, acts))
            if watch is not None and not place:
                watch(bench, vehicle, start, acts)
        if tell_done is not None:
            tell_done(number + 1)
    first = next(iter(runs.values()))
    results = tuple(summarise_runs(name, done, first) for name, done in runs.items())
    shop, seconds = shop or unit.knowledge.shop, time.perf_counter() - begun
    assert shop is not None, "the bench needs one, and says so"
    return Simulation(
        unit.expansion.unit,
        vehicles=vehicles,
        seed=seed,
        currency=shop.currency,
        policies=results,
        seconds=seconds,
        invented=shop.invented,
        tax_percent=shop.tax_percent,
    )


def draw_vehicles(
    bench: UnitBench, count: int, rng: np.random.Generator, p_faults: np.ndarray | None = None
) -> list[Drawn]:
    """Draw vehicles with a fault and at least one complaint.

    Args:
        p_faults: how often each fault is drawn, shape (n_faults,); None draws them as often as they come in.
    """
    compiled, found = bench.compiled, list[Drawn]()
    records, fault = compiled.expansion.finding_records, compiled.network.roots[0]
    given = None if p_faults is None else {fault: p_faults}
    while len(found) < count:
        states = sample_network(compiled.network, rng, SPARE_DRAWS * count, given)
        findings = {name: states[name] for name in records if name in states}
        complaints = [name for name in findings if records[name].complaint]
        for row, number in enumerate(states[fault]):
            causes = compiled.faults.members[int(number)]
            shown = tuple(name for name in complaints if findings[name][row])
            if causes and shown:
                found.append(Drawn(causes, {name: int(column[row]) for name, column in findings.items()}, shown))
    return found[:count]


def start_work(bench: UnitBench, vehicle: Drawn, told: Evidence | None = None) -> WorkState:
    """The state in which a vehicle comes in: complaints, and what the owner is asked, are known.

    Args:
        told: what the owner says instead, finding -> state or doubted state.
    """
    if told is None:
        told = {name: vehicle.readings[name] for name in (*vehicle.complaints, *bench.asked)}
    situation, case = bench.situation, replace(bench.compiled.case, complaint=vehicle.complaints)
    checked, done = (np.zeros(len(acts), dtype=bool) for acts in (situation.checks, situation.jobs))
    compiled = bench.compiled.vary(case=case, evidence=told)
    return bench.believe(WorkState(compiled, np.zeros(0), 0, checked, done))


def draw_luck(bench: UnitBench, vehicle: Drawn, seed: tuple[int, int]) -> np.ndarray:
    """Draw how well each job would come out on each cause of a vehicle, 0 to 1, shape (n_own_causes, n_jobs).

    Drawn beforehand, the same job comes out the same in every way of working: only then do they differ by their work.
    Jobs of one kind come out alike.
    """
    kinds = [job.kind or job.id for job in bench.situation.jobs]
    luck = np.random.default_rng(seed).random((len(vehicle.causes), len(kinds)))
    return luck[:, [kinds.index(kind) for kind in kinds]]


def work_on(bench: UnitBench, vehicle: Drawn, state: WorkState, policy: Habit, luck: np.ndarray) -> Run:
    """Work on one vehicle as a policy says, until it is cured or left.

    An exchange that did not cure is not the end here: what lies outside the unit can still be put right.

    Args:
        luck: as from `draw_luck`.
    """
    return sum_up(bench, state, [*work_through(bench, vehicle, state, policy, luck)])


def sum_up(bench: UnitBench, state: WorkState, acts: Sequence[WorkedAct]) -> Run:
    """Add up what was done on a vehicle; one that is left uncured is closed and costs what follows from it.

    Args:
        state: as it came in.
    """
    total, minutes = (sum((getattr(work, name) for _, work in acts), 0.0) for name in ("cost", "minutes"))
    is_cured = bool(acts) and not acts[-1][1].left
    if not is_cured:
        total += leaving_cost(bench, acts[-1][1].state if acts else state)
    done = tuple((action.kind, action.ids, int(not work.left)) for action, work in acts)
    return Run(total, is_cured, sum(kind == "check" for kind, _, _ in done), minutes, done)


def work_through(
    bench: UnitBench, vehicle: Drawn, state: WorkState, policy: Habit, luck: np.ndarray
) -> Iterator[WorkedAct]:
    """Give every act of a way of working on a vehicle, with where it leads; as `work_on`."""
    work = Work(state, frozenset(vehicle.causes))
    for _ in range(MOST_STEPS):
        action = policy(bench, work.state)
        if action.kind == "leave":
            return
        work = act_on(bench, vehicle, work, action, luck)
        yield action, work
        if not work.left:
            return


def act_on(bench: UnitBench, vehicle: Drawn, work: Work, action: Action, luck: np.ndarray) -> Work:
    """Make a check or do jobs on a vehicle: what it costs, what is known then, and what is still wrong.

    Args:
        action: a check, or jobs in one go.
        luck: as from `draw_luck`.
    """
    situation, state = bench.situation, work.state
    if action.kind == "check":
        place = situation.check_index(action.ids[0])
        cost, minutes, opened = situation.reach_check(place, state.opened)
        read = {name: vehicle.readings[name] for name in bench.reveals[action.ids[0]]}
        checked = state.checked.copy()
        checked[place] = True
        later = replace(state, compiled=state.compiled.with_evidence(read), opened=opened, checked=checked)
        return Work(bench.believe(later), work.left, cost, minutes)
    batch = tuple(situation.job_index(job) for job in action.ids)
    cost, minutes = situation.batch_cost(batch, state.opened), situation.batch_minutes(batch, state.opened)
    right = dict(zip(vehicle.causes, luck < bench.cures[:, list(vehicle.causes)].T, strict=True))
    left = frozenset(cause for cause in work.left if not right[cause][list(batch)].any())
    done = state.done.copy()
    done[list(batch)] = True
    if not left:
        return Work(replace(state, opened=0, done=done), left, cost, minutes)
    later = replace(state, compiled=state.compiled.with_vain(action.ids), opened=0, done=done)
    return Work(bench.believe(later), left, cost + situation.comeback_cost, minutes)


def summarise_runs(policy: str, runs: Iterable[Run], first: Iterable[Run]) -> PolicyResult:
    """Means of the runs of one policy, and how they differ from those of the first one, vehicle by vehicle."""
    done = list(runs)
    totals = np.array([run.total for run in done])
    mean, half = _mean_95(totals)
    dearer, about = _mean_95(totals - np.array([run.total for run in first]))
    return PolicyResult(
        policy=policy,
        vehicles=len(done),
        mean_total=mean,
        low=mean - half,
        high=mean + half,
        share_cured=float(np.mean([run.cured for run in done])),
        mean_checks=float(np.mean([run.checks for run in done])),
        mean_labour_minutes=float(np.mean([run.labour_minutes for run in done])),
        dearer=dearer,
        dearer_low=dearer - about,
        dearer_high=dearer + about,
    )


def _mean_95(values: np.ndarray) -> tuple[float, float]:
    """Mean, and half the width of its 95 % interval."""
    spread = values.std(ddof=1) / np.sqrt(len(values)) if len(values) > 1 else 0.0
    return float(values.mean()), NORMAL_95 * float(spread)
