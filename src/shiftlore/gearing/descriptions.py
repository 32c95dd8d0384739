"""Describe a unit for the `unit` command: gears, torque, what each defect leaves, what a measured ratio means."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from shiftlore.basics import KnowledgeError, UnknownId, UsageProblem, nearest
from shiftlore.gearing.charts import WorkedTrain, work_out
from shiftlore.gearing.defects import Defect, Remains, find_remains, list_defects
from shiftlore.gearing.levers import Lever, Tie, draw_levers, list_ties
from shiftlore.gearing.measured import RatioMatch, match_ratio
from shiftlore.gearing.sheet_trains import list_lines, stated_ratio
from shiftlore.sheets import UnitSheet


@dataclass(frozen=True, slots=True)
class GearLine:
    """One line of the chart as worked out.

    Args:
        kind: `forward`, `reverse`, `neutral` or `held`.
        ratio_stated, ratio_computed: input over output speed, negative in reverse; None where not known.
        error_percent: computed against stated.
        elements: ids applied under drive; `coast` those applied only for engine braking.
        torque: element -> torque on it in multiples of the input torque.
        speeds: member -> speed in multiples of the input speed.
        pinions: set -> pinion speed against its carrier.
        state: `driven`, `neutral`, `tied_up`, or `unknown` where nothing could be computed.
        brakes_engine: whether the engine brakes the vehicle, or None if not known.
        lockup: whether the converter clutch may work.
    """

    kind: str
    ratio_stated: float | None
    ratio_computed: float | None
    error_percent: float | None
    elements: tuple[str, ...]
    coast: tuple[str, ...]
    torque: Mapping[str, float]
    speeds: Mapping[str, float]
    pinions: Mapping[str, float]
    state: str
    brakes_engine: bool | None
    lockup: bool


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
    asked = _parse_defects(sheet, lost, stuck)
    if sheet.kind_only:
        asked = []
    every = asked if asked and ratio is None else list_defects(sheet) if not sheet.kind_only else []
    outcomes = find_remains(worked, every)
    shown = asked or every
    return UnitDescription(
        sheet.id,
        sheet.label,
        {name: _describe_line(worked, name) for name in list_lines(sheet)},
        {item.id: item.label for item in sheet.elements.values()}
        | {item.id: item.label for item in sheet.solenoids.values()},
        {defect.part: _by_line(outcomes, defect, sheet) for defect in shown if defect.kind == "lost"},
        {_name_stuck(defect): _by_line(outcomes, defect, sheet) for defect in shown if defect.kind != "lost"},
        worked.missing,
        tuple(problem.what for problem in worked.problems),
        _describe_solution(worked),
        None if ratio is None else match_ratio(worked, outcomes, ratio),
        sheet.failsafe_gear,
        draw_levers(worked),
        list_ties(sheet),
    )


def _by_line(outcomes: Mapping[tuple[Defect, str], Remains], defect: Defect, sheet: UnitSheet) -> dict[str, Remains]:
    return {name: outcomes[defect, name] for name in list_lines(sheet)}


def _name_stuck(defect: Defect) -> str:
    return f"{defect.part}={'off' if defect.kind == 'sol_off' else 'on'}"


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


def _describe_line(worked: WorkedTrain, name: str) -> GearLine:
    sheet = worked.sheet
    line = list_lines(sheet)[name]
    found = worked.lines.get(name)
    kind = "held" if line.range_of is not None else line.kind
    lockup = (line.range_of or name) in sheet.lockup_gears
    stated = stated_ratio(sheet, line)
    on = tuple(line.on)
    if found is None:
        return GearLine(kind, stated, None, None, on, line.coast, {}, {}, {}, "unknown", None, lockup)
    return GearLine(
        kind,
        stated,
        found.ratio,
        found.error_percent,
        on,
        line.coast,
        found.torque,
        found.speeds,
        found.pinions,
        found.state,
        found.brakes_engine if found.state == "driven" else None,
        lockup,
    )


def _describe_solution(worked: WorkedTrain) -> SolvedSets | None:
    if worked.solution is None or worked.train is None:
        return None
    unknown = {item.id for item in worked.sheet.sets.values() if not item.teeth and not item.ratios}
    ratios = {
        mesh.member: mesh.ratio for mesh in worked.train.meshes if mesh.ratio is not None and mesh.set_id in unknown
    }
    return SolvedSets(ratios, worked.solution.solved_from, worked.solution.proved_on)
