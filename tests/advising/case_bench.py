"""The project's own knowledge, loaded and compiled once, for tests of what stands on it."""

from functools import cache

from shiftlore.cases import Answer, Case
from shiftlore.compiling import CompiledCase, CompiledUnit, compile_case, compile_unit
from shiftlore.knowledge import Knowledge, load_knowledge


@cache
def knowledge() -> Knowledge:
    """All of the knowledge folder."""
    return load_knowledge()


@cache
def unit(unit_id: str = "long5") -> CompiledUnit:
    """One unit, written out."""
    return compile_unit(knowledge(), unit_id)


def case(unit_id: str = "long5", findings=None, **fields) -> CompiledCase:
    """A compiled case from finding -> grade and further fields of a case."""
    answers = {key: Answer(key, grade) for key, grade in (findings or {}).items()}
    return compile_case(unit(unit_id), Case(unit_id, findings=answers, **fields))


def slipping(**fields) -> CompiledCase:
    """A vehicle that slips, with dark burnt fluid."""
    return case(findings={"slips": "yes", "fluid_smell_burnt": "yes", "fluid_colour": "dark"}, **fields)
