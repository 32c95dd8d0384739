"""A unit compiled once: its rules as arrays, what a distance and a background make of them, what a case of it may say.

A distance moves only the shares of the causes, so no tables are made anew for it; a background moves the leaks of a few
signs, so there are few tables, and cases share them.
"""

import contextlib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property, partial
from typing import TYPE_CHECKING, TypeVar
from zipfile import BadZipFile

import numpy as np

from shiftlore.basics import UnknownId
from shiftlore.basics.structs import Value
from shiftlore.cases import CODES, COMPLAINT, LOOKS, ODOMETER, RECENT, REPLACED, Case, Known, Vehicle
from shiftlore.compiling.aftermath import list_destroyers
from shiftlore.compiling.contradictions import is_ruled_out, list_wholes
from shiftlore.compiling.evidence import CaseSign, Dials, list_aliases, list_onsets, list_stood_for
from shiftlore.compiling.expansion import Expansion, expand_knowledge, expanded_id, flatten_states
from shiftlore.compiling.faults import NONE, Chances, make_faults, weigh_chances
from shiftlore.compiling.gates import GateArrays, build_tables, gather_gates, keep_unit, restore_unit, tabulate_unit
from shiftlore.compiling.lessons import Lessons
from shiftlore.compiling.priors import (
    Lived,
    background_factor,
    list_distances,
    list_lived,
    wear_factor,
    with_told_distance,
)
from shiftlore.exact import ColumnSums, Evidence, FloatArray, HubEngine, PairBounds
from shiftlore.gearing import Instance, name_instances
from shiftlore.knowledge import Knowledge
from shiftlore.knowledge.files import code_age, hash_text, read_kept, write_kept
from shiftlore.knowledge.rulebook import OVERLAY, READ_FROM, decode_record, encode_record
from shiftlore.sheets import UnitSheet, vary_sheet

if TYPE_CHECKING:
    from shiftlore.compiling.overlay import Overlay

PREPARED_KEPT = 4
"""Distances and backgrounds remembered per unit: those of the vehicle at hand, some for going back."""
GROUNDS_KEPT = 64
"""Tables of a unit that are kept: some megabytes each."""
BOUNDS_KEPT = 64
"""Sets of answers whose bounds are kept for a unit, half a megabyte each at most: whoever answers goes back."""
FACTORS_KEPT = 4096
UNITS_KEPT = 32
"""Units whose lines are kept in the cache, half a megabyte each."""
_CODE_ROOMS = ("compiling", "gearing", "sheets")
_DAMAGED = (ValueError, TypeError, KeyError, IndexError, OSError, EOFError, BadZipFile)
Key = TypeVar("Key")
Kept = TypeVar("Kept")


class Ground:
    """Tables of one unit under some leaks, with what answers make of single causes.

    Args:
        engine: of the root states none and every single cause.
        bounds: where bounds are kept, with those of other tables of the unit.
    """

    def __init__(self, engine: HubEngine, bounds: dict[tuple[object, ...], PairBounds] | None = None):
        self.engine = engine
        self._reached: dict[str, FloatArray] = {}
        self._bounds = {} if bounds is None else bounds

    def reach(self, finding: str) -> FloatArray:
        """Give P(finding reaches a grade | root state), shape (n_grades, n_root)."""
        if finding not in self._reached:
            table = self.engine.predict({}, (finding,))[finding]
            self._reached[finding] = np.cumsum(table[::-1], axis=0)[::-1]
        return self._reached[finding]

    def bound(self, evidence: Evidence) -> PairBounds:
        """Give what single causes and pairs make of the answers, from memory where it is known.

        Raises: ImpossibleEvidence: no single cause allows all of the answers; names a smallest clash.
        """
        key = (self, *evidence.items())
        bounds = self._bounds.pop(key, None) or PairBounds(ColumnSums(self.engine, evidence))
        _keep(self._bounds, key, bounds, BOUNDS_KEPT)
        return bounds

    def forget(self) -> None:
        """Forget what was worked out for answers."""
        self._bounds.clear()


class Grounds:
    """The tables of one unit, by what raises their leaks; and how distance and life weigh its causes."""

    def __init__(self, knowledge: Knowledge, expansion: Expansion, arrays: GateArrays):
        self.arrays, self.backgrounds, self.words = arrays, knowledge.backgrounds, knowledge.words
        self.records = tuple(expansion.causes.values())
        self.names = (NONE, *expansion.causes)
        self._grounds: dict[tuple[float, ...], Ground] = {}
        self._bounds: dict[tuple[object, ...], PairBounds] = {}
        self._factors: dict[tuple[object, ...], tuple[FloatArray, FloatArray]] = {}

    @cached_property
    def _shares(self) -> FloatArray:
        return np.array([cause.share for cause in self.records])

    @cached_property
    def _slopes(self) -> FloatArray:
        return np.array([cause.cause.wear for cause in self.records])

    def of_life(self, lived: Lived) -> Ground:
        """Give the tables under a vehicle's life."""
        leaks = np.ones(len(self.arrays.raised))
        for name, answers in lived.items():
            leaks = leaks * self._raise(name, answers)[1]
        key = tuple(leaks.tolist())
        ground = self._grounds.pop(key, None)
        if ground is None:
            even = np.full(len(self.names), 1 / len(self.names))
            engine = HubEngine(build_tables(self.arrays, lived, self.backgrounds, even, self.names))
            ground = Ground(engine, self._bounds)
        _keep(self._grounds, key, ground, GROUNDS_KEPT)
        return ground

    def weigh(self, distances: Sequence[float], lived: Lived) -> FloatArray:
        """Weigh every cause by its base rate, the distance and the vehicle's life, on any scale, shape (n_causes,).

        Args:
            distances: equally likely distances at which it failed, in km; none where nothing is known.
            lived: what is known of the vehicle's life.
        Source: see `priors.wear_factor` and `priors.background_factor`.
        """
        weights = self._shares
        if distances:
            wear = [wear_factor(km, self._slopes, self.words.reference_km) for km in distances]
            weights = weights * (np.sum(wear, axis=0) / len(distances))
        for name, answers in lived.items():
            weights = weights * self._raise(name, answers)[0]
        return weights

    def _raise(self, name: str, answers: Mapping[str, float]) -> tuple[FloatArray, FloatArray]:
        """Give what one background makes of each cause, shape (n_causes,), and of each leak that can be raised."""
        key = (name, *answers.items())
        if key not in self._factors:
            told, backgrounds = {name: answers}, self.backgrounds
            causes = [background_factor(one.cause.raised_by, told, backgrounds) for one in self.records]
            leaks = [background_factor(raises, told, backgrounds) for raises in self.arrays.raised.values()]
            _keep(self._factors, key, (np.array(causes), np.array(leaks)), FACTORS_KEPT)
        return self._factors[key]


def _keep(kept: dict[Key, Kept], key: Key, value: Kept, most: int) -> None:
    """Keep one thing more as the latest; the oldest goes."""
    kept[key] = value
    while len(kept) > most:
        del kept[next(iter(kept))]


class Prepared(Value, frozen=True, eq=False, dict=True):
    """What a distance and a background make of a unit, whatever the answers.

    Args:
        chances: chance of every set of causes.
        ground: tables of the root states none and every single cause.
    """

    chances: Chances
    ground: Ground

    @cached_property
    def prior(self) -> np.ndarray:
        """Chance of none and of every single cause, were there no sets, shape (n_causes + 1,)."""
        return make_faults(self.chances, []).prior

    @cached_property
    def single(self) -> HubEngine:
        """Engine of the root states none and every single cause."""
        return self.ground.engine.with_prior(self.prior, (NONE, *self.chances.causes))

    def how_often(self, finding: str, grade: int) -> float:
        """P(a finding reaches a grade) among vehicles of this distance and background."""
        return float(self.ground.reach(finding)[grade] @ self.prior)


@dataclass(frozen=True, eq=False)
class CompiledUnit:
    """The knowledge written out for one unit; shared by all cases of that unit.

    Args:
        arrays: all gates of the unit.
        sheet: its sheet, fitted to the vehicle; misfits: key of the case that it contradicts -> what is wrong, what to write.
        prepared: what the last distances and backgrounds made of it: an interview changes them seldom.
    """

    knowledge: Knowledge
    expansion: Expansion
    arrays: GateArrays
    sheet: UnitSheet
    misfits: Mapping[str, tuple[str, str]] = field(default_factory=dict)
    prepared: dict[object, Prepared] = field(default_factory=dict, repr=False)
    varied: dict[object, "CompiledUnit"] = field(default_factory=dict, repr=False)
    placed: dict[Lessons, np.ndarray] = field(default_factory=dict, repr=False)

    def prepare(self, case: Case) -> Prepared:
        """Give chances and tables for a case's distance and background, from memory if they are known."""
        lived = list_lived(self.knowledge, case)
        told = with_told_distance(case, self.knowledge.backgrounds)
        distances = list_distances(told, self.knowledge.words.reference_km)
        key = (distances, tuple((name, *answers.items()) for name, answers in sorted(lived.items())))
        if key not in self.prepared:
            if len(self.prepared) >= PREPARED_KEPT:
                self.prepared.pop(next(iter(self.prepared)))
            weights = self.grounds.weigh(distances, lived)
            chances = self.blank.vary(weights=weights / (weights.sum() or 1.0))
            self.prepared[key] = Prepared(chances, self.grounds.of_life(lived))
        return self.prepared[key]

    @cached_property
    def wholes(self) -> tuple[str, ...]:
        """The signs that stand for several parts together."""
        return list_wholes(self.expansion)

    @cached_property
    def grounds(self) -> Grounds:
        """Its tables, by what raises their leaks."""
        return Grounds(self.knowledge, self.expansion, self.arrays)

    @cached_property
    def blank(self) -> Chances:
        """The chance of every set of causes of a vehicle of which nothing is known."""
        words, shares = self.knowledge.words, {key: cause.share for key, cause in self.expansion.causes.items()}
        return weigh_chances(self.expansion, shares, words.complaint_total, words.nothing_found)

    @cached_property
    def area_of(self) -> Mapping[str, str]:
        """Map every cause to its area."""
        return {key: cause.area for key, cause in self.expansion.causes.items()}

    @cached_property
    def area_places(self) -> np.ndarray:
        """Give of each cause the position of its area in the rules, shape (n_causes,)."""
        place = {area: i for i, area in enumerate(self.knowledge.areas)}
        return np.array([place[area] for area in self.area_of.values()], dtype=np.intp)

    def places_of(self, lessons: Lessons) -> np.ndarray:
        """Give of each cause the position of its area among those of what was learned, from memory."""
        if lessons not in self.placed:
            self.placed.clear()
            self.placed[lessons] = lessons.place_areas(self.area_of.values())
        return self.placed[lessons]

    def with_signs(self, signs: Sequence[CaseSign]) -> "CompiledUnit":
        """Give the unit with signs that one case alone has; from memory if the same were asked for last."""
        key = tuple(sign.node for sign in signs)
        if key and key not in self.varied:
            self.varied.clear()
            findings = {**self.expansion.findings, **{sign.node.id: sign.node for sign in signs}}
            records = {**self.expansion.finding_records, **{sign.node.id: sign.record for sign in signs}}
            expansion = self.expansion.vary(findings=findings, finding_records=records)
            own = replace(self, expansion=expansion, arrays=gather_gates(expansion), prepared={}, varied={})
            self.varied[key] = own
        return self.varied[key] if key else self

    def with_overlay(self, knowledge: Knowledge, overlay: "Overlay") -> "CompiledUnit":
        """Give the unit with learned numbers laid over the rules.

        Args:
            knowledge: the rules with that overlay.
        """
        from shiftlore.compiling.overlay import lay_overlay

        expansion = lay_overlay(self.expansion, overlay)
        arrays = gather_gates(expansion)
        return replace(self, knowledge=knowledge, expansion=expansion, arrays=arrays, prepared={}, varied={})

    @cached_property
    def dials(self) -> Dials:
        """What measured numbers answer."""
        return Dials(self.expansion, self.sheet.limits)

    @cached_property
    def destroyers(self) -> np.ndarray:
        """See `list_destroyers`."""
        return list_destroyers(self.expansion)

    @cached_property
    def aliases(self) -> Mapping[str, str]:
        """Trouble code -> expanded finding."""
        return list_aliases(self.knowledge, self.expansion)


def compile_unit(knowledge: Knowledge, unit: str | Vehicle) -> CompiledUnit:
    """Write the knowledge out for one unit, once: the knowledge remembers it.

    Args:
        unit: id of a sheet, path of an own one, or what a case says of its vehicle.
    Raises: UnknownId: no sheet carries the id; names the nearest. KnowledgeError: the own sheet has problems.
    """
    vehicle = unit if isinstance(unit, Vehicle) else Vehicle(unit)
    key = vehicle.vary(folder="") if vehicle.unit in knowledge.sheets else vehicle
    kept = knowledge.worked_out.get(key)
    if isinstance(kept, CompiledUnit):
        return kept
    overlay, plain = knowledge.worked_out.get(OVERLAY, (None, knowledge))
    if overlay is not None:
        compiled = compile_unit(plain, unit).with_overlay(knowledge, overlay)
        knowledge.worked_out[key] = compiled
        return compiled
    sheet, misfits = vary_sheet(knowledge.sheet_of(vehicle.unit, vehicle.folder), vehicle.speeds, vehicle.layout)
    compiled = CompiledUnit(knowledge, *_write_out(knowledge, sheet), sheet, misfits)
    knowledge.worked_out[key] = compiled
    return compiled


def _write_out(knowledge: Knowledge, sheet: UnitSheet) -> tuple[Expansion, GateArrays]:
    """Write the rules out for a sheet; what was written of these very rules and this sheet before is taken from the cache."""
    read_from = knowledge.worked_out.get(READ_FROM)
    at_rest = repr(decode_record(UnitSheet, encode_record(sheet)))  # read from its file a whole number may be no float
    name = f"{read_from}-{hash_text(code_age(*_CODE_ROOMS), at_rest)}.unit"
    if read_from and (body := read_kept(name)) is not None:
        with contextlib.suppress(*_DAMAGED):
            expansion, table = restore_unit(knowledge, body)
            return expansion, gather_gates(expansion, kept=table)
    from shiftlore.gearing import unit_facts  # the gear train, which a unit from the cache does without

    expansion = expand_knowledge(knowledge, unit_facts(sheet))
    expansion = expansion.vary(states=flatten_states(expansion.states))
    table = tabulate_unit(expansion)
    if read_from and (body := keep_unit(expansion, table)) is not None:
        write_kept(name, body, UNITS_KEPT)
    return expansion, gather_gates(expansion, kept=table)


def list_known(knowledge: Knowledge, unit: str | Vehicle) -> Known:
    """Give what a case of a unit may speak of; for a unit that does not exist only the units' names.

    Raises: KnowledgeError: the unit is an own sheet that has problems.
    """
    try:
        known = known_of(compile_unit(knowledge, unit))
    except UnknownId:
        return Known({}, {}, tuple(knowledge.sheets))
    return known.vary(units=(*knowledge.sheets, unit.unit if isinstance(unit, Vehicle) else unit))


def known_of(unit: CompiledUnit) -> Known:
    """Give what a case of a compiled unit may speak of."""
    knowledge, expansion = unit.knowledge, unit.expansion
    return Known(
        findings=grades_of(expansion),
        backgrounds={key: tuple(item.shares) for key, item in knowledge.backgrounds.items()},
        units=tuple(knowledge.sheets),
        checks=tuple(knowledge.checks),
        jobs=(*knowledge.jobs, *expansion.jobs),
        access=tuple(knowledge.access),
        codes=tuple(unit.aliases),
        aliases=expansion.renamed,
        doubts=tuple(knowledge.words.doubts),
        elsewhere=_list_elsewhere(unit),
        events=tuple(key for key, item in knowledge.backgrounds.items() if item.event),
        conditions=tuple(item.condition for item in knowledge.findings.values() if item.condition),
        code_findings=unit.aliases,
        excludes=list_excluded(expansion),
        includes={key: one.includes for key, one in expansion.finding_records.items() if one.includes},
        denied_by={
            key: tuple(part for part in _name_parts(expansion, one.denied_by) if is_ruled_out(expansion, key, part))
            for key, one in expansion.denied.items()
        },
        onset_says=list_onsets(expansion),
        event_says={key: item.recent or (item.happened,) for key, item in knowledge.backgrounds.items() if item.event},
        measures=unit.dials.units,
        grade_measured=unit.dials.grade,
        misfits=unit.misfits,
        tell_foreign=partial(_tell_foreign, unit),
        parts=_list_parts(expansion),
        asks=(COMPLAINT, CODES, ODOMETER, RECENT, REPLACED, LOOKS, *knowledge.findings),
        causes=(*expansion.causes, *(key for key in knowledge.causes if key not in expansion.causes)),
    )


def _list_elsewhere(unit: CompiledUnit) -> dict[str, tuple[str, ...]]:
    """List findings that other units have, those of their gears and parts among them."""
    knowledge = unit.knowledge
    if _list_elsewhere not in knowledge.worked_out:
        parts: dict[str, dict[str, Instance]] = {}
        for sheet in knowledge.sheets.values():
            for each, instances in name_instances(sheet)[0].items():
                parts.setdefault(each, {}).update((one.id, one) for one in instances)
        knowledge.worked_out[_list_elsewhere] = {
            expanded_id(record.id, one): record.grades
            for record in knowledge.findings.values()
            for one in (parts.get(record.scope.each, {}).values() if record.scope.each else (None,))
        }
    every: dict[str, tuple[str, ...]] = knowledge.worked_out[_list_elsewhere]
    return {key: grades for key, grades in every.items() if key not in unit.expansion.findings}


def _tell_foreign(unit: CompiledUnit, job: str) -> str:
    """Say what to write instead of a job that nobody does on a unit: of the same kind here, what cures most alike."""
    jobs, here = unit.knowledge.jobs, unit.expansion.job_templates
    if job not in jobs or job in here or job in here.values():
        return ""
    own, alike = {*jobs[job].cures, *jobs[job].contains}, dict[str, float]()
    for other in dict.fromkeys(here.values()):
        if jobs[other].kind == jobs[job].kind:
            theirs = {*jobs[other].cures, *jobs[other].contains}
            alike[other] = len(own & theirs) / max(len(own | theirs), 1)
    best = max(alike, key=lambda other: alike[other], default="")
    meant = (
        f"Write {best} ({jobs[best].label}) if that was done"
        if best and alike[best] > 0.0
        else "See whether the unit is right"
    )
    return f"{meant}; this line carries no weight here."


def _list_parts(expansion: Expansion) -> dict[str, tuple[str, ...]]:
    """List what a general finding asks about in general: finding -> the particular ones."""
    records = expansion.finding_records
    return {key: _name_parts(expansion, record.general_of) for key, record in records.items() if record.general_of}


def _name_parts(expansion: Expansion, templates: Iterable[str]) -> tuple[str, ...]:
    """List the findings of this unit that stand for templates."""
    return tuple(part for name in templates for part in expansion.of_template.get(name, ()))


def list_excluded(expansion: Expansion) -> dict[str, frozenset[str]]:
    """Map every finding that says that a scan found no code to the findings that it then rules out."""
    found = {}
    for key, record in expansion.finding_records.items():
        if record.none_by:
            stands = (stand for stand in record.stands_for if stand.answer == "yes")
            found[key] = frozenset(
                item for stand in stands for item in list_stood_for(expansion, stand.groups, stand.findings)
            )
    return found


def grades_of(expansion: Expansion) -> Mapping[str, tuple[str, ...]]:
    """Map every finding of the unit to its grades, for reading cases."""
    return {key: node.grades for key, node in expansion.findings.items()}
