"""Vehicles to practise on: from which causes they are drawn, how plain their signs are, and where the score is weak."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from hashlib import sha256
from typing import TYPE_CHECKING

import numpy as np

from shiftlore.basics import UsageProblem, nearest
from shiftlore.compiling import TOLD, CompiledUnit, compile_unit, doubt_answer, list_onsets
from shiftlore.exact import Evidence
from shiftlore.knowledge import Knowledge
from shiftlore.practising.recorded_drives import RecordedDrive, drive_sound, drive_vehicle
from shiftlore.practising.settling import settle_vehicle
from shiftlore.practising.typical import make_typical
from shiftlore.simulating import Drawn, UnitBench, draw_luck, draw_vehicles, set_up_bench

if TYPE_CHECKING:
    from shiftlore.casebook import PracticeScore

LEVELS = {
    1: "fluid and codes",
    2: "what a look and a road test show",
    3: "pressures, and what is inside",
    4: "anything, two faults at once too",
}
"""Level -> its name; which areas belong to it stands in `areas.yaml`."""
HARDEST = max(LEVELS)

PLAIN_CAUSE, PLAIN_AREA = {1: 0.5}, {1: 0.5, 2: 0.5}
"""Level -> how probable the cause, and its area, must be once the owner was asked the usual questions and a look and a
scan have told all they can: judgement."""
DOUBTFUL = {1: 0.0, 2: 0.05, 3: 0.1, 4: 0.15}
"""Level -> share of what an owner is asked of which he is not sure: judgement."""
TRIES = 30
"""Vehicles drawn at most to find one whose signs are plain; then the plainest of them is taken."""
PLAIN_WAYS = ("look", "scan")

LUCK, _DOUBT, _WORDS, _UNIT, _AREA, _ONSET = range(6)
"""What is drawn besides the vehicle, each with numbers of its own, so that one does not move the other."""


@dataclass(frozen=True, slots=True)
class Wish:
    """Which vehicle is practised on; equal wishes give equal vehicles.

    Args:
        area: the area of its cause, or "" for any.
        repair: id of the published repair that it is, or "" for one drawn from the rules.
    """

    unit: str
    level: int
    seed: int
    area: str = ""
    repair: str = ""


@dataclass(frozen=True, eq=False)
class Exercise:
    """A vehicle to practise on.

    Args:
        luck: how well each job would come out on each of its causes, as from `draw_luck`.
        unsure: what the owner is not sure of -> the state that he then names.
        told: of a published repair what was presented, as it stands there; report: what it was, in its words.
        driven: its road test, where it shows its fault there.
    """

    wish: Wish
    bench: UnitBench
    vehicle: Drawn
    luck: np.ndarray
    unsure: Mapping[str, int]
    told: str = ""
    report: str = ""
    driven: RecordedDrive | None = None

    @cached_property
    def drive(self) -> RecordedDrive | None:
        """Give its road test with the recorder on, or None where it cannot be simulated; a sound one is driven now."""
        if self.driven is not None:
            return self.driven
        case = self.bench.compiled
        return drive_sound(case, case.knowledge.sheet_of(self.wish.unit), self.vehicle, self.wish.seed)

    @property
    def causes(self) -> tuple[str, ...]:
        """Name the hidden causes."""
        return tuple(self.bench.compiled.causes[cause] for cause in self.vehicle.causes)

    @property
    def area(self) -> str:
        """Give the area that the round is scored in: the one wished for, or that of the first cause."""
        records = self.bench.compiled.expansion.causes
        return self.wish.area or records[self.causes[0]].area

    @property
    def mark(self) -> str:
        """Tell this vehicle from any other: a few digits that follow from its causes and all that it shows."""
        told = sorted(self.vehicle.readings.items())
        return sha256(repr((self.causes, told, sorted(self.unsure.items()))).encode()).hexdigest()[:12]

    def words_of(self, finding: str) -> np.random.Generator:
        """Give the source of chance from which the owner's words for a finding are drawn."""
        number = int.from_bytes(sha256(finding.encode()).digest()[:4], "big")
        return np.random.default_rng((self.wish.seed, _WORDS, number))

    def tell(self, finding: str) -> Evidence:
        """Give what the owner says of a finding, as evidence: sure, or doubted."""
        if finding not in self.unsure:
            return {finding: self.vehicle.readings[finding]}
        state = self.unsure[finding]
        rarity = self.bench.compiled.prepared.how_often(finding, 1) if state else 0.5
        return {finding: doubt_answer(state, _p_right(self.bench), rarity)}

    def tell_all(self) -> Evidence:
        """Give what the planner starts with: every complaint, and what an owner is asked before any work."""
        told: dict = {}
        for finding in (*self.vehicle.complaints, *self.bench.asked):
            told |= self.tell(finding)
        return told


def choose_unit(knowledge: Knowledge, seed: int) -> str:
    """Draw one of the units that have a sheet of their own."""
    units = sorted(sheet.id for sheet in knowledge.sheets.values() if not sheet.kind_only)
    return units[draw_place((seed, _UNIT), len(units))]


def draw_place(seed: tuple[int, int], count: int, weights: np.ndarray | None = None) -> int:
    """Draw one of several, by their weights if they have some: its place."""
    return int(np.random.default_rng(seed).choice(count, p=None if weights is None else weights / weights.sum()))


def check_area(knowledge: Knowledge, area: str, level: int) -> None:
    """Refuse an area that is not there, or is not practised at a level.

    Raises: UsageProblem: says what to give instead.
    """
    if area not in knowledge.areas:
        near = ", ".join(nearest(area, knowledge.areas)) or ", ".join(knowledge.areas)
        raise UsageProblem(f'There is no area "{area}". Write one of: {near}.')
    least = knowledge.areas[area].practised_from
    if level < least:
        label = knowledge.areas[area].label
        raise UsageProblem(
            f'"{label}" is practised from level {least} on. Add --level {least}, or choose another area.'
        )


def choose_area(knowledge: Knowledge, unit: str, level: int, seed: int, scores: "Mapping[str, PracticeScore]") -> str:
    """Draw the area to practise on where the score is weak.

    An area is drawn as often as its causes come in, times the chance that they would be missed now: one minus the mean
    of a Beta(1 + found, 1 + missed), so an area that was never practised counts as missed half of the time.
    Source: Laplace 1774, the rule of succession.
    """
    bench = bench_of(compile_unit(knowledge, unit))
    shares = weigh_areas(bench, level)
    names = sorted(shares)
    weights = np.array([shares[name] * p_missed(scores.get(name)) for name in names])
    return names[draw_place((seed, _AREA), len(names), weights)]


def p_missed(score: "PracticeScore | None") -> float:
    """Give the chance that a cause of an area is missed, by what was practised so far.

    Example:
        >>> p_missed(None)
        0.5
    """
    if score is None:
        return 0.5
    return (score.rounds - score.found + 1) / (score.rounds + 2)


def weigh_areas(bench: UnitBench, level: int) -> dict[str, float]:
    """Give how often a vehicle of a level has its cause in each area; areas that never are left out."""
    p_faults = weigh_faults_of_level(bench, level, "")
    causes = bench.compiled.faults.sum_over_causes(p_faults)
    shares: dict[str, float] = {}
    for name, p in zip(bench.compiled.causes, causes, strict=True):
        area = bench.compiled.expansion.causes[name].area
        shares[area] = shares.get(area, 0.0) + float(p)
    return {area: share for area, share in shares.items() if share > 0.0}


def weigh_faults_of_level(bench: UnitBench, level: int, area: str) -> np.ndarray:
    """Give how often each fault is drawn at a level, shape (n_faults,): as it comes in, as far as the level has it.

    Below the hardest level a vehicle has one cause only.
    Raises: UsageProblem: the unit has no such cause.
    """
    compiled, areas = bench.compiled, bench.compiled.knowledge.areas
    of_cause = [compiled.expansion.causes[name].area for name in compiled.causes]
    allowed = [areas[one].practised_from <= level for one in of_cause]
    most = len(compiled.causes) if level == HARDEST else 1
    takes = [
        0 < len(member) <= most
        and all(allowed[cause] for cause in member)
        and (not area or any(of_cause[cause] == area for cause in member))
        for member in compiled.faults.members
    ]
    weights = np.where(takes, compiled.p_faults, 0.0)
    if weights.sum() <= 0.0:
        label = areas[area].label if area else LEVELS[level]
        raise UsageProblem(f"{compiled.expansion.unit} has nothing of: {label}. Choose another unit or area.")
    return weights / weights.sum()


def bench_of(unit: CompiledUnit) -> UnitBench:
    """Give the bench of a unit, set up once for as long as the unit is kept."""
    kept = unit.knowledge.worked_out
    key = (set_up_bench, unit.expansion.unit)
    if key not in kept:
        kept[key] = set_up_bench(unit)
    return kept[key]


def draw_exercise(knowledge: Knowledge, wish: Wish) -> Exercise:
    """Draw the vehicle that a wish for one from the rules stands for.

    Raises: UsageProblem: there is no such vehicle, and what to ask for instead. UnknownId: no sheet carries the unit's id.
    """
    if wish.area:
        check_area(knowledge, wish.area, wish.level)
    bench = bench_of(compile_unit(knowledge, wish.unit))
    p_faults = weigh_faults_of_level(bench, wish.level, wish.area)
    drawn = with_one_onset(bench, without_none(bench, _draw_plain(bench, wish, p_faults)), wish.seed)
    vehicle, driven = drive_vehicle(bench.compiled, knowledge.sheet_of(wish.unit), drawn, wish.seed)
    if driven is not None and is_plain(wish.level, bench, drawn) and not is_plain(wish.level, bench, vehicle):
        vehicle, driven = drawn, None
    luck = draw_luck(bench, vehicle, (wish.seed, LUCK))
    return Exercise(wish, bench, vehicle, luck, draw_doubts(bench, vehicle, wish), driven=driven)


def without_none(bench: UnitBench, vehicle: Drawn) -> Drawn:
    """Take back that a scan finds no code where it shows one: the two are drawn each by itself."""
    records, readings = bench.compiled.expansion.finding_records, dict(vehicle.readings)
    for reveals in bench.reveals.values():
        scanned = [name for name in reveals if name in readings and records[name].got_by == "scan"]
        if any(readings[name] for name in scanned if not records[name].none_by):
            readings.update({name: 0 for name in scanned if records[name].none_by})
    return replace(vehicle, readings=readings)


def with_one_onset(bench: UnitBench, vehicle: Drawn, seed: int) -> Drawn:
    """Let a fault begin in one way, suddenly or slowly: what tells it is drawn each by itself. The fewest are changed."""
    nodes, readings = bench.compiled.expansion.findings, vehicle.readings
    ways = [
        {name: nodes[name].grades.index(grade) for name, grade in told.items() if name in readings}
        for told in list_onsets(bench.compiled.expansion).values()
    ]
    changes = [sum(readings[name] != state for name, state in way.items()) for way in ways]
    nearest_ways = [way for way, n in zip(ways, changes, strict=True) if n == min(changes)]
    way = nearest_ways[draw_place((seed, _ONSET), len(nearest_ways))] if ways else {}
    return replace(vehicle, readings={**readings, **way})


def _draw_plain(bench: UnitBench, wish: Wish, p_faults: np.ndarray) -> Drawn:
    """Draw vehicles until one has a complaint of its own, and signs as plain as the level promises; at last the plainest."""
    rng, found = np.random.default_rng(wish.seed), list[tuple[tuple[float, float], Drawn]]()
    for _ in range(TRIES):
        drawn = draw_vehicles(bench, 1, rng, p_faults)[0]
        vehicle = _settle(bench, drawn)
        p_cause, p_area = weigh_plainness(bench, vehicle)
        if vehicle.complaints and _is_enough(wish.level, p_cause, p_area):
            return vehicle
        if vehicle.complaints:
            found.append(((p_cause, p_area) if PLAIN_CAUSE.get(wish.level) else (p_area, p_cause), vehicle))
    return max(found, key=lambda one: one[0], default=((0.0, 0.0), drawn))[1]


def _settle(bench: UnitBench, vehicle: Drawn) -> Drawn:
    typical = replace(vehicle, readings=make_typical(bench, vehicle.causes, vehicle.readings))
    return settle_vehicle(bench.compiled, typical)


def is_plain(level: int, bench: UnitBench, vehicle: Drawn) -> bool:
    """Tell whether the signs of a vehicle are as plain as a level promises."""
    return _is_enough(level, *weigh_plainness(bench, vehicle))


def _is_enough(level: int, p_cause: float, p_area: float) -> bool:
    return p_cause >= PLAIN_CAUSE.get(level, 0.0) and p_area >= PLAIN_AREA.get(level, 0.0)


def weigh_plainness(bench: UnitBench, vehicle: Drawn) -> tuple[float, float]:
    """Give how probable the hidden cause, and its area, are once the usual questions, a look and a scan have told all."""
    compiled = bench.compiled
    records, causes = compiled.expansion.finding_records, compiled.expansion.causes
    asked = {*vehicle.complaints, *bench.asked}
    told = {
        name: state for name, state in vehicle.readings.items() if name in asked or records[name].got_by in PLAIN_WAYS
    }
    areas = {causes[compiled.causes[cause]].area for cause in vehicle.causes}
    p_causes = compiled.faults.sum_over_causes(compiled.engine.posterior(told)[0])
    inside = [causes[name].area in areas for name in compiled.causes]
    return float(p_causes[list(vehicle.causes)].min()), min(1.0, float(p_causes[inside].sum()))


def _p_right(bench: UnitBench) -> float:
    """Give how often an owner who is not sure is right; 1 where the knowledge has no word of doubt."""
    return next(iter(bench.compiled.knowledge.words.doubts.values()), 1.0)


def draw_doubts(bench: UnitBench, vehicle: Drawn, wish: Wish) -> dict[str, int]:
    """Draw of what the owner is not sure, and what he then says: wrong as often as the model has such words wrong.

    With o = (1 - p) / p of all signs overlooked beside those seen, and i of soundness imagined beside signs (see
    `doubt_answer`), he names a sign that is there with (1 - o) / (1 - i o), one that is not there with i times that.
    """
    rng, compiled = np.random.default_rng((wish.seed, _DOUBT)), bench.compiled
    p_right, found = _p_right(bench), dict[str, int]()
    for name, record in compiled.expansion.finding_records.items():
        chance = rng.random(2)
        is_his = record.got_by in TOLD and name in vehicle.readings and len(record.grades) == 2
        if not is_his or name in vehicle.complaints or chance[0] >= DOUBTFUL[wish.level] or p_right >= 1.0:
            continue
        doubt = doubt_answer(1, p_right, compiled.prepared.how_often(name, 1))
        seen = (1.0 - doubt.overlooked) / (1.0 - doubt.imagined * doubt.overlooked)
        p_named = seen if vehicle.readings[name] else doubt.imagined * seen
        found[name] = int(chance[1] < p_named)
    return found
