"""Bridge from a unit sheet to its gear train: build it, solve what the manual does not print, prove the chart."""

import itertools
from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from shiftlore.basics import Problem
from shiftlore.gearing import (
    ALWAYS,
    CASE,
    DRIVEN,
    ENGINE,
    FRICTION,
    INPUT,
    NEUTRAL,
    ONE_WAY,
    STATE_WORDS,
    Coupling,
    GearState,
    Mesh,
    Motion,
    Solution,
    Train,
    analyse_states,
    compile_motion,
    find_directions,
    resolve_drive,
    solve_ratios,
    solve_torques,
)
from shiftlore.knowledge.sheet_checks import says_ties
from shiftlore.knowledge.sheet_records import SheetElement, SheetGear, SheetSet, UnitSheet

CONVERTER = "(converter)"
# Printed ratios are rounded to two or three digits: 0.6 % is what real charts keep to, 1 % is refused.
WARN_PERCENT = 0.6
REFUSE_PERCENT = 1.0
# Bounds within which an unknown ratio is searched: what fits a transmission case (common practice).
LIMITS = {
    "simple": (1.2, 4.5),
    "double_pinion": (1.2, 4.5),
    "stepped": (1.0, 12.0),
    "small_sun": (1.5, 4.5),
    "large_sun": (1.2, 4.5),
    "second_ring": (0.4, 3.0),
    "pair": (0.15, 9.0),
    "chain": (0.3, 3.0),
}
# Unlike ratios, so that no coincidence hides whether a chart line is a gear at all.
GENERIC = (1.83, 2.41, 2.07, 2.89, 1.67, 2.23, 3.11, 1.97)


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
    solution: Solution | None
    lines: Mapping[str, ChartLine]
    missing: tuple[str, ...]
    problems: tuple[Problem, ...]


def list_lines(sheet: UnitSheet) -> dict[str, SheetGear]:
    """Give every line of the chart by name: gears, then held ranges with the ratio of the gear that they hold."""
    return {**sheet.gears, **{name: line for name, line in sheet.ranges.items() if name not in sheet.gears}}


def stated_ratio(sheet: UnitSheet, line: SheetGear) -> float | None:
    """Give the ratio that the sheet states for a line; a held range has that of its gear."""
    if line.ratio is None and line.range_of in sheet.gears:
        return sheet.gears[line.range_of].ratio
    return line.ratio


def work_out(sheet: UnitSheet) -> WorkedTrain:
    """Build and prove the gear train of a sheet whose links are right."""
    if sheet.kind_only:
        missing = ("The sheet stands for units that are not known: choose the unit's own sheet for ratios.",)
        return WorkedTrain(sheet, None, None, None, {}, missing, ())
    if not says_ties(sheet):
        why = "The sheet states no sets and connections: no speeds, torques or tie-ups; faults follow from the chart."
        return WorkedTrain(sheet, None, None, None, {}, (why,), ())
    train = build_train(sheet)
    states = _states(sheet, train)
    problems = _check_structure(sheet, train, states)
    refused = {problem[0] for problem in problems}
    own = {name for name, line in list_lines(sheet).items() if line.ratio is not None}
    usable = [state for name, state in states.items() if name in own and name not in refused]
    missing: list[str] = []
    solution = None
    if train.unknown():
        if not usable:
            names = ", ".join(dict.fromkeys(train.meshes[place].set_id for place in train.unknown()))
            missing.append(f"Neither teeth nor gear ratios are stated, so the ratios of {names} stay unknown.")
            return WorkedTrain(sheet, train, None, None, {}, tuple(missing), tuple(item for _, item in problems))
        solution = _solve(_turn_forward(train, usable, _generic(train)), usable)
        train = solution.train
        if solution.open_sets:
            names = ", ".join(solution.open_sets)
            missing.append(f"The stated gear ratios do not fix the set ratio of {names}; a usual one stands in.")
    sound = [state for name, state in states.items() if name not in refused]
    train = _turn_forward(train, sound, compile_motion(train))
    train, motion, found = _find_lets(sheet, train, states)
    problems += found
    lines = _work_lines(sheet, train, motion, states)
    refused = {name for name, _ in problems}
    problems += _check_ratios(sheet, lines, refused, solution)
    problems += _check_one_ways(sheet, motion, states, lines, {name for name, _ in problems})
    missing += _list_missing(sheet)
    return WorkedTrain(sheet, train, motion, solution, lines, tuple(missing), tuple(item for _, item in problems))


def _solve(train: Train, usable: list[GearState]) -> Solution:
    """Solve the unknown set ratios; if nothing fits all gears, leave out the one line that spoils it, if there is one.

    The line left out then shows its error in full, and the sound ones do not.
    """
    solution = solve_ratios(train, usable)
    if solution.worst_percent <= REFUSE_PERCENT or len(usable) < len(train.unknown()) + 2:
        return solution
    fits = []
    for state in usable:
        without = solve_ratios(train, [other for other in usable if other is not state], quick=True)
        if without.worst_percent <= WARN_PERCENT:
            fits.append(without)
    return fits[0] if len(fits) == 1 else solution


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


def build_train(sheet: UnitSheet) -> Train:
    """Turn sets, joins and elements into meshes and couplings; unknown ratios stay None."""
    used = {name for group in sheet.joined for name in group}
    used |= {name for item in sheet.elements.values() for name in (item.first, item.second)}
    meshes = [mesh for item in sheet.sets.values() for mesh in _meshes(item, used)]
    split = ENGINE in used
    couplings = [_coupling(item) for item in sheet.elements.values() if item.type != "converter_clutch"]
    if split:
        couplings.append(Coupling(CONVERTER, ENGINE, INPUT, ALWAYS))
    belts = {find_belt(sheet, line) for line in list_lines(sheet).values()} - {None}
    for name, ratio in sorted(belt for belt in belts if belt is not None):
        couplings.append(Coupling(f"{name}@{ratio:g}", f"{name}.primary", f"{name}.secondary", ALWAYS, 0, ratio))
    return Train(tuple(meshes), sheet.joined, tuple(couplings), ENGINE if split else INPUT)


def find_belt(sheet: UnitSheet, line: SheetGear) -> tuple[str, float] | None:
    """Name the variator and the ratio that it has in this line."""
    belt = next((item for item in sheet.sets.values() if item.kind == "variator"), None)
    if belt is None:
        return None
    usual = belt.ratios.get("ratio_high" if line.name == "high" else "ratio_low", 1.0)
    return belt.id, usual if line.variator is None else line.variator


def _coupling(item: SheetElement) -> Coupling:
    if item.type != "one_way_clutch":
        return Coupling(item.id, item.first or CASE, item.second or CASE, FRICTION)
    lets = {"forward": 1, "backward": -1, "first_ahead": 1, "second_ahead": -1}.get(item.lets, 0)
    return Coupling(item.id, item.first or CASE, item.second or CASE, ONE_WAY, lets)


def _meshes(item: SheetSet, used: set[str]) -> list[Mesh]:
    """Write the meshes of one set; members that nothing is tied to are left out."""
    found = []
    for member, base, sign, ratio, limits in _rolling_pairs(item):
        low, high = LIMITS[limits]
        carrier = CASE if item.kind in ("pair", "chain") else f"{item.id}.carrier"
        found.append(Mesh(item.id, f"{item.id}.{member}", f"{item.id}.{base}", carrier, sign, ratio, low, high))
    needed = [mesh for mesh in found if mesh.member in used]
    if len(needed) == 1 and needed[0].base not in used:
        return []
    return needed


def _rolling_pairs(item: SheetSet) -> list[tuple[str, str, int, float | None, str]]:
    teeth, ratios, kind = item.teeth, item.ratios, item.kind

    def over(first: str, second: str, stated: str) -> float | None:
        both = first in teeth and second in teeth
        return teeth[first] / teeth[second] if both else ratios.get(stated)

    if kind == "variator":
        return []
    if kind in ("pair", "chain"):
        sign = 1 if kind == "chain" or item.idler else -1
        return [("drive", "driven", sign, over("driven", "drive", "ratio"), kind)]
    if kind == "ravigneaux":
        return [
            ("large_sun", "ring", -1, over("ring", "large_sun", "ring_to_large_sun"), "large_sun"),
            ("small_sun", "ring", 1, over("ring", "small_sun", "ring_to_small_sun"), "small_sun"),
            ("second_ring", "ring", -1, over("ring", "second_ring", ""), "second_ring"),
        ]
    if kind == "stepped":
        return _stepped_pairs(item)
    sign = -1 if kind == "simple" else 1
    return [("sun", "ring", sign, over("ring", "sun", "ring_to_sun"), kind)]


def _stepped_pairs(item: SheetSet) -> list[tuple[str, str, int, float | None, str]]:
    """Write stepped pinions: sun and second ring on the one step, ring and second sun on the other."""
    steps = {
        "sun": ("pinion_at_sun", -1, "stepped"),
        "second_sun": ("pinion_at_ring", -1, "simple"),
        "second_ring": ("pinion_at_sun", 1, "second_ring"),
    }
    teeth, ring_step = item.teeth, "pinion_at_ring"
    pairs: list[tuple[str, str, int, float | None, str]] = []
    for name, (pinion, sign, limits) in steps.items():
        ratio = item.ratios.get("ring_to_sun") if name == "sun" else None
        if {name, "ring"} <= teeth.keys() and (pinion == ring_step or {pinion, ring_step} <= teeth.keys()):
            ratio = teeth["ring"] / teeth[name]
            if pinion != ring_step:
                ratio *= teeth[pinion] / teeth[ring_step]
        pairs.append((name, "ring", sign, ratio, limits))
    return pairs


def _states(sheet: UnitSheet, train: Train) -> dict[str, GearState]:
    """Write every line of the chart as the couplings that it closes."""
    known = {coupling.id for coupling in train.couplings}
    found = {}
    for name, line in list_lines(sheet).items():
        closed = {item for item in line.on if item in known}
        belt = find_belt(sheet, line)
        if belt is not None:
            closed.add(f"{belt[0]}@{belt[1]:g}")
        if CONVERTER in known:
            closed.add(CONVERTER)
        coast = frozenset(item for item in line.coast if item in known)
        ratio = stated_ratio(sheet, line)
        found[name] = GearState(name, ratio, frozenset(closed), coast, line.kind == "reverse")
    return found


def _generic(train: Train) -> Motion:
    """Compile the train with stand-in ratios where they are unknown: enough to tell gears from tie-ups."""
    stand_in = dict(zip(train.unknown(), itertools.cycle(GENERIC), strict=False))
    return compile_motion(train.with_ratios(stand_in))


def _check_structure(sheet: UnitSheet, train: Train, states: Mapping[str, GearState]) -> list[tuple[str, Problem]]:
    """Find the lines of the chart that can be no gear, whatever the tooth counts."""
    motion = _generic(train)
    lines = list_lines(sheet)
    names = list(states)
    kinds = analyse_states(motion, np.array([motion.mask(states[name].closed) for name in names])).kind
    problems = []
    for name, kind in zip(names, kinds, strict=True):
        line = lines[name]
        if line.kind == "neutral":
            if kind == DRIVEN:
                what = f"{name} should be neutral, but the elements applied in it make a gear"
                problems.append((name, Problem(line.mark, "U131", what, "Take one of its elements out.")))
        elif kind != DRIVEN:
            word = "leaves the unit in neutral" if kind == NEUTRAL else "ties the unit up"
            what = f"Gear {name} ({', '.join(line.on) or 'nothing on'}) {word}"
            problems.append((name, Problem(line.mark, "U130", what, _advise(motion, states[name], kind == NEUTRAL))))
    return problems


def _advise(motion: Motion, state: GearState, is_neutral: bool) -> str:
    """Say which one element more, or less, would make a gear of it."""
    others = [name for name in motion.places if "@" not in name and name != CONVERTER]
    tries = [name for name in others if (name in state.closed) != is_neutral]
    if not tries:
        return "Check the sets, the joined members and what each element ties together."
    masks = np.array([motion.mask(state.closed ^ {name}) for name in tries])
    good = [name for name, kind in zip(tries, analyse_states(motion, masks).kind, strict=True) if kind == DRIVEN]
    if not good:
        return "No one element more or less makes a gear of it: check the joined members and the elements' ties."
    return f"It would be a gear {'with' if is_neutral else 'without'} {' or '.join(good)}: check the chart line."


def _turn_forward(train: Train, states: list[GearState], motion: Motion) -> Train:
    """Count the output's direction so that forward gears come out positive (parallel shafts reverse it)."""
    forward = [state for state in states if not state.reverse]
    if not forward:
        return train
    result = analyse_states(motion, np.array([motion.mask(state.closed) for state in forward]))
    if (result.out < 0).sum() * 2 <= (result.kind == DRIVEN).sum():
        return train
    return Train(train.meshes, train.joined, train.couplings, train.driven_at, -train.output_sign)


def _find_lets(
    sheet: UnitSheet, train: Train, states: Mapping[str, GearState]
) -> tuple[Train, Motion, list[tuple[str, Problem]]]:
    """Find the direction of each one-way clutch from the gears that load it, and compare it with what is stated."""
    motion = compile_motion(train)
    free = tuple(place for place, item in enumerate(train.couplings) if item.kind == ONE_WAY)
    if not free:
        return train, motion, []
    names = list(states)
    chart = np.array([motion.mask(states[name].closed) for name in names])
    found, against = find_directions(motion, chart, free)
    problems = []
    lets = {}
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
    train = train.with_directions({name: way for name, way in lets.items() if way})
    return train, compile_motion(train), problems


def applied_mask(motion: Motion, state: GearState) -> np.ndarray:
    """Mark what is applied in a line: all but the one-way clutches that decide for themselves."""
    mask = motion.mask(state.closed)
    mask[list(motion.one_way)] = False
    return mask


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
        if item.kind == "simple" and item.id not in found and sun is not None and mesh is not None and mesh.ratio:
            found[item.id] = -2 / (mesh.ratio - 1) * (sun - carrier)
    return found


def _sun_pinions(item: SheetSet) -> list[tuple[str, str]]:
    return {
        "simple": [("sun", "pinion")],
        "double_pinion": [("sun", "pinion_at_sun")],
        "stepped": [("sun", "pinion_at_sun")],
        "ravigneaux": [("small_sun", "short_pinion"), ("large_sun", "long_pinion")],
    }.get(item.kind, [])


def _check_ratios(
    sheet: UnitSheet, lines: Mapping[str, ChartLine], refused: set[str], solution: Solution | None
) -> list[tuple[str, Problem]]:
    """Compare printed and computed ratios, line by line."""
    chart = list_lines(sheet)
    problems = []
    for name, line in lines.items():
        printed = stated_ratio(sheet, chart[name])
        if name in refused or line.ratio is None or chart[name].kind == "neutral":
            continue
        mark = chart[name].mark
        if (line.ratio < 0) != (chart[name].kind == "reverse"):
            way = "backward" if line.ratio < 0 else "forward"
            what = f"Gear {name} would drive {way}: its ratio comes out as {line.ratio:.3f}"
            problems.append((name, Problem(mark, "U133", what, "Check its elements, and the joined members.")))
        elif printed is not None and line.error_percent is not None and abs(line.error_percent) > WARN_PERCENT:
            off = (
                f"Gear {name} is printed as {printed:g} and comes out as {line.ratio:.3f} ({line.error_percent:+.1f} %)"
            )
            if solution is None:
                advice = "Check the tooth counts, the elements of this line, and the printed ratio."
            else:
                advice = (
                    "No set ratios fit all gears: check the elements of this line, the joins and the printed ratio."
                )
            severity = "error" if abs(line.error_percent) > REFUSE_PERCENT else "warning"
            problems.append((name, Problem(mark, "U132", off, advice, severity)))
    return problems


def _check_one_ways(
    sheet: UnitSheet,
    motion: Motion,
    states: Mapping[str, GearState],
    lines: Mapping[str, ChartLine],
    refused: set[str],
) -> list[tuple[str, Problem]]:
    """See that one-way clutches left to themselves make the same gears."""
    chart = list_lines(sheet)
    names = [name for name in states if name not in refused and lines[name].ratio is not None]
    if not names or not motion.one_way:
        return []
    closed = np.array([applied_mask(motion, states[name]) for name in names])
    problems = []
    for name, driven in zip(names, resolve_drive(motion, closed, np.zeros_like(closed)), strict=True):
        ratio = lines[name].ratio
        if driven.ratio is not None and ratio is not None and abs(driven.ratio / ratio - 1) < 1e-6:
            continue
        became = f"a ratio of {driven.ratio:.3f}" if driven.ratio is not None else driven.state.replace("_", " ")
        what = f"In gear {name} the one-way clutches would lock or overrun by themselves and give {became}"
        advice = "Check what each one-way clutch ties together and which way it lets go."
        problems.append((name, Problem(chart[name].mark, "U143", what, advice)))
    return problems
