"""What a case of one unit may speak of."""

from dataclasses import replace

from shiftlore.basics import UnknownId
from shiftlore.cases import Known, Vehicle
from shiftlore.compiling.answers import grades_of, list_onsets, list_stood_for
from shiftlore.compiling.compiled import CompiledUnit, compile_unit
from shiftlore.compiling.expansion import Expansion
from shiftlore.compiling.priors import event_answer
from shiftlore.knowledge import Knowledge


def list_known(knowledge: Knowledge, unit: str | Vehicle) -> Known:
    """Give what a case of a unit may speak of; for a unit that does not exist only the units' names.

    Raises: KnowledgeError: the unit is an own sheet that has problems.
    """
    try:
        known = known_of(compile_unit(knowledge, unit))
    except UnknownId:
        return Known({}, {}, tuple(knowledge.sheets))
    return replace(known, units=(*knowledge.sheets, unit.unit if isinstance(unit, Vehicle) else unit))


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
        onset_says=list_onsets(expansion),
        event_says={key: event_answer(item) for key, item in knowledge.backgrounds.items() if item.event},
        measures=unit.dials.units,
        grade_measured=unit.dials.grade,
        misfits=unit.misfits,
        causes=(*expansion.causes, *(key for key in knowledge.causes if key not in expansion.causes)),
    )


def _list_elsewhere(unit: CompiledUnit) -> dict[str, tuple[str, ...]]:
    """List findings that other units have: whole ids, and with a last underscore the beginnings of templates' ids."""
    found = {}
    for record in unit.knowledge.findings.values():
        if record.scope.each is not None:
            found[f"{record.id}_"] = record.grades
        elif record.id not in unit.expansion.findings:
            found[record.id] = record.grades
    return found


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
