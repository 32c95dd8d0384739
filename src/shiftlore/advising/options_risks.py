"""What happens if nothing is done: how bad, how far, how likely; what endangers people comes first."""

from dataclasses import dataclass

import numpy as np

from shiftlore.advising.reasons import say_share
from shiftlore.basics.structs import Value
from shiftlore.compiling import CompiledCase

WORST_FIRST = ("unsafe", "strands", "gets_worse", "nuisance")
HARMLESS = "nuisance"
NORMAL = "none"
"""Area of what is no fault: normal for this unit, nothing found."""

P_UNSAFE_SHOWN = 0.02
"""A danger to people is told from this probability on; other risks from `P_SHOWN`: judgement."""
P_SHOWN = 0.08

PARKED = "Do not drive it:"
NOT_RUN = (
    "Do not run the engine: it has no drive and grinds; running spreads the pieces through the unit and its cooler."
)

SENTENCES = {
    "unsafe": "Safety first. {percent}: it endangers people{within}.",
    "strands": "{percent}: it will break down{within}.",
    "gets_worse": "{percent}: it gets worse and dearer{within}.",
    "nuisance": "{percent}: it stays as it is and does no harm.",
}


ALREADY = "It has broken down."
NOW = "{sign}: so it is now, whatever the cause."


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


def list_lasting(compiled: CompiledCase) -> frozenset[str]:
    """Name the told signs that are not tied to a condition: what does not go when cold, does go."""
    findings = compiled.case.findings
    return frozenset(sign for sign in compiled.telling if not (sign in findings and findings[sign].when))


def _find_sign(compiled: CompiledCase) -> tuple[int, str]:
    """Find the worst that a sign says by itself: its rank, after the last where none does, and the sign's label.

    What endangers people does so at times too.
    """
    says, lasting = compiled.knowledge.words.says_itself.items(), list_lasting(compiled)
    told = {severity: compiled.telling if severity == WORST_FIRST[0] else lasting for severity in WORST_FIRST}
    signs = [(WORST_FIRST.index(severity), sign) for sign, severity in says if sign in told[severity]]
    rank, sign = min(signs, default=(len(WORST_FIRST), ""))
    return rank, compiled.expansion.finding_records[sign].label if sign else ""


def list_risks(compiled: CompiledCase, p_states: np.ndarray) -> tuple[Risk, ...]:
    """List how it may go on, what endangers people first.

    Args:
        p_states: belief over root states, shape (n_states,).
    """
    severities = [compiled.expansion.causes[cause].cause.driven_on.severity for cause in compiled.causes]
    ranks = [WORST_FIRST.index(severity) for severity in severities]
    worst = np.array([min((ranks[i] for i in member), default=len(WORST_FIRST)) for member in compiled.faults.members])
    p_causes, (known, sign) = compiled.faults.sum_over_causes(p_states), _find_sign(compiled)
    worst, found = np.minimum(worst, known) if sign else worst, []
    for rank, severity in enumerate(WORST_FIRST):
        p = 1.0 if sign and rank == known else float(p_states[worst == rank].sum())
        if p >= (P_UNSAFE_SHOWN if severity == "unsafe" else P_SHOWN):
            likeliest = max((i for i, own in enumerate(ranks) if own == rank), key=lambda i: float(p_causes[i]))
            expanded = compiled.expansion.causes[compiled.causes[likeliest]]
            driven_on = expanded.cause.driven_on
            says, within_km = (NOW.format(sign=sign), None) if rank == known else (driven_on.says, driven_on.within_km)
            found.append(
                Risk(severity, p, expanded.id, expanded.area, says=says, within_km=within_km, is_now=rank == known)
            )
    return tuple(found)


def is_not_run(compiled: CompiledCase) -> bool:
    """Tell whether the signs are told with all of which the engine is not run, for no check either."""
    signs = compiled.knowledge.words.not_run
    return bool(signs) and list_lasting(compiled).issuperset(signs)


class Danger(Value, frozen=True):
    """Why a vehicle should not be driven.

    Args:
        p: probability that it endangers people or that the unit is soon lost.
        area: where the likeliest of such causes lies.
        says: that it should stand, and what comes of driving it.
    """

    p: float
    area: str
    says: str


def find_danger(compiled: CompiledCase, p_states: np.ndarray) -> Danger | None:
    """Find out whether it should stand; None where danger to people and the near loss of the unit are not likely enough.

    Args:
        p_states: belief over root states, shape (n_states,).
    """
    words, causes = compiled.knowledge.words, [compiled.expansion.causes[cause] for cause in compiled.causes]
    driven_on = [cause.cause.driven_on for cause in causes]
    unsafe = np.array([one.severity == WORST_FIRST[0] for one in driven_on])
    lost = np.array([one.within_km is not None and one.within_km <= words.soon_lost_km for one in driven_on]) & ~unsafe
    rank, sign = _find_sign(compiled)
    not_run = is_not_run(compiled)
    p = 1.0 if rank == 0 or not_run else _p_any(compiled, p_states, unsafe | lost)
    if p < words.stop_driving:
        return None
    p_causes = compiled.faults.sum_over_causes(p_states)
    told = [int(np.argmax(p_causes * kind)) for kind in (unsafe, lost) if _p_any(compiled, p_states, kind) >= P_SHOWN]
    likeliest = causes[int(np.argmax(p_causes * (unsafe | lost)))]
    why = f"in {say_share(p)} such vehicles it endangers people or is soon lost."
    says = NOT_RUN if not_run else f"{PARKED} {NOW.format(sign=sign) if rank == 0 else why}"
    return Danger(p, likeliest.area, " ".join([says, *(driven_on[i].says for i in told)]))


def tell_danger(compiled: CompiledCase, *, helps: bool) -> Danger | None:
    """Find out whether it is to be said that nobody drives it: where a sign itself says so, or nothing is done that helps.

    So it is where danger or loss is likely, unless it stands already by what is told.
    """
    danger, (_, sign) = find_danger(compiled, compiled.faults_now), _find_sign(compiled)
    least = 1.0 if sign else compiled.knowledge.words.not_driven
    return None if danger and danger.p < least and helps else danger


def _p_any(compiled: CompiledCase, p_states: np.ndarray, marked: np.ndarray) -> float:
    """Give the probability that at least one of the marked causes is at work."""
    return float(p_states[[any(marked[i] for i in member) for member in compiled.faults.members]].sum())


def p_harmless(compiled: CompiledCase, p_states: np.ndarray) -> tuple[float, float]:
    """Give the probability that what is wrong is a mere nuisance, and that nothing is wrong at all."""
    if _find_sign(compiled)[1]:
        return 0.0, 0.0
    causes = [compiled.expansion.causes[cause] for cause in compiled.causes]
    normal = [all(causes[i].area == NORMAL for i in member) for member in compiled.faults.members]
    mild = [all(causes[i].cause.driven_on.severity == HARMLESS for i in member) for member in compiled.faults.members]
    p_normal = float(p_states[np.array(normal)].sum())
    return float(p_states[np.array(mild) & ~np.array(normal)].sum()), p_normal


def tell_risks(risks: tuple[Risk, ...]) -> str:
    """Say in plain sentences how it may go on."""
    parts = []
    for risk in risks:
        within = f", usually within {risk.within_km:,} km" if risk.within_km else ""
        sentence = ALREADY if risk.severity == "strands" and risk.is_now else SENTENCES[risk.severity]
        parts.append(f"{sentence.format(percent=f'{risk.p * 100:.0f} %', within=within)} {risk.says}")
    return " ".join(parts) or "What is wrong is not known well enough to say how it goes on."
