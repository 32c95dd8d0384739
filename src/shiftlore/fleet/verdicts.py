"""What is said of one case of a fleet: posteriors alone, without spread and reasons."""

from collections.abc import Mapping
from dataclasses import dataclass

from shiftlore.cases import Case
from shiftlore.compiling import CompiledUnit, compile_case
from shiftlore.ranking import measure_left_out, measure_odds


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
