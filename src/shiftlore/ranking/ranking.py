"""Rank the causes of one case: how probable, how sure of it, and what speaks for and against each.

What is ranked is the probability that a cause is present in a vehicle that was brought in. By definition a cause is
a fault bad enough to bring a vehicle in; a vehicle has one such fault, or one of the pairs that go together (see
`compiling.faults`), so "present" and "at work on the complaint" are the same here.
"""

import time
from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from shiftlore.compiling import CompiledCase, query_with_pgmpy
from shiftlore.ranking.spreading import draw_spread

SMALLEST_DECIBANS = 0.5
"""Half a deciban is about the smallest change of belief that a person notices (Good 1950)."""
P_FLOOR = 1e-15


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
    p_present = compiled.causes_now
    low, high = draw_spread(compiled) if spread else (p_present, p_present)
    reasons = _weigh_answers(compiled)
    ranked = tuple(
        _rank_one(compiled, int(i), float(low[i]), float(high[i]), reasons)
        for i in np.argsort(-p_present, kind="stable")
    )
    nothing_found = float(compiled.faults_now[0])
    ranking = Ranking(
        unit=compiled.case.unit, areas=_rank_areas(compiled), causes=ranked, nothing_found=nothing_found,
        fit=measure_fit(compiled),
        seconds=time.perf_counter() - started, unused=compiled.unused,
    )
    return replace(ranking, audit=audit_ranking(compiled, ranking)) if audit else ranking


def _rank_one(
    compiled: CompiledCase, position: int, low: float, high: float, reasons: Mapping[str, np.ndarray]
) -> RankedCause:
    cause = compiled.expansion.causes[compiled.causes[position]]
    p = float(compiled.causes_now[position])
    speaks_for, speaks_against = _split_reasons(compiled, reasons, position)
    return RankedCause(
        id=cause.id, label=cause.label, area=cause.area, probability=p, low=min(low, p), high=max(high, p),
        speaks_for=speaks_for, speaks_against=speaks_against,
    )


def log_odds(p: np.ndarray) -> np.ndarray:
    """Give ten times the decimal logarithm of the odds.

    Example:
        >>> round(float(log_odds(np.array(10 / 11))), 9)
        10.0
    """
    p = np.clip(p, P_FLOOR, 1 - P_FLOOR)
    return 10 * np.log10(p / (1 - p))


def _weigh_answers(compiled: CompiledCase) -> Mapping[str, np.ndarray]:
    """Weigh each answer for every cause by taking it back: decibans, shape (n_causes,), by finding.

    An answer that stands for others is taken back with all that it stands for.
    """
    now = log_odds(compiled.causes_now)
    return {
        answer.finding: now - log_odds(compiled.without_answer(answer.finding).causes_now)
        for answer in compiled.answers
    }


def _split_reasons(
    compiled: CompiledCase, weights: Mapping[str, np.ndarray], position: int
) -> tuple[tuple[Reason, ...], tuple[Reason, ...]]:
    """Sort the answers that matter for one cause into for and against, the weightiest first."""
    reasons = []
    for answer in compiled.answers:
        decibans = float(weights[answer.finding][position]) if answer.finding in weights else 0.0
        if abs(decibans) >= SMALLEST_DECIBANS:
            reasons.append(Reason(answer.finding, compiled.expansion.name_answer(answer.finding, answer.grade), decibans))
    reasons.sort(key=lambda reason: -abs(reason.decibans))
    return (
        tuple(reason for reason in reasons if reason.decibans > 0),
        tuple(reason for reason in reasons if reason.decibans < 0),
    )


def _rank_areas(compiled: CompiledCase) -> tuple[RankedArea, ...]:
    """Give, per area, the probability that at least one of its causes is present."""
    area_of = np.array([compiled.expansion.causes[cause].area for cause in compiled.causes])
    ranked = []
    for area in compiled.knowledge.areas.values():
        outside = compiled.faults.spread_over_states((area_of != area.id).astype(float))
        p = float(compiled.faults_now @ (1 - outside))
        ranked.append(RankedArea(area.id, area.label, min(max(p, 0.0), 1.0)))
    return tuple(sorted(ranked, key=lambda item: -item.probability))


def measure_fit(compiled: CompiledCase) -> Fit:
    """Measure whether the answers support each other.

    Source: Jensen, Chamberlain, Nordahl, Jensen 1990, "Analysis in HUGIN of data conflict": the ratio of the product of
    the single probabilities to the joint one; here its negative logarithm.
    """
    if not compiled.evidence:
        return Fit(0.0, "No answers yet.")
    alone = 0.0
    predicted = compiled.engine.predict({}, tuple(compiled.evidence))
    for finding, value in compiled.evidence.items():
        p_outcome = predicted[finding] @ compiled.faults.prior
        p = p_outcome[int(value)] if isinstance(value, (int, np.integer)) else float(p_outcome @ value)
        alone += float(np.log(max(p, P_FLOOR)))
    _, log_p_evidence = compiled.engine.posterior(compiled.evidence)
    log10_odds = (log_p_evidence - alone) / float(np.log(10))
    if log10_odds >= 0:
        note = "The answers support each other."
    elif log10_odds > -1:
        note = "The answers fit together about as well as unrelated ones."
    else:
        note = "The answers contradict each other: look for a wrong reading, or for two faults."
    return Fit(log10_odds, note)


def audit_ranking(compiled: CompiledCase, ranking: Ranking) -> Audit:
    """Recompute every cause with pgmpy's variable elimination and tell the largest difference."""
    started = time.perf_counter()
    theirs = compiled.faults.sum_over_causes(query_with_pgmpy(compiled))
    difference = float(np.max(np.abs(theirs - compiled.p_causes)))
    seconds = time.perf_counter() - started
    return Audit("pgmpy VariableElimination", difference, len(ranking.causes), seconds)
