"""Whole visits of drawn vehicles, act by act, as somebody who stood beside the bench would tell them."""

from collections.abc import Sequence

import numpy as np

from shiftlore.advising import name_cause, name_job
from shiftlore.compiling import CompiledUnit
from shiftlore.knowledge import Shop
from shiftlore.simulating.habits import Habit, list_habits
from shiftlore.simulating.simulation import (
    Act,
    Drawn,
    Visit,
    draw_luck,
    draw_vehicles,
    leaving_cost,
    start_work,
    work_through,
)
from shiftlore.simulating.unit_bench import UnitBench, WorkState, set_up_bench

MOST_TOLD = 4
"""Signs that are told of one check; the others of what it showed are counted."""


def tell_visit(bench: UnitBench, vehicle: Drawn, policy: Habit, luck: np.ndarray) -> Visit:
    """Follow a vehicle through a way of working, and tell what was done, what it showed and what it cost.

    Args:
        luck: as from `draw_luck`.
    """
    compiled = bench.compiled
    state = start_work(bench, vehicle)
    acts, total, cured = list[Act](), 0.0, False
    for action, work in work_through(bench, vehicle, state, policy, luck):
        total, cured = total + work.cost, not work.left
        if action.kind == "check":
            labels: tuple[str, ...] = (compiled.expansion.checks[action.ids[0]].label,)
            showed = _name_signs(bench, vehicle, state, bench.reveals[action.ids[0]])
        else:
            labels, showed = tuple(name_job(compiled, job) for job in action.ids), ()
        acts.append(Act(action.kind, action.ids, labels, work.cost, showed=showed, cured=cured))
        state = work.state
    if not cured:
        total += leaving_cost(bench, state)
    return Visit(
        complaints=tuple(_name_sign(bench, vehicle, name) for name in vehicle.complaints),
        causes=tuple(name_cause(compiled, compiled.causes[cause]) for cause in vehicle.causes),
        acts=tuple(acts),
        total=total,
        cured=cured,
    )


def tell_visits(
    unit: CompiledUnit, vehicles: int, seed: int, count: int, policy: str, *, shop: Shop | None = None
) -> tuple[Visit, ...]:
    """Tell the first visits of a simulation.

    Args:
        vehicles, seed: as of the simulation: the same vehicles, and the same jobs that cure or do not.
        count: how many are told.
        policy: name of the way of working.
    Raises: UsageProblem: no shop.
    """
    bench = set_up_bench(unit, shop)
    drawn = draw_vehicles(bench, vehicles, np.random.default_rng(seed))[:count]
    way = list_habits(bench)[policy]
    return tuple(
        tell_visit(bench, vehicle, way, draw_luck(bench, vehicle, (seed, number)))
        for number, vehicle in enumerate(drawn)
    )


def _name_signs(bench: UnitBench, vehicle: Drawn, state: WorkState, revealed: Sequence[str]) -> tuple[str, ...]:
    """Name what a check shows beside what is known, the sound answers left out."""
    telling = [name for name in revealed if vehicle.readings[name] and name not in state.evidence]
    named = [_name_sign(bench, vehicle, name) for name in telling[:MOST_TOLD]]
    more = len(telling) - MOST_TOLD
    return (*named, f"{more} more") if more > 0 else tuple(named)


def _name_sign(bench: UnitBench, vehicle: Drawn, finding: str) -> str:
    """Name a sign of a vehicle, with its grade where it has more than one."""
    node = bench.compiled.expansion.findings[finding]
    plain = len(node.grades) == 2
    return (
        node.label if plain else bench.compiled.expansion.name_answer(finding, node.grades[vehicle.readings[finding]])
    )
