"""What the driver really gets for every lost or stuck element and every stuck solenoid, in every line of the chart."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import numpy as np

from shiftlore.gearing.charts import WorkedTrain
from shiftlore.gearing.facts import Remains
from shiftlore.gearing.motions import Driven, Motion, resolve_drive
from shiftlore.gearing.trains import GearState, list_lines, list_states, stated_ratio
from shiftlore.sheets import SheetGear, SheetSolenoid, UnitSheet, is_fed

# Two ratios closer than this share are the same gear: far below any real step, far above rounding.
SAME_RATIO = 1e-4
# From this ratio of what is had to what is commanded, drivers call it sluggish or busy (judgement).
MUCH = 1.25
AS_IT_SHOULD = "as it should"


@dataclass(frozen=True, slots=True)
class Defect:
    """What is wrong: `lost` (element), `stuck` (element, applied for good), `sol_on` or `sol_off` (solenoid)."""

    kind: str
    part: str


@dataclass(frozen=True, slots=True)
class Applied:
    """What is closed with a defect.

    Args:
        closed: friction elements and seized parts; `lost`: one-way clutches that are gone.
        jumps_to: the line that a wrong pattern of solenoids gives, or None.
        is_known: whether the sheet tells all this.
    """

    closed: frozenset[str]
    lost: frozenset[str] = frozenset()
    jumps_to: str | None = None
    is_known: bool = True


def list_defects(sheet: UnitSheet) -> list[Defect]:
    """Name every defect that the sheet's structure can answer for."""
    defects = [Defect(kind, name) for name in sheet.elements for kind in ("lost", "stuck")]
    return defects + [Defect(kind, name) for name in sheet.solenoids for kind in ("sol_off", "sol_on")]


def find_remains(worked: WorkedTrain, defects: Iterable[Defect]) -> dict[tuple[Defect, str], Remains]:
    """Work out every defect in every line of the chart at once.

    Returns: (defect, line name) -> what is had.
    """
    lines = list_lines(worked.sheet)
    cases = {(defect, name): apply_defect(worked.sheet, defect, name) for defect in defects for name in lines}
    if worked.motion is None or worked.train is None:
        resolved = {key: _compare_chart(worked.sheet, key[0], key[1], case) for key, case in cases.items()}
    else:
        driven = _resolve(list_states(worked.sheet, worked.train), worked.motion, cases)
        resolved = {key: (item, _name_ratio(worked, key[1], item.ratio)) for key, item in driven.items()}
    return {
        key: _judge(worked, key[0], key[1], case, driven=resolved[key][0], had=resolved[key][1])
        for key, case in cases.items()
    }


def apply_defect(sheet: UnitSheet, defect: Defect, name: str) -> Applied:
    """Say what is closed in a line of the chart with a defect, and whether the sheet tells it.

    Args:
        name: of the line, as `list_lines` names it.
    """
    line = list_lines(sheet)[name]
    on = frozenset(line.on)
    one_way = {item.id for item in sheet.elements.values() if item.type == "one_way_clutch"}
    if defect.kind == "lost":
        return Applied(on - {defect.part}, frozenset({defect.part} & one_way))
    if defect.kind == "stuck":
        return Applied(on | {defect.part})
    solenoid = sheet.solenoids[defect.part]
    powered = defect.kind == "sol_on"
    if solenoid.type in ("tcc", "line"):
        return Applied(on)
    if solenoid.acts == "by_pattern":
        return _match_pattern(sheet, solenoid, line, powered)
    controlled = frozenset(solenoid.controls)
    if powered == (solenoid.unpowered == "applies"):
        return Applied(on - controlled)
    together = any(controlled <= set(line.on) for line in list_lines(sheet).values())
    if len(controlled) > 1 and not together:  # it serves them by turns
        return Applied(on, is_known=bool(controlled & on))
    fed = {part for part in controlled if part in sheet.elements and is_fed(sheet.elements[part], line)}
    return Applied(on | fed)


def _is_on(solenoid: SheetSolenoid, line: SheetGear) -> bool:
    listed = solenoid.on_in or ()
    return line.name in listed or (line.range_of is not None and line.range_of in listed)


def _match_pattern(sheet: UnitSheet, solenoid: SheetSolenoid, line: SheetGear, powered: bool) -> Applied:
    """Find the gear that the remaining pattern of solenoids asks for, within the same lever position."""
    if solenoid.on_in is None:
        return Applied(frozenset(line.on), is_known=False)
    pattern_of = [item for item in sheet.solenoids.values() if item.acts == "by_pattern" and item.on_in is not None]
    wanted = {item.id for item in pattern_of if _is_on(item, line)} - {solenoid.id}
    wanted |= {solenoid.id} if powered else set()
    if _is_on(solenoid, line) == powered or line.kind != "forward":
        return Applied(frozenset(line.on))
    names = [name for name, other in sheet.gears.items() if other.kind == "forward"]
    patterns = {name: {item.id for item in pattern_of if _is_on(item, sheet.gears[name])} for name in names}
    own = wanted ^ {solenoid.id}
    if any(list(patterns.values()).count(pattern) > 1 for pattern in (own, wanted)):
        return Applied(frozenset(line.on), is_known=False)
    for name in names:
        if patterns[name] == wanted:
            return Applied(frozenset(sheet.gears[name].on), jumps_to=name)
    lines = list_lines(sheet)
    for pattern in sheet.other_patterns:
        if pattern.on == wanted and pattern.gives:
            return Applied(frozenset(lines[pattern.gives].on), jumps_to=pattern.gives)
        if pattern.on == wanted:
            return Applied(frozenset(pattern.applies))
    return Applied(frozenset(line.on), is_known=False)


def _resolve(
    states: Mapping[str, GearState], motion: Motion, cases: Mapping[tuple[Defect, str], Applied]
) -> dict[tuple[Defect, str], Driven]:
    """Let the gear train answer; equal sets of applied elements are worked out once."""
    masks: dict[tuple[bytes, bytes], int] = {}
    closed: list[np.ndarray] = []
    lost: list[np.ndarray] = []
    place: dict[tuple[Defect, str], int] = {}
    for key, case in cases.items():
        defect, name = key
        known = case.closed.intersection(motion.places)
        mask = motion.applied(GearState(name, None, known | states[case.jumps_to or name].fixed))
        if defect.kind == "stuck" and defect.part in motion.places:
            mask[motion.places[defect.part]] = True
        gone = motion.mask(case.lost.intersection(motion.places))
        token = (mask.tobytes(), gone.tobytes())
        if token not in masks:
            masks[token] = len(closed)
            closed.append(mask)
            lost.append(gone)
        place[key] = masks[token]
    found = resolve_drive(motion, np.array(closed), np.array(lost)) if closed else []
    return {key: found[row] for key, row in place.items()}


def _compare_chart(sheet: UnitSheet, defect: Defect, name: str, case: Applied) -> tuple[Driven, str | None]:
    """Without a gear train: find the chart line that is left, as far as the chart alone can tell."""
    one_way = {item.id for item in sheet.elements.values() if item.type == "one_way_clutch"}
    lines = {name: list_lines(sheet)[name], **sheet.gears}
    closed = case.closed - one_way
    for other, line in lines.items():
        same = frozenset(line.on) - one_way == closed and not case.lost & frozenset(line.on)
        if same and line.kind == "neutral":
            return Driven("neutral"), None
        if same:
            return Driven("driven", stated_ratio(sheet, line)), line.range_of or other
    adds = defect.kind == "stuck" or not closed < frozenset(lines[name].on)
    if adds and lines[name].kind == "neutral":
        return Driven("unknown"), None
    return Driven("tied_up" if adds else "neutral"), None


def _name_ratio(worked: WorkedTrain, name: str, ratio: float | None) -> str | None:
    """Name the gear that has this ratio, the commanded one first."""
    if ratio is None:
        return None
    lines = list_lines(worked.sheet)
    for other in (name, *worked.sheet.gears):
        there = worked.lines[other].ratio_computed
        if there is not None and abs(ratio / there - 1) < SAME_RATIO:
            return lines[other].range_of or other
    return None


def _judge(
    worked: WorkedTrain, defect: Defect, name: str, case: Applied, *, driven: Driven, had: str | None
) -> Remains:
    line = list_lines(worked.sheet)[name]
    if not case.is_known:
        return Remains(None, "unknown", None, "the sheet does not tell", True)
    wanted = line.range_of or name
    sound = "neutral" if line.kind == "neutral" else "driven"
    is_same = driven.state == sound and (sound == "neutral" or had == wanted)
    brakes = None if worked.motion is None or driven.state != "driven" else driven.brakes_engine
    if brakes is False and is_same and line.coast:
        brakes = worked.lines[name].brakes_engine and not (defect.kind == "lost" and defect.part in line.coast)
    if not is_same:
        feels = _feel_change(worked, line, driven, had)
    else:
        overruns = worked.lines[name].brakes_engine and brakes is False
        feels = "drives, but overruns: no engine braking" if overruns else AS_IT_SHOULD
        feels = _feel_pressure(worked.sheet, defect, line) or feels
    return Remains(had, driven.state, driven.ratio, feels=feels, changed=not is_same, brakes_engine=brakes)


def _feel_pressure(sheet: UnitSheet, defect: Defect, line: SheetGear) -> str:
    """Say what a converter clutch or a pressure solenoid does that changes no gear; empty for all others."""
    if line.kind == "neutral":
        return ""
    element, solenoid = sheet.elements.get(defect.part), sheet.solenoids.get(defect.part)
    if solenoid is None or not defect.kind.startswith("sol"):
        is_converter = element is not None and element.type == "converter_clutch"
        return _feel_converter(sheet, line, defect.kind == "stuck") if is_converter else ""
    powered = defect.kind == "sol_on"
    if solenoid.type == "tcc":
        return _feel_converter(sheet, line, powered != (solenoid.unpowered == "applies"))
    if solenoid.type == "line" or (solenoid.type == "pressure_control" and not solenoid.controls):
        high = powered == (solenoid.unpowered == "releases")
        return "full pressure: harsh engagement and shifts" if high else "low pressure: soft shifts, slips under load"
    return ""


def _feel_converter(sheet: UnitSheet, line: SheetGear, locks: bool) -> str:
    if locks:
        return "locked converter: shudders when slow, the engine dies at a stop"
    locks_there = (line.range_of or line.name) in sheet.lockup_gears
    return "no lock-up: revs stay up at steady speed" if locks_there else AS_IT_SHOULD


def _feel_change(worked: WorkedTrain, line: SheetGear, driven: Driven, had: str | None) -> str:
    """Put into words what the driver gets instead."""
    if driven.state == "tied_up":
        if line.kind == "neutral":
            return "binds in neutral: cannot be pushed or towed"
        return "binds: brakes the vehicle, stalls or burns what slips"
    if driven.state == "neutral":
        return "no drive: the engine revs up freely"
    if driven.state == "unknown":
        return "the chart alone cannot tell"
    if line.kind == "neutral":
        return f"moves off in neutral{f', in gear {had}' if had else ''}"
    return _feel_other_gear(worked, line, driven, had)


def _name_gear(sheet: UnitSheet, had: str) -> str:
    """Name a gear as the driver does; one of several reverse gears keeps its name."""
    if sheet.gears[had].kind != "reverse":
        return f"gear {had}"
    alone = sum(gear.kind == "reverse" for gear in sheet.gears.values()) == 1
    return "reverse" if alone else f"reverse {had}"


def _feel_other_gear(worked: WorkedTrain, line: SheetGear, driven: Driven, had: str | None) -> str:
    named = "a ratio of no gear" if had is None else _name_gear(worked.sheet, had)
    name = line.range_of or line.name
    sound = worked.lines[line.name].ratio if worked.motion is None else worked.lines[line.name].ratio_computed
    if driven.ratio is None or sound is None:
        return f"{named} instead of {name}"
    if driven.ratio * sound < 0:
        return f"{named} instead of {name}: drives the wrong way"
    step = driven.ratio / sound
    if step > 1:
        feels = "revs far too high" if step > MUCH else "revs too high"
    else:
        feels = "pulls very weakly" if step < 1 / MUCH else "pulls weakly"
    over = ", no engine braking" if worked.motion is not None and not driven.brakes_engine else ""
    return f"{named} instead of {name}: {feels}{over}"
