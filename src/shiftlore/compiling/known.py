"""What a case of one unit may speak of."""

from dataclasses import replace

from shiftlore.basics import UnknownId
from shiftlore.cases import CODES, COMPLAINT, LOOKS, ODOMETER, RECENT, REPLACED, Known, Vehicle
from shiftlore.compiling.answers import grades_of, list_onsets, list_stood_for
from shiftlore.compiling.compiled import CompiledUnit, compile_unit
from shiftlore.compiling.expansion import Expansion, expanded_id
from shiftlore.compiling.priors import event_answer
from shiftlore.gearing import Instance, name_instances
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


def _list_parts(expansion: Expansion) -> dict[str, tuple[str, ...]]:
    """List what a general finding asks about in general: finding -> the particular ones."""
    records = expansion.finding_records
    named = {key: record.general_of for key, record in records.items() if record.general_of}
    return {
        key: tuple(p for name in names for p in expansion.of_template.get(name, ())) for key, names in named.items()
    }


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
