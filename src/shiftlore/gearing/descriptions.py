"""Describe a unit for the `unit` command: gears, torque, what each defect leaves, what a measured ratio means."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from shiftlore.basics import KnowledgeError, UnknownId, UsageProblem, nearest
from shiftlore.gearing.charts import GearLine, WorkedTrain, work_out
from shiftlore.gearing.defects import Defect, find_remains, list_defects
from shiftlore.gearing.facts import Remains
from shiftlore.gearing.trains import CASE
from shiftlore.sheets import SET_KINDS, UnitSheet

# Speed sensors and tyre slip leave about this much doubt on a measured ratio (common practice: 3 to 5 %).
DOUBT = 0.03
# An element that slips more than this burns within seconds; such a state is not what was measured (judgement).
MOST_SLIP = 0.7
IDLE_TORQUE = 1e-6


@dataclass(frozen=True, slots=True)
class Lever:
    """One set: member node -> position on its bar, 0 at one end and 1 at the other."""

    set_id: str
    kind: str
    points: tuple[tuple[str, float], ...]


@dataclass(frozen=True, slots=True)
class Tie:
    """A line between two nodes: joined for good (`element` empty), or tied by an element when it holds."""

    first: str
    second: str
    element: str = ""
    type: str = "joined"


@dataclass(frozen=True, slots=True)
class RatioGear:
    """A gear that has the measured ratio, within the doubt of a measurement."""

    gear: str
    ratio: float
    off_percent: float


@dataclass(frozen=True, slots=True)
class RatioDefect:
    """A defect that makes the measured ratio in a commanded gear."""

    fault: str
    commanded: str
    ratio: float
    off_percent: float


@dataclass(frozen=True, slots=True)
class RatioSlip:
    """A commanded gear that would show the measured ratio if one of these elements slipped.

    Args:
        slip_percent: share of the input speed that is lost in slip.
        elements: those whose slip can reach this ratio.
    """

    commanded: str
    ratio: float
    slip_percent: float
    elements: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class RatioMatch:
    """What a measured ratio may mean.

    Args:
        between: the two gears next to it, the one with the larger ratio first; None above first or below top.
        gears, faults, slips: nearest first.
    """

    ratio: float
    gears: tuple[RatioGear, ...]
    faults: tuple[RatioDefect, ...]
    slips: tuple[RatioSlip, ...]
    between: tuple[str | None, str | None]
    says: str


@dataclass(frozen=True, slots=True)
class SolvedSets:
    """Set ratios that the sheet left out and the gear ratios gave.

    Args:
        ratios: `set.member` -> base teeth over member teeth (ring over sun for a simple set).
        solved_from: gears that fix them; `proved_on`: the other gears, with their error in percent.
    """

    ratios: Mapping[str, float]
    solved_from: tuple[str, ...]
    proved_on: Mapping[str, float]


@dataclass(frozen=True, slots=True)
class UnitDescription:
    """Everything the `unit` command shows.

    Args:
        gears: line name -> line, held ranges last.
        lost: element -> line name -> what is had without it.
        stuck: `solenoid=on`, `solenoid=off` or `element=on` -> line name -> what is had.
        missing: what could not be computed, and why.
        warnings: what is odd about the sheet, though it is used.
        measured: what a measured ratio may mean, or None if none was asked about.
        levers, ties: for the drawing.
    """

    id: str
    label: str
    gears: Mapping[str, GearLine]
    labels: Mapping[str, str]
    lost: Mapping[str, Mapping[str, Remains]]
    stuck: Mapping[str, Mapping[str, Remains]]
    missing: tuple[str, ...]
    warnings: tuple[str, ...] = ()
    solved: SolvedSets | None = None
    measured: RatioMatch | None = None
    failsafe_gear: str | None = None
    levers: tuple[Lever, ...] = field(default=(), repr=False)
    ties: tuple[Tie, ...] = field(default=(), repr=False)

    @property
    def used(self) -> list[str]:
        """Name the elements that the chart applies, in the order of the sheet."""
        applied = {item for line in self.gears.values() for item in (*line.elements, *line.coast)}
        return [name for name in self.labels if name in applied]


def describe_unit(
    sheet: UnitSheet, lost: Sequence[str] = (), stuck: Sequence[str] = (), ratio: float | None = None
) -> UnitDescription:
    """Work out a unit and what the driver would feel with the defects asked about.

    Args:
        lost: element ids.
        stuck: `solenoid=on`, `solenoid=off`, or `element=on`; with neither `lost` nor `stuck`, all are given.
        ratio: a measured ratio of input to output speed (negative in reverse) to be explained.
    Raises: KnowledgeError: the sheet contradicts itself. UnknownId, UsageProblem: a defect that cannot be meant.
    """
    worked = work_out(sheet)
    if any(problem.severity == "error" for problem in worked.problems):
        raise KnowledgeError(worked.problems)
    every = [] if sheet.kind_only else list_defects(sheet)
    asked = _parse_defects(sheet, lost, stuck)
    shown = asked if every else []
    outcomes = find_remains(worked, shown if shown and ratio is None else every)
    ways = {"stuck": "on", "sol_on": "on", "sol_off": "off"}
    left = {defect: {name: outcomes[defect, name] for name in worked.lines} for defect in shown or every}
    return UnitDescription(
        sheet.id,
        sheet.label,
        gears=worked.lines,
        labels={item.id: item.label for item in sheet.elements.values()}
        | {item.id: item.label for item in sheet.solenoids.values()},
        lost={defect.part: lines for defect, lines in left.items() if defect.kind == "lost"},
        stuck={f"{one.part}={ways[one.kind]}": lines for one, lines in left.items() if one.kind in ways},
        missing=worked.missing,
        warnings=tuple(problem.what for problem in worked.problems),
        solved=_describe_solution(worked),
        measured=None if ratio is None else match_ratio(worked, outcomes, ratio),
        failsafe_gear=sheet.failsafe_gear,
        levers=draw_levers(worked),
        ties=list_ties(sheet),
    )


def _parse_defects(sheet: UnitSheet, lost: Iterable[str], stuck: Iterable[str]) -> list[Defect]:
    """Turn what was asked for into defects, or say what is wrong with it."""
    defects = []
    for name in lost:
        _require(name, sheet.elements, "element")
        defects.append(Defect("lost", name))
    for text in stuck:
        name, _, way = text.partition("=")
        if way not in ("on", "off"):
            raise UsageProblem(f'"{text}" does not say how it is stuck. Write {name or "sol_a"}=on or {name}=off.')
        if name in sheet.elements and name not in sheet.solenoids:
            defects.append(Defect("stuck" if way == "on" else "lost", name))
            continue
        _require(name, [*sheet.solenoids, *sheet.elements], "solenoid or element")
        defects.append(Defect(f"sol_{way}", name))
    return list(dict.fromkeys(defects))


def _require(name: str, known: Iterable[str], what: str) -> None:
    choices = list(known)
    if name not in choices:
        near = nearest(name, choices)
        advice = f"Nearest: {', '.join(near)}." if near else f"Known: {', '.join(choices) or 'none'}."
        raise UnknownId(f'This unit has no {what} "{name}". {advice}')


def _describe_solution(worked: WorkedTrain) -> SolvedSets | None:
    if worked.solution is None or worked.train is None:
        return None
    unknown = {item.id for item in worked.sheet.sets.values() if not item.teeth and not item.ratios}
    ratios = {mesh.member: mesh.ratio for mesh in worked.train.meshes if mesh.ratio and mesh.set_id in unknown}
    return SolvedSets(ratios, worked.solution.solved_from, worked.solution.proved_on)


def draw_levers(worked: WorkedTrain) -> tuple[Lever, ...]:
    """Give the levers of all sets; where a ratio is not known, members stand at even distances."""
    meshes = worked.train.meshes if worked.train is not None else ()
    levers = []
    for item in worked.sheet.sets.values():
        own = [mesh for mesh in meshes if mesh.set_id == item.id and mesh.ratio is not None]
        raw: dict[str, float] = {}
        for mesh in own:
            raw[mesh.carrier] = 0.0
            raw[mesh.base] = 1.0
            raw[mesh.member] = mesh.sign * (mesh.ratio or 1.0)
        raw.pop(CASE, None)
        if not raw:
            raw = {f"{item.id}.{part}": float(place) for place, part in enumerate(SET_KINDS[item.kind].members[:4])}
        low, span = min(raw.values()), (max(raw.values()) - min(raw.values())) or 1.0
        points = sorted(((name, (value - low) / span) for name, value in raw.items()), key=lambda point: point[1])
        levers.append(Lever(item.id, item.kind, tuple(points)))
    return tuple(levers)


def list_ties(sheet: UnitSheet) -> tuple[Tie, ...]:
    """Give every fixed join and every element as a line between two nodes; `case` is one end of a brake."""
    joins = [Tie(join.members[0], name) for join in sheet.joined for name in join.members[1:]]
    ends = [Tie(item.first, item.second, item.id, item.type) for item in sheet.elements.values() if item.first]
    return (*joins, *ends)


def match_ratio(worked: WorkedTrain, outcomes: Mapping[tuple[Defect, str], Remains], ratio: float) -> RatioMatch:
    """Find the states of a unit that fit a measured ratio.

    Args:
        outcomes: every defect in every line, as `find_remains` gives them.
        ratio: input over output speed, negative in reverse.
    """
    ratios = _list_ratios(worked, ratio)
    gears = [RatioGear(name, value, 100 * (ratio / value - 1)) for name, value in ratios.items()]
    gears = sorted((item for item in gears if abs(item.off_percent) <= 100 * DOUBT), key=lambda g: abs(g.off_percent))
    above = [name for name, value in sorted(ratios.items(), key=lambda item: abs(item[1])) if abs(value) > abs(ratio)]
    below = [name for name, value in sorted(ratios.items(), key=lambda item: -abs(item[1])) if abs(value) <= abs(ratio)]
    between = (above[0] if above else None, below[0] if below else None)
    defects = _match_defects(worked, outcomes, ratio)
    slips = _match_slips(worked, outcomes, ratio, ratios)
    return RatioMatch(
        ratio,
        gears=tuple(gears),
        faults=defects,
        slips=slips,
        between=between,
        says=_say(ratio, gears, between, slips, ratios),
    )


def _list_ratios(worked: WorkedTrain, ratio: float) -> dict[str, float]:
    """Give the gears that drive the same way, computed where possible, else printed."""
    named = {name: worked.lines[name].ratio for name, gear in worked.sheet.gears.items() if gear.kind != "neutral"}
    return {name: value for name, value in named.items() if value is not None and value * ratio > 0}


def _match_defects(
    worked: WorkedTrain, outcomes: Mapping[tuple[Defect, str], Remains], ratio: float
) -> tuple[RatioDefect, ...]:
    found = []
    for (defect, name), outcome in outcomes.items():
        if not outcome.changed or outcome.ratio is None or outcome.ratio * ratio <= 0:
            continue
        off = ratio / outcome.ratio - 1
        if abs(off) <= DOUBT and name in worked.sheet.gears:
            found.append(RatioDefect(_name_defect(defect), name, outcome.ratio, 100 * off))
    return tuple(sorted(found, key=lambda item: abs(item.off_percent)))


def _name_defect(defect: Defect) -> str:
    words = {"lost": "lost", "stuck": "stuck on", "sol_on": "stuck on", "sol_off": "stuck off"}
    return f"{defect.part} {words[defect.kind]}"


def _match_slips(
    worked: WorkedTrain,
    outcomes: Mapping[tuple[Defect, str], Remains],
    ratio: float,
    ratios: Mapping[str, float],
) -> tuple[RatioSlip, ...]:
    """Find the gears of smaller ratio in which a slipping element lets the input run this much ahead."""
    found = []
    for name, value in ratios.items():
        slip = 1 - value / ratio
        if not DOUBT < slip < MOST_SLIP:
            continue
        elements = []
        for part in worked.sheet.gears[name].on:
            torque = 1.0 if worked.motion is None else worked.lines[name].torque.get(part, 0.0)
            left = outcomes.get((Defect("lost", part), name))
            if torque > IDLE_TORQUE and left is not None and left.changed and _reaches(left, ratio):
                elements.append(part)
        if elements:
            found.append(RatioSlip(name, value, 100 * slip, tuple(elements)))
    return tuple(sorted(found, key=lambda item: item.slip_percent))


def _reaches(left: Remains, ratio: float) -> bool:
    """Tell whether slip goes as far as the ratio before the gear that is left without the element catches it."""
    return left.ratio is None or left.ratio * ratio < 0 or abs(left.ratio) >= abs(ratio)


def _say(
    ratio: float,
    gears: list[RatioGear],
    between: tuple[str | None, str | None],
    slips: tuple[RatioSlip, ...],
    ratios: Mapping[str, float],
) -> str:
    if not ratios:
        return "No ratio of this unit is known that drives this way."
    if gears:
        return f"{ratio:.2f} is gear {gears[0].gear} ({gears[0].ratio:.3f}) within what a measurement leaves in doubt."
    high, low = between
    if low is None:
        return (
            f"{ratio:.2f} is below every gear: nothing in the unit makes it; look at the speed signals and tyre size."
        )
    where = f"above {low}" if high is None else f"between {high} and {low}"
    if not slips:
        return f"{ratio:.2f} lies {where}; no single slipping element explains it."
    first = slips[0]
    return f"{ratio:.2f} lies {where}: with {first.commanded} commanded, {first.slip_percent:.0f} % slip."
