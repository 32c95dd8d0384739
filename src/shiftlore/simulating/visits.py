"""Whole visits of drawn vehicles, act by act, as somebody who stood beside the bench would tell them."""

from collections.abc import Sequence

from shiftlore.advising import name_cause, name_job
from shiftlore.simulating.simulation import Act, Drawn, Visit, Watch, WorkedAct, sum_up
from shiftlore.simulating.unit_bench import UnitBench, WorkState

MOST_TOLD = 4
"""Signs that are told of one check; the others of what it showed are counted."""


def tell_acts(bench: UnitBench, vehicle: Drawn, state: WorkState, acts: Sequence[WorkedAct]) -> Visit:
    """Tell what was done on a vehicle, what it showed and what it cost.

    Args:
        state: as it came in.
    """
    compiled, run, told = bench.compiled, sum_up(bench, state, acts), list[Act]()
    for action, work in acts:
        if action.kind == "check":
            labels: tuple[str, ...] = (compiled.expansion.checks[action.ids[0]].label,)
            showed = _name_signs(bench, vehicle, state, bench.reveals[action.ids[0]])
        else:
            labels, showed = tuple(name_job(compiled, job) for job in action.ids), ()
        told.append(Act(action.kind, action.ids, labels, work.cost, showed=showed, cured=not work.left))
        state = work.state
    return Visit(
        complaints=tuple(_name_sign(bench, vehicle, name) for name in vehicle.complaints),
        causes=tuple(name_cause(compiled, compiled.causes[cause]) for cause in vehicle.causes),
        acts=tuple(told),
        total=run.total,
        cured=run.cured,
    )


def watch_visits(told: list[Visit], most: int) -> Watch:
    """Watch a simulation, and tell its first vehicles as they are worked on.

    Args:
        told: where they are told; most: how many.
    """

    def watch(bench: UnitBench, vehicle: Drawn, state: WorkState, acts: Sequence[WorkedAct]) -> None:
        if len(told) < most:
            told.append(tell_acts(bench, vehicle, state, acts))

    return watch


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
