"""Prove a unit's chart: what can be no gear, which ratios disagree, which one-way clutches stand the wrong way round.

Complaints come as (line or element, problem), so that a line already refused is not told twice.
"""

from collections.abc import Iterable, Mapping, Sequence

import numpy as np

from shiftlore.basics import Problem
from shiftlore.gearing.motions import DRIVEN, NEUTRAL, Motion, analyse_states, compile_motion
from shiftlore.gearing.one_ways import find_directions, resolve_drive
from shiftlore.gearing.sheet_trains import applied_mask, generic_motion, list_lines, stated_ratio
from shiftlore.gearing.trains import CASE, CouplingKind, GearState, Train
from shiftlore.sheets import SheetGear, UnitSheet

Complaints = Sequence[tuple[str, Problem]]

# Printed ratios are rounded to two or three digits: 0.6 % is what real charts keep to, 1 % is refused.
WARN_PERCENT = 0.6
REFUSE_PERCENT = 1.0
SAME_RATIO = 1e-6


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
    lines = list_lines(sheet)
    found = []
    results = []
    for shift in (0, 1):
        motion = generic_motion(train, shift)
        results.append(analyse_states(motion, np.array([motion.mask(state.closed) for state in states.values()])).out)
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
    motion = generic_motion(train)
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


def check_chart(
    sheet: UnitSheet,
    motion: Motion,
    states: Mapping[str, GearState],
    ratios: Mapping[str, float | None],
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
    closed = np.array([applied_mask(motion, states[name]) for name in wanted])
    problems = []
    for (name, ratio), driven in zip(wanted.items(), resolve_drive(motion, closed, np.zeros_like(closed)), strict=True):
        if driven.ratio is not None and abs(driven.ratio / ratio - 1) < SAME_RATIO:
            continue
        became = f"a ratio of {driven.ratio:.3f}" if driven.ratio is not None else driven.state.replace("_", " ")
        what = f"In gear {name} the one-way clutches would lock or overrun by themselves and give {became}"
        advice = "Check what each one-way clutch ties together, which way it lets go, and what else is on in this line."
        problems.append((name, Problem(chart[name].mark, "U143", what, advice)))
    return problems
