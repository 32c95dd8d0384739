"""What happens if nothing is done: how bad, how far, how likely; what endangers people comes first."""

from dataclasses import dataclass
from operator import itemgetter

import numpy as np

from shiftlore.advising.reasons import say_share
from shiftlore.basics.structs import Value
from shiftlore.compiling import CompiledCase, find_makers

WORST_FIRST = ("unsafe", "lost", "strands", "gets_worse", "with_care", "nuisance")
HARMLESS = "nuisance"
LOST = WORST_FIRST.index("lost")
NORMAL = "none"
"""Area of what is no fault: normal for this unit, nothing found."""

P_UNSAFE_SHOWN = 0.02
"""A danger to people is told from this probability on; other risks from `P_SHOWN`: judgement."""
P_SHOWN = 0.08

PARKED = "Do not drive it:"
SET_FIRST = "{sign}: that is set right before it is driven or judged."
STOPPED = "Do not drive it, nor run the engine longer than a look takes:"

LIKELY = 0.5
"""What a cause does is said as of this vehicle from this probability on, and else as of that cause: judgement."""
IF = 'If it is "{cause}": {says}'
NOT_RUN = "Do not run the engine: {why}"

SENTENCES = {
    "unsafe": "Safety first. {percent}: it endangers people{within}.",
    "lost": "{percent}: the unit is ruined if it runs on{within}.",
    "strands": "{percent}: it will break down{within}.",
    "gets_worse": "{percent}: it gets worse and dearer{within}.",
    "with_care": "{percent}: it may be driven with care until it is put right{within}.",
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


def _find_sign(compiled: CompiledCase) -> tuple[int, str, str]:
    """Find the worst that a sign says by itself: its rank, after the last where none does, the sign's label, and its id.

    What endangers people does so at times too; of several the one that stands first in the rules.
    """
    says, lasting = compiled.knowledge.words.says_itself.items(), list_lasting(compiled)
    found = [(len(WORST_FIRST), "", "")]
    for signs, severity in says:
        told, rank = compiled.telling if severity == WORST_FIRST[0] else lasting, WORST_FIRST.index(severity)
        parts = _split_signs(signs)
        if _show_all(compiled, parts, told):
            found.append((rank, " and ".join(_name_sign(compiled, *part) for part in parts), parts[0][0]))
    return min(found, key=itemgetter(0))


def _split_signs(signs: str) -> list[tuple[str, str]]:
    """Split `a and b=grade` into signs, each with its grade or ""."""
    return [(sign, grade) for sign, _, grade in (one.partition("=") for one in signs.split(" and "))]


def _show_all(compiled: CompiledCase, parts: list[tuple[str, str]], told: frozenset[str]) -> bool:
    grades = {one.finding: one.grade for one in compiled.all_answers}
    return all(sign in told and grade in ("", grades.get(sign)) for sign, grade in parts)


def _name_sign(compiled: CompiledCase, sign: str, grade: str) -> str:
    return compiled.expansion.name_answer(sign, grade) if grade else compiled.expansion.finding_records[sign].label


def _bring_about(compiled: CompiledCase, sign: str) -> np.ndarray:
    """Mark the causes that bring a sign about, by themselves or through states, shape (n_causes,)."""
    makers = find_makers(compiled.expansion, sign)
    return np.array([cause in makers for cause in compiled.causes])


def list_risks(compiled: CompiledCase, p_states: np.ndarray) -> tuple[Risk, ...]:
    """List how it may go on, what endangers people first.

    Args:
        p_states: belief over root states, shape (n_states,).
    """
    severities = [compiled.expansion.causes[cause].cause.driven_on.severity for cause in compiled.causes]
    ranks = [WORST_FIRST.index(severity) for severity in severities]
    worst = np.array([min((ranks[i] for i in member), default=len(WORST_FIRST)) for member in compiled.faults.members])
    p_causes, (known, sign, of) = compiled.faults.sum_over_causes(p_states), _find_sign(compiled)
    worst, found = np.minimum(worst, known) if sign else worst, []
    for rank, severity in enumerate(WORST_FIRST):
        p = 1.0 if sign and rank == known else float(p_states[worst == rank].sum())
        if p >= (P_UNSAFE_SHOWN if severity == "unsafe" else P_SHOWN):
            kind = _bring_about(compiled, of) if rank == known == LOST else np.array(ranks) == rank
            likeliest = int(np.argmax(np.where(kind, p_causes, -1.0)))
            expanded = compiled.expansion.causes[compiled.causes[likeliest]]
            driven_on = expanded.cause.driven_on
            says, within_km = (NOW.format(sign=sign), None) if rank == known else (driven_on.says, driven_on.within_km)
            found.append(
                Risk(severity, p, expanded.id, expanded.area, says=says, within_km=within_km, is_now=rank == known)
            )
    return tuple(found)


def say_not_run(compiled: CompiledCase) -> str:
    """Say why the engine is not run, for no check either, where signs are told that say so; "" else."""
    says, lasting = compiled.knowledge.words.not_run.items(), list_lasting(compiled)
    return next((why for signs, why in says if _show_all(compiled, _split_signs(signs), lasting)), "")


class Danger(Value, frozen=True):
    """Why a vehicle should not be driven.

    Args:
        p: probability that it endangers people or that the unit is soon lost.
        area: where the likeliest of such causes lies.
        says: that it should stand, and what comes of driving it.
        stopped: whether it should not run either.
    """

    p: float
    area: str
    says: str
    stopped: bool = False


def find_danger(compiled: CompiledCase, p_states: np.ndarray) -> Danger | None:
    """Find out whether it should stand; None where danger to people and the near loss of the unit are not likely enough.

    Args:
        p_states: belief over root states, shape (n_states,).
    """
    words, causes = compiled.knowledge.words, [compiled.expansion.causes[cause] for cause in compiled.causes]
    driven_on = [cause.cause.driven_on for cause in causes]
    unsafe, ruins = (np.array([one.severity == severity for one in driven_on]) for severity in WORST_FIRST[:2])
    soon = np.array([one.within_km is not None and one.within_km <= words.soon_lost_km for one in driven_on])
    lost, (rank, sign, of) = (soon | ruins) & ~unsafe, _find_sign(compiled)
    not_run = say_not_run(compiled)
    p = 1.0 if rank <= LOST or not_run else _p_any(compiled, p_states, unsafe | lost)
    if p < words.stop_driving:
        return None
    p_causes = compiled.faults.sum_over_causes(p_states)
    behind = _bring_about(compiled, of) if rank == LOST else unsafe | lost
    kinds = (unsafe, lost, behind) if rank == LOST else (unsafe, lost)
    told = [int(np.argmax(p_causes * kind)) for kind in kinds if _p_any(compiled, p_states, kind) >= P_SHOWN]
    likeliest = int(np.argmax(p_causes * behind))
    stopped = rank == LOST or _p_any(compiled, p_states, ruins) >= words.not_driven
    why = f"in {say_share(p)} such vehicles it endangers people or is soon lost."
    says = f"{STOPPED if stopped else PARKED} {NOW.format(sign=sign) if rank <= LOST else why}"
    says, stopped = (NOT_RUN.format(why=not_run), True) if not_run else (says, stopped)
    of_causes = (
        driven_on[i].says if p_causes[i] >= LIKELY else IF.format(cause=causes[i].label, says=driven_on[i].says)
        for i in dict.fromkeys(told)
    )
    return Danger(p, causes[likeliest].area, " ".join([says, *of_causes]), stopped)


def tell_set_first(compiled: CompiledCase) -> str:
    """Say what is told that is set right before anything else is judged; "" for nothing, and once work was done."""
    why, found = compiled.knowledge.words.set_first, compiled.expansion.findings
    told = () if compiled.works else compiled.all_answers
    signs = (one for one in told if one.finding in why and one.grade != found[one.finding].grades[0])
    return " ".join(
        f"{SET_FIRST.format(sign=compiled.expansion.name_answer(one.finding, one.grade))} {why[one.finding]}"
        for one in signs
    )


def list_barred(compiled: CompiledCase) -> frozenset[str]:
    """List the cautions of checks that are not made now: of those that drive it, and of those that move it under power.

    It stands where it is likely to end badly, and until a look has found right what a told sign puts in doubt, such as which
    range is in. Once work was done the sign is of the time before it.
    """
    words, records = compiled.knowledge.words, compiled.expansion.finding_records
    danger = find_danger(compiled, compiled.faults_now)
    right = compiled.told - compiled.telling
    doubted = (set(records[sign].stands_until) for sign in compiled.telling if sign in records)
    held = not compiled.works and any(looks and right.isdisjoint(looks) for looks in doubted)
    parked = danger is not None and danger.p >= words.not_driven
    return frozenset(words.driven * (parked or held) + words.moved * (held or (danger is not None and danger.stopped)))


def tell_danger(compiled: CompiledCase, *, helps: bool) -> Danger | None:
    """Find out whether it is to be said that nobody drives it: where a sign itself says so, or nothing is done that helps.

    So it is where danger or loss is likely, unless it stands already by what is told.
    """
    danger, (_, sign, _) = find_danger(compiled, compiled.faults_now), _find_sign(compiled)
    least = 1.0 if sign else compiled.knowledge.words.not_driven
    return None if danger and danger.p < least and helps and not danger.stopped else danger


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
