"""Why a vehicle should not be driven or run, and what is done at once: what signs and likely causes say of danger."""

from operator import itemgetter

import numpy as np

from shiftlore.basics.structs import Value
from shiftlore.compiling import CompiledCase, find_makers

WORST_FIRST = ("unsafe", "lost", "strands", "gets_worse", "with_care", "nuisance")
LOST, STRANDS = WORST_FIRST.index("lost"), WORST_FIRST.index("strands")
P_SHOWN = 0.08
"""What may come is told from this probability on: judgement."""

PARKED = "Do not drive it:"
SET_FIRST = "{sign}: that is set right before it is driven or judged."
STOPPED = "Do not drive it, nor run the engine longer than a look takes:"
NOT_RUN = "Do not run the engine: {why}"
NOW = "{sign}: so it is now, whatever the cause."

LIKELY = 0.5
"""What a cause does is said as of this vehicle from this probability on, and else as of that cause: judgement."""
DENIED = "not "
IF = 'If it is "{cause}": {says}'

SHARES = ((1, 20), (1, 10), (1, 5), (1, 4), (1, 3), (2, 5), (1, 2), (3, 5), (2, 3), (3, 4), (4, 5), (9, 10))
"""Shares that people say: so many of so many (common practice)."""
HARDLY, SURE = 0.035, 0.95


def say_share(p: float) -> str:
    """Say a probability as a share of vehicles: `1 of 3`, `hardly any`, `nearly all`.

    Example:
        >>> say_share(0.34), say_share(0.01), say_share(0.99), say_share(0.77)
        ('1 of 3', 'hardly any', 'nearly all', '3 of 4')
    """
    if p < HARDLY or p > SURE:
        return "hardly any" if p < HARDLY else "nearly all"
    few, many = min(SHARES, key=lambda share: abs(share[0] / share[1] - p))
    return f"{few} of {many}"


def list_lasting(compiled: CompiledCase) -> frozenset[str]:
    """Name the told signs that are not tied to a condition: what does not go when cold, does go."""
    findings = compiled.case.findings
    return frozenset(sign for sign in compiled.telling if not (sign in findings and findings[sign].when))


def find_sign(compiled: CompiledCase) -> tuple[int, str, str]:
    """Find the worst that a sign says by itself: its rank, after the last where none does, the sign's label, and its id.

    What endangers people does so at times too; of several the one that stands first in the rules.
    """
    found = [(len(WORST_FIRST), "", "")]
    for signs, severity in compiled.knowledge.words.says_itself.items():
        if _shows(compiled, signs):
            parts = _part_signs(signs)
            named = " and ".join(_name_sign(compiled, *part) for part in parts)
            found.append((WORST_FIRST.index(severity), named, parts[0][0]))
    return min(found, key=itemgetter(0))


def _part_signs(signs: str, denied: bool = False) -> list[tuple[str, str]]:
    """Take `finding=grade and finding` apart into findings with their grades, "" for any; `denied` those behind `not`."""
    parts = (one for one in signs.split(" and ") if one.startswith(DENIED) == denied)
    return [(sign, grade) for sign, _, grade in (one.removeprefix(DENIED).partition("=") for one in parts)]


def _shows(compiled: CompiledCase, signs: str, at_times: bool = False) -> bool:
    """Tell whether all of some signs are told, for good, and none that is denied; of a cause, whether it is likely.

    Args:
        at_times: whenever it is so, as always of what endangers people.
    """
    if signs in compiled.knowledge.causes:
        return _p_cause(compiled, signs) >= LIKELY
    at_times = at_times or compiled.knowledge.words.says_itself.get(signs) == WORST_FIRST[0]
    told = compiled.telling if at_times else list_lasting(compiled)
    grades = {one.finding: one.grade for one in compiled.all_answers}
    if any(
        grade == grades.get(sign) if grade else sign in compiled.telling for sign, grade in _part_signs(signs, True)
    ):
        return False
    return all(sign in told and grade in ("", grades.get(sign)) for sign, grade in _part_signs(signs))


def _p_cause(compiled: CompiledCase, name: str) -> float:
    """Give the probability of a cause, of a template of any of its instances."""
    marked = np.isin(compiled.causes, compiled.expansion.of_template.get(name, ()))
    return _p_any(compiled, compiled.faults_now, marked)


def _is_minded(compiled: CompiledCase, least: float) -> bool:
    """Tell whether a cause is so likely with which something is done at once, though nobody told a sign of it."""
    at_once = (signs for signs, _ in compiled.knowledge.words.do_now.values())
    names = {one for signs in at_once for one in signs if one in compiled.knowledge.causes}
    return any(_p_cause(compiled, name) >= least for name in names)


def _name_sign(compiled: CompiledCase, sign: str, grade: str) -> str:
    return compiled.expansion.name_answer(sign, grade) if grade else compiled.expansion.finding_records[sign].label


def bring_about(compiled: CompiledCase, sign: str) -> np.ndarray:
    """Mark the causes that bring a sign about, by themselves or through states, shape (n_causes,)."""
    makers = find_makers(compiled.expansion, sign)
    return np.array([cause in makers for cause in compiled.causes])


def mark_harmless(compiled: CompiledCase) -> np.ndarray:
    """Mark the causes that show in their harmless form, by a sign that says so, shape (n_causes,)."""
    rank, sign, of = find_sign(compiled)
    harmless = sign and rank > STRANDS
    return bring_about(compiled, of) if harmless else np.zeros(len(compiled.causes), dtype=bool)


def is_not_run(compiled: CompiledCase) -> bool:
    """Tell whether signs are told with which the engine is not run, for no check either."""
    return bool(_why_not_run(compiled))


def _why_not_run(compiled: CompiledCase) -> str:
    """Say why the engine is not run; "" where it may be."""
    return next((why for signs, why in compiled.knowledge.words.not_run.items() if _shows(compiled, signs)), "")


class DoNow(Value, frozen=True):
    """What owner and shop do at once, by its name in the rules, and in words."""

    id: str
    says: str


def list_do_now(compiled: CompiledCase) -> tuple[DoNow, ...]:
    """List what is done at once, for what is told now or at times, in the order of the rules."""
    at_once = compiled.knowledge.words.do_now.items()
    return tuple(
        DoNow(key, says) for key, (signs, says) in at_once if any(_shows(compiled, one, at_times=True) for one in signs)
    )


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
    unsafe &= np.array([(one.within_km or 0) <= words.soon_unsafe_km for one in driven_on])
    soon = np.array([one.within_km is not None and one.within_km <= words.soon_lost_km for one in driven_on])
    lost, (rank, sign, of) = (soon | ruins) & ~unsafe, find_sign(compiled)
    unsafe &= ~mark_harmless(compiled)
    not_run = _why_not_run(compiled)
    p = 1.0 if rank <= LOST or not_run else _p_any(compiled, p_states, unsafe | lost)
    if p < words.stop_driving:
        return None
    p_causes = compiled.faults.sum_over_causes(p_states)
    behind = bring_about(compiled, of) if rank <= LOST else unsafe | lost
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
    at_once = (one.says for one in list_do_now(compiled))
    return Danger(p, causes[likeliest].area, " ".join([says, *at_once, *of_causes]), stopped)


def _find_danger_now(compiled: CompiledCase) -> Danger | None:
    """Find out whether it should stand by what is believed now, once a case."""
    kept = compiled.worked_out
    if find_danger not in kept:
        kept[find_danger] = find_danger(compiled, compiled.faults_now)
    danger: Danger | None = kept[find_danger]
    return danger


def tell_first(compiled: CompiledCase, danger: Danger | None) -> str:
    """Say what goes before all else: why it should stand, or what is minded and set right first; "" for nothing."""
    at_once = (one.says for one in list_do_now(compiled))
    return danger.says if danger else " ".join(filter(None, [*at_once, tell_set_first(compiled)]))


def tell_set_first(compiled: CompiledCase) -> str:
    """Say what is told that is set right before anything else is judged; "" for nothing, and once work was done."""
    why, found = compiled.knowledge.words.set_first, compiled.expansion.findings
    told = () if compiled.works else compiled.all_answers
    signs = (one for one in told if one.finding in why and one.grade != found[one.finding].grades[0])
    return " ".join(
        f"{SET_FIRST.format(sign=compiled.expansion.name_answer(one.finding, one.grade))} {why[one.finding]}"
        for one in signs
    )


def list_settling(compiled: CompiledCase) -> list[frozenset[str]]:
    """List, for each told sign that puts in doubt how it may be moved, the findings of the unit that settle it."""
    records, found = compiled.expansion.finding_records, []
    for one in compiled.all_answers:
        record = records[one.finding]
        shown = record.grades[record.grades.index(record.stands_from or record.grades[1]) :]
        found += [frozenset(record.stands_until) & records.keys()] * (
            one.finding in compiled.telling and one.grade in shown
        )
    return [one for one in found if one]


def list_barred(compiled: CompiledCase, held: bool = True) -> frozenset[str]:
    """List the cautions of checks that are not made now: of those that drive it, and of those that move it under power.

    It stands where it is likely to end badly, and until a look has found right what a told sign puts in doubt, such as which
    range is in. Once work was done the sign is of the time before it. Nor is it moved with a cause likely that lets it roll.

    Args:
        held: whether that doubt holds, as it does for all but the look that settles it.
    """
    words, danger = compiled.knowledge.words, _find_danger_now(compiled)
    right = compiled.told - compiled.telling
    held = held and not compiled.works and any(right.isdisjoint(looks) for looks in list_settling(compiled))
    parked = danger is not None and danger.p >= words.not_driven
    still = held or (danger is not None and danger.stopped) or _is_minded(compiled, words.not_driven)
    return frozenset(words.driven * (parked or still) + words.moved * still)


def tell_danger(compiled: CompiledCase, *, helps: bool) -> Danger | None:
    """Find out whether it is to be said that nobody drives it: where a sign itself says so, or nothing is done that helps.

    So it is where danger or loss is likely, unless it stands already by what is told: what then rolls away is told of.
    """
    danger, (rank, _, _) = _find_danger_now(compiled), find_sign(compiled)
    least = 1.0 if rank <= STRANDS and not _is_minded(compiled, LIKELY) else compiled.knowledge.words.not_driven
    return None if danger and danger.p < least and helps and not danger.stopped else danger


def _p_any(compiled: CompiledCase, p_states: np.ndarray, marked: np.ndarray) -> float:
    """Give the probability that at least one of the marked causes is at work."""
    return float(p_states[[any(marked[i] for i in member) for member in compiled.faults.members]].sum())
