"""What happens if nothing is done: how bad, how far, how likely; what endangers people comes first."""

from dataclasses import dataclass

import numpy as np

from shiftlore.compiling import CompiledCase
from shiftlore.ranking.dangers import LOST, NOW, P_SHOWN, WORST_FIRST, bring_about, find_sign, mark_harmless

HARMLESS = "nuisance"
NORMAL = "none"
"""Area of what is no fault: normal for this unit, nothing found."""

P_UNSAFE_SHOWN = 0.02
"""A danger to people is told from this probability on; other risks from `P_SHOWN`: judgement."""

RARE_BESIDE = 0.15
"""Of this share of the likeliest course, a rarer one is told behind it, however bad: judgement."""

SENTENCES = {
    "unsafe": "Safety first. {percent}: it endangers people{within}.",
    "lost": "{percent}: it is ruined if it runs on{within}.",
    "strands": "{percent}: it will break down{within}.",
    "gets_worse": "{percent}: it gets worse and dearer{within}.",
    "with_care": "{percent}: it may be driven with care until it is put right{within}.",
    "nuisance": "{percent}: it stays as it is and does no harm.",
}


ALREADY = "It has broken down."


@dataclass(frozen=True, slots=True)
class Risk:
    """One way in which it may go on.

    Args:
        severity: one of `WORST_FIRST`.
        p: probability that the worst of what is wrong is of this severity; 1 where a sign says so by itself.
        cause, area: the likeliest cause of that severity.
        says: what that cause does if driven on.
        within_km: distance in which it usually gets there, or None.
        is_now: whether a sign says that it is so already.
    """

    severity: str
    p: float
    cause: str
    area: str
    says: str
    within_km: int | None
    is_now: bool = False


def list_risks(compiled: CompiledCase, p_states: np.ndarray) -> tuple[Risk, ...]:
    """List how it may go on, what endangers people first.

    Args:
        p_states: belief over root states, shape (n_states,).
    """
    severities = [compiled.expansion.causes[cause].cause.driven_on.severity for cause in compiled.causes]
    mild, harmless = WORST_FIRST.index(HARMLESS), mark_harmless(compiled)
    ranks = [mild if harmless[i] else WORST_FIRST.index(severity) for i, severity in enumerate(severities)]
    worst = np.array([min((ranks[i] for i in member), default=len(WORST_FIRST)) for member in compiled.faults.members])
    p_causes, (known, sign, of) = compiled.faults.sum_over_causes(p_states), find_sign(compiled)
    worst, found = np.minimum(worst, known) if sign else worst, []
    for rank, severity in enumerate(WORST_FIRST):
        p = 1.0 if sign and rank == known else float(p_states[worst == rank].sum())
        if p >= (P_UNSAFE_SHOWN if severity == "unsafe" else P_SHOWN):
            kind = bring_about(compiled, of) if rank == known <= LOST else np.array(ranks) == rank
            likeliest = int(np.argmax(np.where(kind, p_causes, -1.0)))
            expanded = compiled.expansion.causes[compiled.causes[likeliest]]
            driven_on = expanded.cause.driven_on
            says, within_km = (NOW.format(sign=sign), None) if rank == known else (driven_on.says, driven_on.within_km)
            found.append(
                Risk(severity, p, expanded.id, expanded.area, says=says, within_km=within_km, is_now=rank == known)
            )
    return tuple(found)


def p_harmless(compiled: CompiledCase, p_states: np.ndarray) -> tuple[float, float]:
    """Give the probability that what is wrong is a mere nuisance, and that nothing is wrong at all."""
    if find_sign(compiled)[1]:
        return 0.0, 0.0
    causes = [compiled.expansion.causes[cause] for cause in compiled.causes]
    normal = [all(causes[i].area == NORMAL for i in member) for member in compiled.faults.members]
    mild = [all(causes[i].cause.driven_on.severity == HARMLESS for i in member) for member in compiled.faults.members]
    p_normal = float(p_states[np.array(normal)].sum())
    return float(p_states[np.array(mild) & ~np.array(normal)].sum()), p_normal


def put_likely_first(risks: tuple[Risk, ...]) -> tuple[Risk, ...]:
    """Put what is told first of how it may go on: the worst, unless that is rare beside what most vehicles come to."""
    return tuple(sorted(risks, key=lambda risk: not risk.is_now and risk.p < RARE_BESIDE * max(one.p for one in risks)))


def tell_risks(risks: tuple[Risk, ...]) -> str:
    """Say in plain sentences how it may go on."""
    parts = []
    for risk in put_likely_first(risks):
        within = f", usually within {risk.within_km:,} km" if risk.within_km else ""
        sentence = ALREADY if risk.severity == "strands" and risk.is_now else SENTENCES[risk.severity]
        parts.append(f"{sentence.format(percent=f'{risk.p * 100:.0f} %', within=within)} {risk.says}")
    return " ".join(parts) or "What is wrong is not known well enough to say how it goes on."
