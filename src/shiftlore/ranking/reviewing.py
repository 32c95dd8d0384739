"""Review the knowledge as a whole: its size per unit, how the textbook cases come out, what cannot be told apart."""

from collections import defaultdict
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path

from shiftlore.basics import CaseError, ImpossibleEvidence, KnowledgeError, Problem
from shiftlore.cases import Answer, Case, peek_vehicle, read_case
from shiftlore.compiling import CompiledUnit, compile_case, compile_unit, list_known
from shiftlore.gearing import check_sheet
from shiftlore.knowledge import Knowledge, TextbookCase
from shiftlore.sheets import is_sheet_file, read_sheet

TOP_THREE = 3


@dataclass(frozen=True, slots=True)
class TextbookResult:
    """How one textbook case came out; `place` counts causes as written, 1 is first, 0 means it could not be ranked."""

    id: str
    cause: str
    place: int
    probability: float
    first: str


@dataclass(frozen=True, slots=True)
class Review:
    """The knowledge, counted and tried.

    Args:
        counts: records as written, by kind.
        units: unit -> causes, states, findings after expansion, and gear ratios computed.
        textbook: cases, first, top_three.
        results: every textbook case.
        alike: groups of causes as written that lead to the same things in the same strength.
    """

    counts: Mapping[str, int]
    units: Mapping[str, Mapping[str, int]]
    textbook: Mapping[str, int]
    results: tuple[TextbookResult, ...]
    alike: tuple[tuple[str, ...], ...]


def review_knowledge(knowledge: Knowledge) -> Review:
    """Expand every unit and rank every textbook case."""
    units = {unit_id: compile_unit(knowledge, unit_id) for unit_id in knowledge.sheets}
    results = tuple(_try_case(units[case.unit], case) for case in knowledge.textbook.values() if case.unit in units)
    counts = {
        "causes_written": len(knowledge.causes),
        "states_written": len(knowledge.states),
        "findings_written": len(knowledge.findings),
        "checks": len(knowledge.checks),
        "jobs": len(knowledge.jobs),
        "backgrounds": len(knowledge.backgrounds),
        "codes": len(knowledge.codes),
        "units": len(knowledge.sheets),
    }
    textbook = {
        "cases": len(results),
        "first": sum(result.place == 1 for result in results),
        "top_three": sum(1 <= result.place <= TOP_THREE for result in results),
    }
    return Review(counts, {key: _size(unit) for key, unit in units.items()}, textbook, results, _find_alike(knowledge))


def _size(unit: CompiledUnit) -> dict[str, int]:
    expansion = unit.expansion
    ratios = sum(ratio is not None for ratio in expansion.facts.ratios.values())
    return {
        "causes": len(expansion.causes),
        "states": len(expansion.states),
        "findings": len(expansion.findings),
        "ratios_computed": ratios,
    }


def textbook_as_case(case: TextbookCase) -> Case:
    """Read a job card as a case."""
    findings = {}
    for key, value in case.findings.items():
        doubt = getattr(value, "doubt", None)
        grade = getattr(value, "grade", value)
        findings[key] = Answer(key, str(grade), doubt)
    return Case(case.unit, case.odometer_km, dict(case.background), (), findings)


def _try_case(unit: CompiledUnit, case: TextbookCase) -> TextbookResult:
    """Rank one card by causes as written: all instances of a template count as one."""
    compiled = compile_case(unit, textbook_as_case(case))
    try:
        p_present = compiled.p_causes
    except ImpossibleEvidence:
        return TextbookResult(case.id, case.cause, 0, 0.0, "")
    best: dict[str, float] = defaultdict(float)
    for key, p in zip(compiled.causes, p_present, strict=True):
        template = compiled.expansion.causes[key].template
        best[template] = max(best[template], float(p))
    order = sorted(best, key=lambda name: -best[name])
    place = order.index(case.cause) + 1 if case.cause in best else 0
    return TextbookResult(case.id, case.cause, place, best.get(case.cause, 0.0), order[0])


def _find_alike(knowledge: Knowledge) -> tuple[tuple[str, ...], ...]:
    """Group causes that nothing observed can tell apart, because they lead to the very same lines."""
    groups: dict[object, list[str]] = defaultdict(list)
    for cause in knowledge.causes.values():
        lines = frozenset(
            (link.target, link.where, link.when, tuple(sorted((grade, s.p) for grade, s in link.strengths.items())))
            for link in cause.leads_to
        )
        groups[cause.scope, lines].append(cause.id)
    return tuple(tuple(group) for group in groups.values() if len(group) > 1)


def review_file(path: Path, load: Callable[[], Knowledge]) -> list[Problem]:
    """Judge a single file: a unit sheet where it states gears, else a case.

    Args:
        load: gives the rules that a case is read by.
    """
    if is_sheet_file(path):
        sheet, problems = read_sheet(path)
        return problems if sheet is None else [*problems, *check_sheet(sheet)]
    try:
        return list(read_case(path, list_known(load(), peek_vehicle(path))).warnings)
    except (CaseError, KnowledgeError) as error:
        return list(error.problems)
