"""One chunk of a fleet: rows are read as cases, judged, and written as lines of JSON, refused ones apart."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import msgspec

from shiftlore.basics import CaseError, KnowledgeError, Problem, ShiftloreError
from shiftlore.cases import Case, Known, Vehicle, peek_node, read_node
from shiftlore.compiling import CompiledUnit, compile_case, compile_unit, list_known
from shiftlore.fleet.rows import LETTER, Chunk, FleetRow
from shiftlore.knowledge import Knowledge
from shiftlore.ranking import measure_left_out, measure_odds
from shiftlore.reading import CASE_BYTES, Node, read_json_line


@dataclass(frozen=True, slots=True)
class Verdict:
    """The posteriors of one case.

    Args:
        areas: P(at least one cause of the area is at work), in the rules' order.
        causes: P(cause present now), in the rules' order; area_of: of each cause its area.
        nothing_found: P(no cause in the knowledge is present).
        log10_odds: how well the answers fit together; left_out: as of a ranking.
        closed: the job that cured it, or "".
    """

    areas: Mapping[str, float]
    causes: Mapping[str, float]
    area_of: Mapping[str, str]
    nothing_found: float
    log10_odds: float
    left_out: float
    closed: str = ""


def judge_case(unit: CompiledUnit, case: Case) -> Verdict:
    """Give the posteriors of a case.

    Raises: ImpossibleEvidence: the answers cannot all be true; names the clash.
    """
    compiled = compile_case(unit, case)
    areas = compiled.sum_over_areas(compiled.faults_now).tolist()
    return Verdict(
        areas=dict(zip(compiled.knowledge.areas, areas, strict=True)),
        causes=dict(zip(compiled.causes, compiled.causes_now.tolist(), strict=True)),
        area_of=compiled.unit.area_of,
        nothing_found=float(compiled.faults_now[0]),
        log10_odds=measure_odds(compiled),
        left_out=measure_left_out(compiled),
        closed=compiled.closed[0] if compiled.closed else "",
    )


DIGITS = 6
"""Digits after the point of every probability that is written."""
LEAST_SHOWN = 0.4 * 10**-DIGITS
"""What is less is nothing once it is rounded."""
FIT_DIGITS = 4
ID, LONGEST_ID = "id", 200
VERSION_NOT_TOLD = "030"
"""A row need not say in which format it is written: there is one."""


@dataclass(frozen=True, slots=True)
class ChunkTask:
    """A chunk to be judged.

    Args:
        name: what problems call the input.
        folder: from where a row's own unit sheet is seen.
        count: causes that are written for each row, the likeliest first.
    """

    chunk: Chunk
    name: str
    folder: str
    count: int


@dataclass(frozen=True, slots=True)
class JudgedChunk:
    """A chunk that was judged: lines of results, lines of refused rows, how many of each, and what to tell of the latter."""

    results: bytes
    refused: bytes
    n_results: int
    n_refused: int


def judge_chunk(knowledge: Knowledge, task: ChunkTask) -> JudgedChunk:
    """Judge the rows of a chunk, in order."""
    if judge_chunk not in knowledge.worked_out:
        knowledge.worked_out[judge_chunk] = _RowReader(knowledge)
    reader: _RowReader = knowledge.worked_out[judge_chunk]
    results: list[bytes] = []
    refused: list[bytes] = []
    for row in task.chunk.rows:
        done, line = reader.judge(row, task)
        (results if done else refused).append(msgspec.json.encode(line) + b"\n")
    return JudgedChunk(b"".join(results), b"".join(refused), len(results), len(refused))


class _RowReader:
    """Reads and judges rows; remembers what units know."""

    def __init__(self, knowledge: Knowledge):
        self.knowledge, self.units = knowledge, dict[Vehicle, tuple[Known, CompiledUnit | None]]()

    def judge(self, row: FleetRow, task: ChunkTask) -> tuple[bool, dict[str, Any]]:
        """Give whether a row could be judged, and what is written of it."""
        named: dict[str, Any] = {"row": row.number}
        problems = [row.problem] if row.problem else []
        if not problems:
            node, problems = read_json_line(row.text, task.name, row.number, LETTER, CASE_BYTES)
            if node is not None:
                problems += _take_id(node, named)
                try:
                    return True, self._weigh(node, problems, task, named)
                except (CaseError, KnowledgeError) as error:
                    problems = list(error.problems)
                except ShiftloreError as error:
                    return False, _refuse(row, named, [_tell(str(error))])
        return False, _refuse(row, named, [_plain_problem(problem) for problem in problems])

    def _weigh(self, node: Node, problems: list[Problem], task: ChunkTask, named: dict[str, Any]) -> dict[str, Any]:
        vehicle = peek_node(node, task.folder)
        known, unit = self._of_vehicle(vehicle)
        case = read_node(node, problems, known, task.folder)
        if unit is None:
            unit = compile_unit(self.knowledge, vehicle)
            self.units[vehicle] = (known, unit)
        return named | _write(judge_case(unit, case), case, task.count)

    def _of_vehicle(self, vehicle: Vehicle) -> tuple[Known, CompiledUnit | None]:
        if vehicle not in self.units:
            self.units[vehicle] = (list_known(self.knowledge, vehicle), None)
        return self.units[vehicle]


def _take_id(node: Node, named: dict[str, Any]) -> list[Problem]:
    """Take the name of a row out of what is read as a case."""
    given = [value for key, value in node.pairs if key.text == ID]
    node.pairs = [pair for pair in node.pairs if pair[0].text != ID]
    if not given or given[0].is_null:
        return []
    if given[0].kind != "scalar" or len(given[0].text) > LONGEST_ID:
        advice = f"Write a text of at most {LONGEST_ID} letters, a whole number, or leave it out."
        return [Problem(given[0].mark, LETTER + "013", "The id of the row is no short text", advice)]
    is_whole = given[0].bare and given[0].text.lstrip("-").isdecimal()
    named[ID] = int(given[0].text) if is_whole and len(given[0].text) < 16 else given[0].text
    return []


def _refuse(row: FleetRow, named: Mapping[str, Any], problems: list[dict[str, Any]]) -> dict[str, Any]:
    return {**named, "problems": problems, "given": row.text.decode("utf-8", "replace")}


def _plain_problem(problem: Problem) -> dict[str, Any]:
    return {
        "code": problem.code,
        "severity": problem.severity,
        "what": problem.what.rstrip(".") + ".",
        "write_instead": problem.write_instead,
    }


def _tell(text: str) -> dict[str, Any]:
    """Turn a sentence, and what to do about it, into a problem."""
    what, _, advice = text.partition(". ")
    return {"code": LETTER + "040", "severity": "error", "what": what.rstrip(".") + ".", "write_instead": advice}


def _write(verdict: Verdict, case: Case, count: int) -> dict[str, Any]:
    """Give what is written of a case that was judged."""
    told = [problem for problem in case.warnings if problem.code != LETTER + VERSION_NOT_TOLD]
    line: dict[str, Any] = {
        "unit": case.unit,
        "areas": [{"area": key, "probability": p} for key, p in _order(verdict.areas)],
        "causes": [
            {"id": key, "area": verdict.area_of[key], "probability": p} for key, p in _order(verdict.causes, count)
        ],
        "nothing_found": _rounded(verdict.nothing_found),
        "fit": {
            "log10_odds": round(verdict.log10_odds, FIT_DIGITS) + 0.0,
            "left_out": round(verdict.left_out, FIT_DIGITS) + 0.0,
        },
        "problems": [_plain_problem(problem) for problem in told],
    }
    return line | ({"closed": verdict.closed} if verdict.closed else {})


def _rounded(p: float) -> float:
    return round(min(max(p, 0.0), 1.0), DIGITS) + 0.0


def _order(found: Mapping[str, float], count: int | None = None) -> list[tuple[str, float]]:
    """Give what rounds to more than nothing, most probable first; what is equal as printed stands in the rules' order.

    Args:
        count: so many of them at most; None takes all.
    """
    least = LEAST_SHOWN
    if count is not None and 0 < count < len(found):
        least = max(least, sorted(found.values())[-count] - 10**-DIGITS)  # what is less is printed as less
    shown = [(key, _rounded(p)) for key, p in found.items() if p > least]
    return sorted((pair for pair in shown if pair[1] > 0), key=lambda pair: -pair[1])[:count]
