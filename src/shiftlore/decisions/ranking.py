"""Rank the causes of one case: how probable, how sure of it, and what speaks for and against each.

What is ranked is the probability that a cause is present in a vehicle that was brought in. By definition a cause is
a fault bad enough to bring a vehicle in, and causes are rare in the fleet, so "present" and "at work on the
complaint" are the same but for the chance of two such faults at once; the tie in the network (see
`compiling.priors`) accounts for both.
"""

import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from shiftlore.compiling import CompiledCase, evidence_of, fill_in_answers, query_with_pgmpy
from shiftlore.network import draw_parameters

N_DRAWS = 120
"""Draws from the spreads of the rule strengths; the 5th and 95th percentile of so many are steady to a tenth of
their distance (judgement)."""
DRAW_SEED = 20_110_706
LOW_PERCENT, HIGH_PERCENT = 5, 95
SMALLEST_DECIBANS = 0.5
"""Half a deciban is about the smallest change of belief that a person notices (Good 1950)."""
P_FLOOR = 1e-15
AUDITED_CAUSES = 12


@dataclass(frozen=True, slots=True)
class Reason:
    """An answer and its weight of evidence for a cause, in decibans (Good 1950): 10 log10 of the odds ratio."""

    finding: str
    label: str
    decibans: float


@dataclass(frozen=True, slots=True)
class RankedCause:
    """A cause with its probability, its spread (5th and 95th percentile), and what speaks for and against it."""

    id: str
    label: str
    area: str
    probability: float
    low: float
    high: float
    speaks_for: tuple[Reason, ...]
    speaks_against: tuple[Reason, ...]


@dataclass(frozen=True, slots=True)
class RankedArea:
    """The probability that at least one cause of an area is at work."""

    area: str
    label: str
    probability: float


@dataclass(frozen=True, slots=True)
class Fit:
    """How well the answers fit together: log10 of P(all) over the product of each alone."""

    log10_odds: float
    note: str


@dataclass(frozen=True, slots=True)
class Audit:
    """What a general library makes of the same network and answers."""

    engine: str
    max_abs_difference: float
    causes: int
    seconds: float


@dataclass(frozen=True, slots=True)
class Ranking:
    """The whole ranking of one case, most probable first."""

    unit: str
    areas: tuple[RankedArea, ...]
    causes: tuple[RankedCause, ...]
    nothing_found: float
    fit: Fit
    seconds: float
    unused: tuple[str, ...] = ()
    audit: Audit | None = None


def rank_causes(compiled: CompiledCase, spread: bool = True, audit: bool = False) -> Ranking:
    """Rank all causes of a compiled case.

    Args:
        spread: whether to draw from the spreads of the strengths (else low = high = probability).
        audit: whether to recompute the leading causes with pgmpy.
    Raises: ImpossibleEvidence: the answers cannot all be true; names the clash.
    """
    started = time.perf_counter()
    causes, engine, evidence = compiled.causes, compiled.engine, compiled.evidence
    posterior = engine.posterior(evidence, causes)
    p_present = posterior.p_present
    low, high = _draw_spread(compiled) if spread else (p_present, p_present)
    reasons = _weigh_answers(compiled, p_present)
    order = np.argsort(-p_present, kind="stable")
    ranked = tuple(
        RankedCause(
            causes[i], compiled.expansion.causes[causes[i]].label, compiled.expansion.causes[causes[i]].area,
            float(p_present[i]), float(min(low[i], p_present[i])), float(max(high[i], p_present[i])),
            *_split_reasons(compiled, reasons, int(i)),
        )
        for i in order
    )
    areas, nothing_found = _rank_areas(compiled)
    fit = measure_fit(compiled, posterior.log_p_evidence)
    ranking = Ranking(
        compiled.case.unit, areas, ranked, nothing_found, fit, time.perf_counter() - started, compiled.unused
    )
    return replace(ranking, audit=audit_ranking(compiled, ranking)) if audit else ranking


def _draw_spread(compiled: CompiledCase) -> tuple[np.ndarray, np.ndarray]:
    """Give the 5th and 95th percentile of each cause's probability under the spread of the strengths."""
    rng = np.random.default_rng(DRAW_SEED)
    parameters = draw_parameters(compiled.network, rng, N_DRAWS)
    drawn = compiled.engine.draws(compiled.evidence, parameters, compiled.causes)
    low, high = np.percentile(drawn, [LOW_PERCENT, HIGH_PERCENT], axis=0)
    return low, high


def log_odds(p: np.ndarray) -> np.ndarray:
    """Give ten times the decimal logarithm of the odds.

    Example:
        >>> round(float(log_odds(np.array(10 / 11))), 9)
        10.0
    """
    p = np.clip(p, P_FLOOR, 1 - P_FLOOR)
    return 10 * np.log10(p / (1 - p))


def _weigh_answers(compiled: CompiledCase, p_present: np.ndarray) -> Mapping[str, np.ndarray]:
    """Weigh each answer for every cause by taking it back: decibans, shape (n_causes,), by finding.

    An answer that stands for others is taken back with all that it stands for.
    """
    now = log_odds(p_present)
    weights = {}
    for answer in compiled.answers:
        rest = without_answer(compiled, answer.finding)
        weights[answer.finding] = now - log_odds(compiled.engine.posterior(rest, compiled.causes).p_present)
    return weights


def without_answer(compiled: CompiledCase, finding: str) -> dict[str, int | np.ndarray]:
    """Give the evidence of a case without one answer and what it alone stands for."""
    rest = tuple(answer for answer in compiled.answers if answer.finding != finding)
    return evidence_of(compiled.expansion, fill_in_answers(compiled.expansion, rest))


def _split_reasons(
    compiled: CompiledCase, weights: Mapping[str, np.ndarray], position: int
) -> tuple[tuple[Reason, ...], tuple[Reason, ...]]:
    """Sort the answers that matter for one cause into for and against, the weightiest first."""
    reasons = []
    for answer in compiled.answers:
        decibans = float(weights[answer.finding][position]) if answer.finding in weights else 0.0
        if abs(decibans) >= SMALLEST_DECIBANS:
            reasons.append(Reason(answer.finding, describe_answer(compiled, answer.finding, answer.grade), decibans))
    reasons.sort(key=lambda reason: -abs(reason.decibans))
    return (
        tuple(reason for reason in reasons if reason.decibans > 0),
        tuple(reason for reason in reasons if reason.decibans < 0),
    )


def describe_answer(compiled: CompiledCase, finding: str, grade: str) -> str:
    """Say an answer in words: `Fluid smells burnt: no`, `Fluid level: over full`."""
    record = compiled.expansion.finding_records[finding]
    return f"{compiled.expansion.findings[finding].label}: {record.grade_labels.get(grade, grade)}"


def _rank_areas(compiled: CompiledCase) -> tuple[tuple[RankedArea, ...], float]:
    """Give, per area, the probability that at least one of its causes is present, and that none is at all."""
    causes = compiled.causes
    area_of = np.array([compiled.expansion.causes[cause].area for cause in causes])
    areas = [area for area in compiled.knowledge.areas if np.any(area_of == area)]
    kappa = np.ones((len(areas) + 1, len(causes)))
    for row, area in enumerate(areas):
        kappa[row, area_of == area] = 0.0
    p_some = compiled.engine.p_free(compiled.evidence, kappa, causes)
    nothing_found = float(np.clip(1 - p_some[-1], 0, 1))
    ranked = [
        RankedArea(area, compiled.knowledge.areas[area].label, float(np.clip(p_some[-1] - p, 0, 1)))
        for area, p in zip(areas, p_some[:-1], strict=True)
    ]
    return tuple(sorted(ranked, key=lambda item: -item.probability)), nothing_found


def measure_fit(compiled: CompiledCase, log_p_evidence: float) -> Fit:
    """Measure whether the answers support each other.

    Source: Jensen, Chamberlain, Nordahl, Jensen 1990, "Analysis in HUGIN of data conflict": the ratio of the product of
    the single probabilities to the joint one; here its negative logarithm.
    """
    if not compiled.evidence:
        return Fit(0.0, "No answers yet.")
    alone = 0.0
    findings = tuple(compiled.evidence)
    turn = compiled.engine.turn({}, findings, compiled.causes[:1])
    for finding in findings:
        p_outcome = turn.outcomes[finding].p_outcome
        value = compiled.evidence[finding]
        p = p_outcome[int(value)] if isinstance(value, (int, np.integer)) else float(p_outcome @ value)
        alone += float(np.log(max(p, P_FLOOR)))
    log10_odds = (log_p_evidence - alone) / float(np.log(10))
    if log10_odds >= 0:
        note = "The answers support each other."
    elif log10_odds > -1:
        note = "The answers fit together about as well as unrelated ones."
    else:
        note = "The answers contradict each other: look for a wrong reading, or for two faults."
    return Fit(log10_odds, note)


def audit_ranking(compiled: CompiledCase, ranking: Ranking, causes: Sequence[str] | None = None) -> Audit:
    """Recompute the leading causes with pgmpy's variable elimination and tell the largest difference."""
    started = time.perf_counter()
    leading = list(causes or [cause.id for cause in ranking.causes[:AUDITED_CAUSES]])
    theirs = query_with_pgmpy(compiled, leading)
    ours = {cause.id: cause.probability for cause in ranking.causes}
    difference = max((abs(theirs[cause] - ours[cause]) for cause in leading), default=0.0)
    return Audit("pgmpy VariableElimination", difference, len(leading), time.perf_counter() - started)
