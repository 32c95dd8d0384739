"""Work a unit's chart out on its gear train: ratios, torques, speeds, and what contradicts the sheet."""

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from shiftlore.basics import Problem
from shiftlore.gearing.motions import DRIVEN, STATE_WORDS, Motion, analyse_states, compile_motion, solve_torques
from shiftlore.gearing.proofs import (
    REFUSE_PERCENT,
    WARN_PERCENT,
    Complaints,
    advise_ratio,
    check_chart,
    check_structure,
    find_lets,
    find_scaled,
)
from shiftlore.gearing.sheet_trains import build_train, generic_motion, list_lines, list_states, turn_forward
from shiftlore.gearing.trains import GearState, Train
from shiftlore.sheets import SheetSet, UnitSheet, says_ties

if TYPE_CHECKING:
    from shiftlore.gearing.solving import Solution

# With more gears than these that could each be the wrong one, naming them helps nobody (judgement).
MOST_SUSPECTS = 3


@dataclass(frozen=True, slots=True)
class ChartLine:
    """What the gear train makes of one line of the chart.

    Args:
        state: `driven`, `neutral` or `tied_up`.
        ratio: computed, or None.
        error_percent: against the printed ratio, or None where one of the two is missing.
        torque: element -> torque on it in multiples of the input torque, unsigned.
        speeds: member or shaft -> speed in multiples of the input speed; members that float are missing.
        pinions: set -> speed of its pinions relative to their carrier, where their teeth are known.
        brakes_engine: whether the engine brakes the vehicle in this line.
    """

    state: str
    ratio: float | None = None
    error_percent: float | None = None
    torque: Mapping[str, float] = field(default_factory=dict)
    speeds: Mapping[str, float] = field(default_factory=dict)
    pinions: Mapping[str, float] = field(default_factory=dict)
    brakes_engine: bool = False


@dataclass(frozen=True, slots=True)
class WorkedTrain:
    """The gear train of a sheet, worked out.

    Args:
        train, motion: None where the sheet states no sets, or too little to fill them in.
        solution: how unknown set ratios were found, or None if none were.
        lines: gear and range name -> what comes of it.
        missing: what could not be computed, and why.
        problems: what contradicts the sheet.
    """

    sheet: UnitSheet
    train: Train | None
    motion: Motion | None
    solution: "Solution | None"
    lines: Mapping[str, ChartLine]
    missing: tuple[str, ...]
    problems: tuple[Problem, ...]


def work_out(sheet: UnitSheet) -> WorkedTrain:
    """Build and prove the gear train of a sheet whose links are right."""
    if sheet.kind_only:
        return _give_up(sheet, "The sheet stands for units that are not known: choose the unit's own sheet for ratios.")
    if not says_ties(sheet):
        why = "The sheet states no sets and connections: no speeds, torques or tie-ups; faults follow from the chart."
        return _give_up(sheet, why)
    train = build_train(sheet)
    states = list_states(sheet, train)
    complaints = check_structure(sheet, train, states)
    sound = [state for name, state in states.items() if name not in {place for place, _ in complaints}]
    missing: list[str] = []
    solution = None
    suspects: dict[str, float] = {}
    if train.unknown():
        own = {name for name, line in list_lines(sheet).items() if line.ratio is not None}
        usable = [state for state in sound if state.name in own]
        if not usable:
            names = ", ".join(dict.fromkeys(train.meshes[place].set_id for place in train.unknown()))
            why = f"Neither teeth nor gear ratios are stated, so the ratios of {names} stay unknown."
            return _give_up(sheet, why, train, complaints)
        solution, suspects = _solve(turn_forward(train, usable, generic_motion(train)), usable)
        train = solution.train
        if solution.open_sets:
            names = ", ".join(solution.open_sets)
            missing.append(f"The stated gear ratios do not fix the set ratio of {names}; a usual one stands in.")
    train = turn_forward(train, sound, compile_motion(train))
    train, motion, found = find_lets(sheet, train, states)
    lines = _work_lines(sheet, train, motion, states)
    complaints = check_chart(
        sheet,
        motion,
        states,
        {name: line.ratio for name, line in lines.items()},
        [*complaints, *found, *find_scaled(sheet, train, states)],
        advise_ratio(sheet, solution is not None, suspects),
    )
    problems = tuple(problem for _, problem in complaints)
    return WorkedTrain(sheet, train, motion, solution, lines, (*missing, *_list_missing(sheet)), problems)


def check_sheet(sheet: UnitSheet) -> list[Problem]:
    """Prove the chart of a sheet: every line a gear, every printed ratio met.

    Nothing is said of what only follows from a dangling name, which `read_sheet` reports.

    Returns: problems; those of severity `error` refuse the sheet.
    """
    from shiftlore.sheets import has_sound_ties

    if not sheet.gears or not has_sound_ties(sheet):
        return []
    worked = work_out(sheet)
    unread = [line.mark for line in list_lines(sheet).values() if not {*line.on, *line.coast} <= sheet.elements.keys()]
    problems = [problem for problem in worked.problems if problem.mark not in unread]
    return [*problems, *_check_failsafe(worked)]


def _check_failsafe(worked: WorkedTrain) -> list[Problem]:
    """See that the failsafe gear is what the solenoids leave when all of them lose power."""
    sheet = worked.sheet
    gear = sheet.gears.get(sheet.failsafe_gear or "")
    if gear is None or sheet.kind_only:
        return []
    dark = next((pattern for pattern in sheet.other_patterns if not pattern.on), None)
    own = [item for item in sheet.solenoids.values() if item.acts == "directly" and item.controls]
    controlled = {name for item in own for name in item.controls}
    if dark is not None:
        left = sheet.gears[dark.gives].on if dark.gives in sheet.gears else dark.applies
        wrong = sorted((set(left) ^ set(gear.on)) - set(gear.coast))
    elif own and all(item.unpowered for item in own) and controlled:
        held = {name for item in own if item.unpowered == "applies" for name in item.controls}
        wrong = sorted((held ^ set(gear.on)) & (controlled - set(gear.coast)))
    else:
        wrong = []
    if not wrong:
        return []
    what = f"Without power the solenoids do not leave gear {gear.name}: {', '.join(wrong)} would be wrong"
    advice = "Check what each solenoid does unpowered, the patterns, and failsafe_gear."
    return [Problem(gear.mark, "U150", what, advice, "warning")]


def _give_up(sheet: UnitSheet, why: str, train: Train | None = None, complaints: Complaints = ()) -> WorkedTrain:
    """Say why nothing can be computed from the gear train."""
    return WorkedTrain(sheet, train, None, None, {}, (why,), tuple(problem for _, problem in complaints))


def _solve(train: Train, usable: list[GearState]) -> tuple["Solution", dict[str, float]]:
    """Solve the unknown set ratios; if nothing fits all gears, leave out the one line that spoils it, if there is one.

    The line left out then shows its error in full, and the sound ones do not.

    Returns: the solution; and the gears that may be the wrong one, nearest first, with the ratio each would have.
    """
    from shiftlore.gearing.solving import solve_ratios

    solution = solve_ratios(train, usable)
    if solution.worst_percent <= REFUSE_PERCENT or len(usable) < len(train.unknown()) + 2:
        return solution, {}
    fits: list[tuple[float, str, float, Solution]] = []
    for state in usable:
        without = solve_ratios(train, [other for other in usable if other is not state], quick=True)
        if without.worst_percent > WARN_PERCENT or len(without.open_sets) > len(solution.open_sets):
            continue
        motion = compile_motion(without.train)
        result = analyse_states(motion, motion.mask(state.closed)[None])
        if result.kind[0] == DRIVEN and result.out[0] and state.ratio:
            ratio = float(1 / result.out[0])
            fits.append((abs(math.log(abs(ratio / state.ratio))), state.name, ratio, without))
    fits.sort(key=lambda fit: fit[:2])
    if not 0 < len(fits) <= MOST_SUSPECTS:
        return solution, {}
    return fits[0][3], {name: ratio for _, name, ratio, _ in fits}


def _list_missing(sheet: UnitSheet) -> list[str]:
    missing = []
    bare = [name for name, line in sheet.gears.items() if line.kind != "neutral" and line.ratio is None]
    if bare:
        missing.append(f"No ratio is printed for {', '.join(bare)}: the computed one could not be proved there.")
    blind = [item.id for item in sheet.sets.values() if item.kind in ("double_pinion", "ravigneaux", "stepped")]
    blind = [name for name in blind if not any("pinion" in key for key in sheet.sets[name].teeth)]
    if blind:
        missing.append(f"No pinion teeth are stated for {', '.join(blind)}: no pinion speeds there.")
    if not sheet.solenoids:
        missing.append("The sheet has no solenoids: nothing to say about stuck ones.")
    return missing


def _work_lines(
    sheet: UnitSheet, train: Train, motion: Motion, states: Mapping[str, GearState]
) -> dict[str, ChartLine]:
    names = list(states)
    closed = np.array([motion.mask(states[name].closed) for name in names])
    result = analyse_states(motion, closed)
    driven = np.flatnonzero(result.kind == DRIVEN)
    torque = np.zeros(closed.shape)
    if len(driven):
        torque[driven] = solve_torques(motion, closed[driven])[0]
    braking = closed.copy()
    for row, name in enumerate(names):
        braking[row, list(motion.one_way)] = False
        braking[row] |= motion.mask(states[name].coast)
    coast = analyse_states(motion, braking)
    lines = {}
    for row, name in enumerate(names):
        if result.kind[row] != DRIVEN or not result.out[row]:
            lines[name] = ChartLine(STATE_WORDS[result.kind[row]])
            continue
        ratio = float(1 / result.out[row])
        stated = states[name].ratio
        speeds = _speeds(motion, result.q[row], result.free[row])
        lines[name] = ChartLine(
            "driven",
            ratio,
            None if stated is None else float(100 * (ratio / stated - 1)),
            {
                c.id: abs(float(torque[row, place]))
                for place, c in enumerate(train.couplings)
                if c.id in sheet.elements and closed[row, place]
            },
            speeds,
            _pinion_speeds(sheet, train, speeds),
            bool(coast.kind[row] == DRIVEN and abs(coast.out[row] - result.out[row]) < 1e-9),
        )
    return lines


def _speeds(motion: Motion, q: np.ndarray, free: np.ndarray) -> dict[str, float]:
    speeds = motion.basis @ q
    floats = np.einsum("nd,de,ne->n", motion.basis, free, motion.basis) > 1e-7
    return {name: float(speeds[row]) for name, row in motion.nodes.items() if not floats[row]}


def _pinion_speeds(sheet: UnitSheet, train: Train, speeds: Mapping[str, float]) -> dict[str, float]:
    """Give how fast pinions turn on their pins; a simple set needs no pinion teeth, they fill the gap."""
    found = {}
    for item in sheet.sets.values():
        mesh = next((mesh for mesh in train.meshes if mesh.set_id == item.id), None)
        carrier = 0.0 if mesh is None or mesh.carrier not in speeds else speeds[mesh.carrier]
        for name, pinion in _sun_pinions(item):
            sun = speeds.get(f"{item.id}.{name}")
            if pinion in item.teeth and name in item.teeth and sun is not None:
                found[item.id] = -item.teeth[name] / item.teeth[pinion] * (sun - carrier)
        sun = speeds.get(f"{item.id}.sun")
        if item.kind == "simple" and item.id not in found and sun is not None and mesh and (mesh.ratio or 0) > 1:
            found[item.id] = -2 / ((mesh.ratio or 0) - 1) * (sun - carrier)
    return found


def _sun_pinions(item: SheetSet) -> list[tuple[str, str]]:
    return {
        "simple": [("sun", "pinion")],
        "double_pinion": [("sun", "pinion_at_sun")],
        "stepped": [("sun", "pinion_at_sun")],
        "ravigneaux": [("small_sun", "short_pinion"), ("large_sun", "long_pinion")],
    }.get(item.kind, [])
