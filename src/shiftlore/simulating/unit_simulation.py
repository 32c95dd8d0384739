"""Simulated vehicles of one unit, put through the planner and the habits of shops."""

import time
from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass, replace

import numpy as np

from shiftlore.compiling import CompiledUnit
from shiftlore.knowledge import Shop
from shiftlore.network import StateArray, sample_network
from shiftlore.planning import write_book
from shiftlore.simulating.policies import SURE_ENOUGH, WORTH_TRYING
from shiftlore.simulating.quick import LEAVE, Action
from shiftlore.simulating.simulation import MOST_STEPS, PolicyResult, Run, summarise_runs
from shiftlore.simulating.unit_bench import State, UnitBench, choose_on_bench, set_up_bench

SPARE_DRAWS = 3
"""Vehicles drawn per vehicle wanted: some show no complaint and would not have been brought in."""

BOOK_STARTS = 30
"""Vehicles whose first beliefs the book of plans is written for; they are not among those simulated."""

MOST_CHECKS = 12
"""Checks after which a shop that works by habit stops checking and does something: judgement."""

TEARDOWN = "overhaul"
FLUID, PAN, SCAN, PRESSURE = "fluid", "pan", "scan", "pressure"

UnitPolicy = Callable[[UnitBench, State], Action]


@dataclass(frozen=True, slots=True)
class Simulation:
    """Results of a simulation, the planner first."""

    unit: str
    vehicles: int
    seed: int
    currency: str
    policies: tuple[PolicyResult, ...]
    seconds: float


@dataclass(frozen=True, slots=True, eq=False)
class Drawn:
    """A drawn vehicle: its causes, and what every finding would read."""

    causes: tuple[int, ...]
    readings: Mapping[str, int]
    complaints: tuple[str, ...]


def simulate_unit(
    unit: CompiledUnit,
    vehicles: int,
    seed: int,
    shop: Shop | None = None,
    policies: Mapping[str, UnitPolicy] | None = None,
    only: Collection[str] | None = None,
    tell_done: Callable[[int], None] | None = None,
) -> Simulation:
    """Put drawn vehicles of a unit through several ways of working.

    Args:
        vehicles: how many, at least 1.
        policies: by name; None takes `list_policies`.
        only: names of the policies wanted; None takes all.
        tell_done: called with the number of vehicles done, after each.
    Raises: UsageProblem: no shop.
    """
    begun = time.perf_counter()
    bench = set_up_bench(unit, shop)
    drawn = draw_vehicles(bench, vehicles + BOOK_STARTS, np.random.default_rng(seed))
    early = [start_work(bench, vehicle).belief for vehicle in drawn[:BOOK_STARTS]]
    bench = replace(bench, book=write_book(bench.situation, np.array(early)))
    known = policies or list_policies(bench)
    ways = {name: policy for name, policy in known.items() if only is None or name in only}
    runs: dict[str, list[Run]] = {name: [] for name in ways}
    for number, vehicle in enumerate(drawn[BOOK_STARTS:]):
        start = start_work(bench, vehicle)
        for name, policy in ways.items():
            runs[name].append(work_on(bench, vehicle, start, policy, np.random.default_rng([seed, number])))
        if tell_done is not None:
            tell_done(number + 1)
    results = tuple(summarise_runs(name, done) for name, done in runs.items())
    currency = (shop or unit.knowledge.shop).currency  # type: ignore[union-attr]
    return Simulation(unit.expansion.unit, vehicles, seed, currency, results, time.perf_counter() - begun)


def list_policies(bench: UnitBench) -> dict[str, UnitPolicy]:
    """The planner and four habits: cheapest check, likeliest cause, a fixed order, straight to overhaul."""
    order = _usual_order(bench)
    return {
        "planner": plan_and_persist,
        "cheapest_check": lambda at, state: _check_until_sure(at, state, np.argsort(at.check_costs, kind="stable")),
        "likeliest_cause": do_likeliest,
        "fixed_order": lambda at, state: _check_until_sure(at, state, order),
        "overhaul": _overhaul_first,
    }


def draw_vehicles(bench: UnitBench, count: int, rng: np.random.Generator) -> list[Drawn]:
    """Draw vehicles with a fault and at least one complaint."""
    found: list[Drawn] = []
    while len(found) < count:
        states = sample_network(bench.compiled.network, rng, SPARE_DRAWS * count)
        found += _keep_brought_in(bench, states)
    return found[:count]


def start_work(bench: UnitBench, vehicle: Drawn) -> State:
    """The state in which a vehicle comes in: complaints, and what the owner is asked, are known."""
    known = {name: vehicle.readings[name] for name in (*vehicle.complaints, *bench.asked)}
    situation = bench.situation
    checked, done = (np.zeros(len(acts), dtype=bool) for acts in (situation.checks, situation.jobs))
    return bench.believe(State(known, np.zeros(0), 0, checked, done))


def work_on(bench: UnitBench, vehicle: Drawn, state: State, policy: UnitPolicy, rng: np.random.Generator) -> Run:
    """Work on one vehicle as a policy says, until it is cured or left.

    An exchange that did not cure is not the end here: what lies outside the unit can still be put right.
    """
    situation, left = bench.situation, set(vehicle.causes)
    total = minutes = 0.0
    acts: list[tuple[str, tuple[str, ...], int]] = []
    for _ in range(MOST_STEPS):
        action = policy(bench, state)
        if action.kind == "leave":
            break
        if action.kind == "check":
            cost, longer, state = _make_check(bench, vehicle, state, action.ids[0])
            total, minutes = total + cost, minutes + longer
            acts.append(("check", action.ids, 0))
            continue
        batch = tuple(situation.job_index(job) for job in action.ids)
        total += situation.batch_cost(batch, state.opened)
        minutes += situation.batch_minutes(batch, state.opened)
        left = {cause for cause in left if not _is_cured(bench, batch, cause, rng)}
        acts.append(("job", action.ids, int(not left)))
        if not left:
            return Run(total, True, sum(kind == "check" for kind, _, _ in acts), minutes, tuple(acts))
        total += situation.comeback_cost
        done = state.done.copy()
        done[list(batch)] = True
        state = bench.believe(replace(state, opened=0, done=done))
    total += situation.uncured_cost + float(situation.access.close_costs[state.opened])
    return Run(total, False, sum(kind == "check" for kind, _, _ in acts), minutes, tuple(acts))


def plan_and_persist(bench: UnitBench, state: State) -> Action:
    """The planner; where it would let the vehicle go uncured, it goes on as the habits do.

    No shop sends a customer away while a job may still help, so that the ways of working are compared at the same
    end: without this the planner is cheaper still, and cures fewer.
    """
    action = choose_on_bench(bench, state)
    return do_likeliest(bench, state) if action.kind == "leave" else action


def do_likeliest(bench: UnitBench, state: State) -> Action:
    """Check nothing; do the job that most probably helps, at last the cheapest exchange."""
    job, p = _surest_job(bench, state)
    if p >= WORTH_TRYING:
        return Action("job", (bench.situation.jobs[job].id,))
    ways_out = [out for out in bench.situation.last_resorts if not state.done[out]]
    if not ways_out:
        return LEAVE
    cheapest = min(ways_out, key=lambda out: bench.situation.batch_cost((out,), state.opened))
    return Action("job", (bench.situation.jobs[cheapest].id,))


def _overhaul_first(bench: UnitBench, state: State) -> Action:
    """The overhaul at once, then what is likeliest."""
    places = [i for i, job in enumerate(bench.situation.jobs) if job.id == TEARDOWN and not state.done[i]]
    return Action("job", (TEARDOWN,)) if places else do_likeliest(bench, state)


def _check_until_sure(bench: UnitBench, state: State, order: np.ndarray) -> Action:
    """Checks in a given order until one job is sure enough, then the likeliest job."""
    following = next(
        (int(c) for c in order if not state.checked[c] and not bench.is_known(int(c), state.evidence)), None
    )
    enough = int(state.checked.sum()) >= MOST_CHECKS
    if following is None or enough or _surest_job(bench, state)[1] >= SURE_ENOUGH:
        return do_likeliest(bench, state)
    return Action("check", (bench.situation.checks[following].id,))


def _usual_order(bench: UnitBench) -> np.ndarray:
    """Fluid, pan, scan, pressure, then the rest from the least taken apart to the most."""
    def rank(place: int) -> tuple[int, int, float]:
        name = bench.situation.checks[place].id
        first = next((i for i, word in enumerate((FLUID, PAN, SCAN, PRESSURE)) if word in name), 4)
        depth = bin(bench.situation.check_masks[place]).count("1")
        return first, depth, float(bench.check_costs[place])

    return np.array(sorted(range(len(bench.situation.checks)), key=rank), dtype=np.intp)


def _surest_job(bench: UnitBench, state: State) -> tuple[int, float]:
    p = bench.touches @ state.belief
    p[list(bench.situation.last_resorts)] = -1.0
    p[state.done] = -1.0
    best = int(np.argmax(p))
    return best, float(p[best])


def _keep_brought_in(bench: UnitBench, states: Mapping[str, StateArray]) -> list[Drawn]:
    """Those of the drawn vehicles that have a fault and show a complaint."""
    compiled = bench.compiled
    records, root = compiled.expansion.finding_records, compiled.network.roots[0]
    findings = {name: states[name] for name in records if name in states}
    complaints = [name for name in findings if records[name].complaint]
    kept = []
    for row, fault in enumerate(states[root]):
        causes = compiled.faults.members[int(fault)]
        shown = tuple(name for name in complaints if findings[name][row])
        if causes and shown:
            kept.append(Drawn(causes, {name: int(column[row]) for name, column in findings.items()}, shown))
    return kept


def _make_check(bench: UnitBench, vehicle: Drawn, state: State, check: str) -> tuple[float, float, State]:
    """Make one check: its cost and minutes, and the state with all its findings read."""
    place = bench.situation.check_index(check)
    cost, minutes, opened = bench.situation.reach_check(place, state.opened)
    read = {name: vehicle.readings[name] for name in bench.reveals[check]}
    checked = state.checked.copy()
    checked[place] = True
    later = replace(state, evidence={**state.evidence, **read}, opened=opened, checked=checked)
    return cost, minutes, bench.believe(later)


def _is_cured(bench: UnitBench, batch: tuple[int, ...], cause: int, rng: np.random.Generator) -> bool:
    """Whether the jobs put a cause right, by chance where the work may fail."""
    place = int(np.searchsorted(bench.weighing.kept, cause))
    missed = bench.situation.missed_by(batch)[place]
    return bool(rng.random() >= missed)
