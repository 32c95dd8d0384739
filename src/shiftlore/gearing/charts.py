"""Work a unit's chart out on its gear train: ratios, torques, speeds, and what contradicts the sheet."""

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

import numpy as np

from shiftlore.basics import Problem
from shiftlore.gearing.motions import (
    DRIVEN,
    NEUTRAL,
    STATE_WORDS,
    Motion,
    analyse_states,
    compile_motion,
    find_directions,
    generic_motion,
    load_couplings,
    resolve_drive,
    turn_forward,
)
from shiftlore.gearing.trains import (
    CASE,
    CouplingKind,
    GearState,
    Train,
    build_train,
    list_lines,
    list_states,
    stated_ratio,
)
from shiftlore.sheets import SheetGear, UnitSheet, says_ties

if TYPE_CHECKING:
    from shiftlore.gearing.solving import Solution

Complaints = Sequence[tuple[str, Problem]]
# Printed ratios are rounded to two or three digits: 0.6 % is what real charts keep to, 1 % is refused.
WARN_PERCENT = 0.6
REFUSE_PERCENT = 1.0
SAME_RATIO = 1e-6
# With more gears than these that could each be the wrong one, naming them helps nobody (judgement).
MOST_SUSPECTS = 3
# Kind of set -> its suns, each with the pinion that rolls on it.
SUN_PINIONS = {
    "simple": (("sun", "pinion"),),
    "double_pinion": (("sun", "pinion_at_sun"),),
    "stepped": (("sun", "pinion_at_sun"),),
    "ravigneaux": (("small_sun", "short_pinion"), ("large_sun", "long_pinion")),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class GearLine:
    """One line of the chart as worked out.

    Args:
        kind: `forward`, `reverse`, `neutral` or `held`.
        ratio_stated, ratio_computed: input over output speed, negative in reverse; None where not known.
        error_percent: computed against stated, or None where one of the two is missing.
        elements: ids applied under drive; `coast` those applied only for engine braking.
        torque: element -> torque on it in multiples of the input torque, unsigned.
        speeds: member or shaft -> speed in multiples of the input speed; members that float are missing.
        pinions: set -> speed of its pinions against their carrier, where their teeth are known.
        state: `driven`, `neutral`, `tied_up`, or `unknown` where nothing could be computed.
        brakes_engine: whether the engine brakes the vehicle, or None if not known.
        lockup: whether the converter clutch may work.
    """

    kind: str
    ratio_stated: float | None
    ratio_computed: float | None = None
    error_percent: float | None = None
    elements: tuple[str, ...]
    coast: tuple[str, ...]
    torque: Mapping[str, float] = field(default_factory=dict)
    speeds: Mapping[str, float] = field(default_factory=dict)
    pinions: Mapping[str, float] = field(default_factory=dict)
    state: str = "unknown"
    brakes_engine: bool | None = None
    lockup: bool

    @property
    def ratio(self) -> float | None:
        """The computed ratio where there is one, else the printed one."""
        return self.ratio_stated if self.ratio_computed is None else self.ratio_computed


@dataclass(frozen=True, slots=True)
class WorkedTrain:
    """The gear train of a sheet, worked out.

    Args:
        train, motion: None where the sheet states no sets, or too little to fill them in.
        solution: how unknown set ratios were found, or None if none were.
        lines: gear and range name -> what comes of it; only what the sheet says where `motion` is None.
        missing: what could not be computed, and why.
        problems: what contradicts the sheet.
    """

    sheet: UnitSheet
    train: Train | None
    motion: Motion | None
    solution: "Solution | None"
    lines: Mapping[str, GearLine]
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
        {name: line.ratio_computed for name, line in lines.items()},
        complaints=[*complaints, *found, *find_scaled(sheet, train, states)],
        advice=advise_ratio(sheet, solution is not None, suspects),
    )
    problems = tuple(problem for _, problem in complaints)
    return WorkedTrain(
        sheet,
        train,
        motion,
        solution=solution,
        lines=lines,
        missing=(*missing, *_list_missing(sheet)),
        problems=problems,
    )


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
    problems = tuple(problem for _, problem in complaints)
    return WorkedTrain(sheet, train, None, solution=None, lines=_start_lines(sheet), missing=(why,), problems=problems)


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
    planets = [item for item in sheet.sets.values() if item.kind in ("double_pinion", "ravigneaux", "stepped")]
    blind = [item.id for item in planets if not any("pinion" in key for key in item.teeth)]
    if blind:
        missing.append(f"No pinion teeth are stated for {', '.join(blind)}: no pinion speeds there.")
    if not sheet.solenoids:
        missing.append("The sheet has no solenoids: nothing to say about stuck ones.")
    return missing


def _start_lines(sheet: UnitSheet) -> dict[str, GearLine]:
    """Give what the sheet itself says of every line."""
    return {
        name: GearLine(
            kind="held" if line.range_of is not None else line.kind,
            ratio_stated=stated_ratio(sheet, line),
            elements=tuple(line.on),
            coast=line.coast,
            lockup=(line.range_of or name) in sheet.lockup_gears,
        )
        for name, line in list_lines(sheet).items()
    }


def _work_lines(sheet: UnitSheet, train: Train, motion: Motion, states: Mapping[str, GearState]) -> dict[str, GearLine]:
    closed = motion.masks(states.values())
    result = analyse_states(motion, closed)
    torque = load_couplings(motion, closed, result)
    braking = np.array([motion.applied(state) | motion.mask(state.coast) for state in states.values()])
    coast = analyse_states(motion, braking)
    lines = {}
    for row, (name, line) in enumerate(_start_lines(sheet).items()):
        lines[name] = replace(line, state=STATE_WORDS[result.kind[row]])
        if result.kind[row] != DRIVEN:
            continue
        ratio, stated = float(1 / result.out[row]), line.ratio_stated
        speeds = _speeds(motion, result.q[row], result.free[row])
        held = [(c.id, place) for place, c in enumerate(train.couplings) if closed[row, place]]
        lines[name] = replace(
            lines[name],
            ratio_computed=ratio,
            error_percent=None if stated is None else 100 * (ratio / stated - 1),
            torque={item: abs(float(torque[row, place])) for item, place in held if item in sheet.elements},
            speeds=speeds,
            pinions=_pinion_speeds(sheet, train, speeds),
            brakes_engine=bool(coast.kind[row] == DRIVEN and abs(coast.out[row] - result.out[row]) < 1e-9),
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
        for name, pinion in SUN_PINIONS.get(item.kind, ()):
            sun = speeds.get(f"{item.id}.{name}")
            if pinion in item.teeth and name in item.teeth and sun is not None:
                found[item.id] = -item.teeth[name] / item.teeth[pinion] * (sun - carrier)
        sun = speeds.get(f"{item.id}.sun")
        if item.kind == "simple" and item.id not in found and sun is not None and mesh and (mesh.ratio or 0) > 1:
            found[item.id] = -2 / ((mesh.ratio or 0) - 1) * (sun - carrier)
    return found


def advise_ratio(sheet: UnitSheet, is_solved: bool, suspects: Mapping[str, float]) -> str:
    """Say where to look when a printed ratio is not met.

    Args:
        is_solved: whether set ratios were solved from the printed ones.
        suspects: gears without which all others agree, with the ratio that each would have.
    """
    if not is_solved:
        return "Check the tooth counts, the elements of this line, and the printed ratio."
    if suspects:
        named = " or ".join(f"gear {name} (it would be {abs(ratio):.3f})" for name, ratio in suspects.items())
        return f"All others agree without {named}: check the elements and the printed ratio there."
    teeth = " the teeth," if any(item.teeth for item in sheet.sets.values()) else ""
    return f"No set ratios fit all gears: check the elements of this line, the joins,{teeth} and the printed ratio."


def find_scaled(sheet: UnitSheet, train: Train, states: Mapping[str, GearState]) -> Complaints:
    """Find gears in which all turns as one whatever the tooth counts, and whose printed ratio is another."""
    if any(mesh.carrier == CASE for mesh in train.meshes):
        return []
    motions = (generic_motion(train, shift) for shift in (0, 1))
    results = [analyse_states(motion, motion.masks(states.values())).out for motion in motions]
    lines, found = list_lines(sheet), []
    for place, (name, state) in enumerate(states.items()):
        is_direct = all(abs(out[place] - 1) < SAME_RATIO for out in results)
        if not is_direct or state.ratio is None or abs(100 * (state.ratio - 1)) <= REFUSE_PERCENT:
            continue
        what = f"Gear {name} turns all as one, which is 1.000, and is printed as {state.ratio:g}"
        advice = (
            "If all printed ratios hold the transfer or final gears too, add these as a pair before the output; "
            "otherwise check the elements and the ratio of this line."
        )
        found.append((name, Problem(lines[name].mark, "U134", what, advice)))
    return found


def check_structure(sheet: UnitSheet, train: Train, states: Mapping[str, GearState]) -> Complaints:
    """Find the lines of the chart that can be no gear, whatever the tooth counts."""
    motion, lines, problems = generic_motion(train), list_lines(sheet), []
    kinds = analyse_states(motion, motion.masks(states.values())).kind
    for name, kind in zip(states, kinds, strict=True):
        line = lines[name]
        if line.kind == "neutral" and kind == DRIVEN:
            what = f"{name} should be neutral, but the elements applied in it make a gear"
            problems.append((name, Problem(line.mark, "U131", what, "Take one of its elements out.")))
        elif line.kind != "neutral" and kind != DRIVEN:
            word = "leaves the unit in neutral" if kind == NEUTRAL else "ties the unit up"
            what = f"Gear {name} ({', '.join(line.on) or 'nothing on'}) {word}"
            advice = _advise(sheet.elements, motion, states[name], kind == NEUTRAL)
            problems.append((name, Problem(line.mark, "U130", what, advice)))
    return problems


def _advise(elements: Iterable[str], motion: Motion, state: GearState, is_neutral: bool) -> str:
    """Say which one element more, or less, would make a gear of it."""
    tries = [name for name in elements if name in motion.places and (name in state.closed) != is_neutral]
    if not tries:
        return "Check the sets, the joined members and what each element ties together."
    masks = np.array([motion.mask(state.closed ^ {name}) for name in tries])
    good = [name for name, kind in zip(tries, analyse_states(motion, masks).kind, strict=True) if kind == DRIVEN]
    if not good:
        return "No one element more or less makes a gear of it: check the joined members and the elements' ties."
    return f"It would be a gear {'with' if is_neutral else 'without'} {' or '.join(good)}: check the chart line."


def find_lets(sheet: UnitSheet, train: Train, states: Mapping[str, GearState]) -> tuple[Train, Motion, Complaints]:
    """Find the direction of each one-way clutch from the gears that load it, and compare it with what is stated."""
    motion = compile_motion(train)
    free = tuple(place for place, item in enumerate(train.couplings) if item.kind == CouplingKind.ONE_WAY)
    if not free:
        return train, motion, []
    names, problems, lets = list(states), [], {}
    found, against = find_directions(motion, motion.masks(states.values()), free)
    for place, direction in found.items():
        coupling = train.couplings[place]
        element = sheet.elements[coupling.id]
        if against[place]:
            gears = ", ".join(names[state] for state in against[place])
            what = f"{element.id} would have to lock both ways: gear {gears} loads it against the other gears"
            advice = "Check which gears it holds in: there, name what holds in its place."
            problems.append((element.id, Problem(element.mark, "U141", what, advice, "warning")))
        elif coupling.lets and coupling.lets != direction:
            words = ("second_ahead", "first_ahead") if element.second != CASE else ("backward", "forward")
            what = f"{element.id} lets its member turn the way in which its gears need it held"
            advice = f"Write lets: {words[direction > 0]}, or leave lets out: the chart tells it."
            problems.append((element.id, Problem(element.mark, "U142", what, advice)))
        lets[coupling.id] = direction
    train = train.with_directions(lets)
    return train, compile_motion(train), problems


def check_chart(
    sheet: UnitSheet,
    motion: Motion,
    states: Mapping[str, GearState],
    ratios: Mapping[str, float | None],
    *,
    complaints: Complaints,
    advice: str,
) -> Complaints:
    """Compare printed ratios with computed ones, and let the one-way clutches decide for themselves.

    Args:
        ratios: line -> computed ratio.
        complaints: those so far; their lines are not looked at again.
        advice: what to do about a ratio that is not met.
    Returns: all complaints.
    """
    known = list(complaints)
    if any(problem.code == "U134" for _, problem in known):
        # What the other gears are off by only follows from the missing pair.
        return known
    for check in (_check_ratios(sheet, ratios, advice), _check_one_ways(sheet, motion, states, ratios)):
        refused = {place for place, _ in known}
        known += [item for item in check if item[0] not in refused]
    return known


def _check_ratios(sheet: UnitSheet, ratios: Mapping[str, float | None], advice: str) -> Complaints:
    """Compare printed and computed ratios, line by line."""
    chart = list_lines(sheet)
    problems: list[tuple[str, Problem]] = []
    for name, ratio in ratios.items():
        printed = stated_ratio(sheet, chart[name])
        if ratio is None or chart[name].kind == "neutral" or _is_told(chart[name], ratios, [n for n, _ in problems]):
            continue
        mark = chart[name].mark
        if (ratio < 0) != (chart[name].kind == "reverse"):
            way = "backward" if ratio < 0 else "forward"
            what = f"Gear {name} would drive {way}: its ratio comes out as {ratio:.3f}"
            problems.append((name, Problem(mark, "U133", what, "Check its elements, and the joined members.")))
        elif printed is not None and abs(100 * (ratio / printed - 1)) > WARN_PERCENT:
            off = 100 * (ratio / printed - 1)
            what = f"Gear {name} is printed as {printed:g} and comes out as {ratio:.3f} ({off:+.1f} %)"
            severity = "error" if abs(off) > REFUSE_PERCENT else "warning"
            problems.append((name, Problem(mark, "U132", what, advice, severity)))
    return problems


def _is_told(line: SheetGear, ratios: Mapping[str, float | None], told: Sequence[str]) -> bool:
    """Tell whether a held range only repeats the ratio of a gear that has been complained of."""
    held = line.range_of
    return held in told and line.ratio is None and held is not None and ratios[held] == ratios[line.name]


def _check_one_ways(
    sheet: UnitSheet, motion: Motion, states: Mapping[str, GearState], ratios: Mapping[str, float | None]
) -> Complaints:
    """See that one-way clutches left to themselves make the same gears."""
    chart = list_lines(sheet)
    wanted = {name: ratio for name, ratio in ratios.items() if ratio is not None and chart[name].kind != "neutral"}
    if not wanted or not motion.one_way:
        return []
    closed = np.array([motion.applied(states[name]) for name in wanted])
    problems = []
    for (name, ratio), driven in zip(wanted.items(), resolve_drive(motion, closed, np.zeros_like(closed)), strict=True):
        if driven.ratio is not None and abs(driven.ratio / ratio - 1) < SAME_RATIO:
            continue
        became = f"a ratio of {driven.ratio:.3f}" if driven.ratio is not None else driven.state.replace("_", " ")
        what = f"In gear {name} the one-way clutches would lock or overrun by themselves and give {became}"
        advice = "Check what each one-way clutch ties together, which way it lets go, and what else is on in this line."
        problems.append((name, Problem(chart[name].mark, "U143", what, advice)))
    return problems
