"""What is said of one case of a fleet: posteriors alone, without spread and reasons."""

from collections.abc import Mapping
from dataclasses import dataclass

from shiftlore.cases import Case
from shiftlore.compiling import CompiledUnit, compile_case
from shiftlore.ranking import measure_fit, rank_areas


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


class Judge:
    """Judges the cases of one unit."""

    def __init__(self, unit: CompiledUnit):
        self.unit = unit
        self.area_of = {key: cause.area for key, cause in unit.expansion.causes.items()}

    def judge(self, case: Case) -> Verdict:
        """Give the posteriors of a case.

        Raises: ImpossibleEvidence: the answers cannot all be true; names the clash.
        """
        return self.judge_alone(case)

    def judge_alone(self, case: Case) -> Verdict:
        """Give the posteriors of a case the way a ranking does."""
        compiled = compile_case(self.unit, case)
        fit = measure_fit(compiled)
        order = compiled.knowledge.areas
        ranked = {one.area: one.probability for one in rank_areas(compiled)}
        return Verdict(
            {key: ranked[key] for key in order},
            dict(zip(compiled.causes, compiled.causes_now.tolist(), strict=True)),
            self.area_of,
            float(compiled.faults_now[0]),
            fit.log10_odds,
            fit.left_out,
            compiled.closed[0] if compiled.closed else "",
        )
