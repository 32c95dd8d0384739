"""Put the answers of a log into a case: what the case says already stays, and what differs is told."""

from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path

from shiftlore.basics import CaseError, ShiftloreError, UsageProblem
from shiftlore.basics.holding import hold_file
from shiftlore.basics.problems import printable
from shiftlore.cases import Answer, Case, CaseFile, Done, Measured, peek_vehicle, read_case, render_case
from shiftlore.compiling import CompiledUnit, compile_unit, list_known
from shiftlore.knowledge import Knowledge
from shiftlore.tracing.traces import Added, Trace, trace_log

ANSWERED_SHARE = 0.5
"""A road test counts as done where the log answers half of what it reveals (judgement)."""


def add_to_case(case: Case, trace: Trace, unit: CompiledUnit, read: Callable[[str], Case]) -> tuple[Case, Added]:
    """Add the answers of a log to a case; an answer that is there is never overwritten.

    Args:
        read: reads a case from a text, and raises CaseError where it contradicts itself.
    Returns: the case, and what is new in it.
    """
    added: list[str] = []
    kept: dict[str, str] = {}
    refused: dict[str, str] = {}
    for key, one in trace.findings.items():
        given = case.findings.get(key)
        if given is not None or key in case.complaint:
            says = given.grade if given is not None else unit.expansion.findings[key].grades[-1]
            if says != one.is_grade:
                kept[key] = says
            continue
        new = case.with_findings({key: Answer(key, one.is_grade, one.doubt)})
        if (
            one.number
            and one.number not in case.measured
            and unit.dials.grade(one.number, one.measured).get(key) == one.is_grade
        ):
            new = replace(new, measured={**new.measured, one.number: Measured(one.measured, one.unit)})
        try:
            read(render_case(new))
        except CaseError as error:
            refused[key] = error.problems[0].what
            continue
        case = new
        added.append(key)
    return _note_check(case, trace, unit), Added(tuple(added), kept, refused)


def _note_check(case: Case, trace: Trace, unit: CompiledUnit) -> Case:
    """Note the road test as done where the log answers most of it."""
    for name, check in unit.expansion.checks.items():
        shown = unit.expansion.reveals.get(name, ())
        told = sum(key in trace.findings for key in shown)
        if check.recorded and name not in case.done_ids and shown and told >= ANSWERED_SHARE * len(shown):
            return case.with_done(Done(name))
    return case


Traced = Callable[[Knowledge, Path, str | None, Sequence[str]], Trace]


def trace_into(path: Path) -> Traced:
    """Give the way to trace a log for the case of a file, which then holds what the log adds."""

    def trace(knowledge: Knowledge, log: Path, unit: str | None, columns: Sequence[str]) -> Trace:
        if not path.is_file():
            raise UsageProblem(f"There is no case {printable(str(path))}. Name the file of a case.")
        shown = printable(str(path))
        with hold_file(
            path, lambda by: ShiftloreError(f"{shown} is open in another session ({by}). Close it there first.")
        ):
            return _trace_held(knowledge, path, log, unit, columns)

    return trace


def _trace_held(knowledge: Knowledge, path: Path, log: Path, unit: str | None, columns: Sequence[str]) -> Trace:
    """Trace a log for a case whose file is held, and write it."""

    def read(text: str) -> Case:
        return read_case(text, list_known(knowledge, peek_vehicle(text, path)), path)

    file = CaseFile(path, read)
    case = file.open()
    assert case is not None, "it is there"
    if unit is not None and unit != case.unit:
        advice = f"Leave --unit out, or write unit: {printable(unit)} into the case."
        raise UsageProblem(f"The case is about {printable(case.unit)}, and --unit says {printable(unit)}. {advice}")
    trace = trace_log(knowledge, log, case.vehicle, columns)
    case, added = add_to_case(case, trace, compile_unit(knowledge, case.vehicle), read)
    file.save(case)
    return replace(trace, added=added)
