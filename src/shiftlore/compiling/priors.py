"""How likely each cause is before anything was seen: base rate, distance driven and the vehicle's life.

Base rates are shares of complaints. A vehicle is here because something is at work on the complaint, so a share is
the probability that this cause is it, given that the vehicle was brought in.
"""

import math
from collections.abc import Mapping
from dataclasses import replace
from typing import TypeVar

import numpy as np

from shiftlore.cases import Case, Onset
from shiftlore.knowledge import Background, Knowledge, Raise

SHORTEST_KM, LONGEST_KM = 3_000.0, 600_000.0
"""Distances outside are taken as these: the Weibull shapes are not known there (judgement)."""
LARGEST_WEAR, SMALLEST_WEAR = 6.0, 0.1
"""Limits of the wear factor: beyond, a rule of the trade would speak of another vehicle (judgement)."""
SPREAD_OF_DISTANCES = 0.6
"""Standard deviation of the logarithm of distances at which vehicles come in, around the reference (judgement)."""
EVEN = 0.5
"""Chance beyond which an answer counts as told where another is guessed by it."""
N_DISTANCES = 9
"""Distances, equally likely, that stand for "at least so far"."""

Lived = Mapping[str, Mapping[str, float]]
"""What is known of a vehicle's life: background -> chance of each of its answers; a sure one has 1."""


Number = TypeVar("Number", float, np.ndarray)


def wear_factor(odometer_km: float | None, slope: Number, reference_km: float) -> Number:
    """Scale a base rate to the distance driven.

    Given that it has just failed at a distance, a cause counts in proportion to its hazard there, not to the share
    that has failed by then.
    Args:
        odometer_km: distance, or None if not known.
        slope: Weibull shape, or an array of them.
        reference_km: distance at which the base rate holds.
    Source: competing risks; hazard of the Weibull, beta/eta (m/eta)^(beta-1).
    Example:
        >>> round(float(wear_factor(300_000, 2.0, 150_000)), 6)
        2.0
    """
    distance_km = reference_km if odometer_km is None else min(max(odometer_km, SHORTEST_KM), LONGEST_KM)
    factor: Number = np.clip((distance_km / reference_km) ** (slope - 1), SMALLEST_WEAR, LARGEST_WEAR)
    return factor


def list_distances(case: Case, reference_km: float) -> tuple[float, ...]:
    """List equally likely distances at which the fault may have come: none where nothing is known.

    Where the case says when it began, that counts, not the distance now: the hazard is that of the moment of failure.
    "At least so far" stands for the distances beyond, as often as vehicles come in with them (log-normal).

    Example:
        >>> [round(km, -4) for km in list_distances(Case("", 200_000, odometer_at_least=True), 150_000)][::4]
        [210000.0, 270000.0, 530000.0]
    """
    if case.onset is not None and case.onset.odometer_km is not None:
        return (case.onset.odometer_km,)
    if case.odometer_km is None:
        return ()
    if not case.odometer_at_least:
        return (case.odometer_km,)
    from statistics import NormalDist  # few cases give a lower bound

    common = NormalDist(math.log(reference_km), SPREAD_OF_DISTANCES)
    below = common.cdf(math.log(min(max(case.odometer_km, SHORTEST_KM), LONGEST_KM)))
    parts = ((i + 0.5) / N_DISTANCES for i in range(N_DISTANCES))
    return tuple(math.exp(common.inv_cdf(below + (1 - below) * part)) for part in parts)


def with_told_distance(case: Case, backgrounds: Mapping[str, Background]) -> Case:
    """Give the case with the distances that its backgrounds speak of, where it states none itself.

    "Since new" says at which distance it began; "high mileage" how far it has gone at the least.
    """
    for name, grade in case.background.items():
        began, least = (table.get(grade) for table in (backgrounds[name].began_km, backgrounds[name].at_least_km))
        onset = case.onset or Onset()
        if began is not None and onset.odometer_km is None:
            case = replace(case, onset=replace(onset, odometer_km=began))
        if least is not None and case.odometer_km is None:
            case = replace(case, odometer_km=least, odometer_at_least=True)
    return case


def list_lived(knowledge: Knowledge, case: Case) -> dict[str, Mapping[str, float]]:
    """Give what a case knows of the vehicle's life.

    What the fault came after is a background too. A doubted answer is right so often as its word says; the rest falls to
    the other answers by their shares. Of backgrounds of which one was said, each has its chance given that not all are
    absent, as though they did not hang together. What nobody told is guessed where the rules say by what.
    """
    found: dict[str, Mapping[str, float]] = {}
    for name in case.onset.after if case.onset is not None else ():
        found[name] = {knowledge.backgrounds[name].happened: 1.0}
    for group in case.either:
        told = [answer for answer in group if answer.finding in knowledge.backgrounds]
        shares = [knowledge.backgrounds[answer.finding].shares for answer in told]
        any_of = 1 - math.prod(1 - share[answer.grade] for share, answer in zip(shares, told, strict=True))
        for share, answer in zip(shares, told, strict=True):
            found.setdefault(answer.finding, _doubted(share, answer.grade, share[answer.grade] / max(any_of, 1e-9)))
    for name, grade in case.background.items():
        doubt = case.background_doubts.get((name, grade))
        p_right = knowledge.words.doubts[doubt] if doubt else 1.0
        found[name] = _doubted(knowledge.backgrounds[name].shares, grade, p_right)
    guessed = (one for one in knowledge.backgrounds.values() if one.guessed and one.id not in found)
    for record in guessed:
        if may_have(knowledge, case, record) and (chances := _guess(record, case, found)):
            found[record.id] = chances
    return found


def may_have(knowledge: Knowledge, case: Case, record: Background) -> bool:
    """Tell whether a background may be either way on the case's unit: a sheet that has one of both says it by itself."""
    sheet = knowledge.sheets.get(case.unit)
    return not record.units_with or (sheet is not None and {*record.units_with} <= {*sheet.tags, *sheet.possible_tags})


def _guess(record: Background, case: Case, lived: Lived) -> Mapping[str, float] | None:
    """Give what a background is likely to be by what else is told; None where that says nothing of it."""

    def is_told(name: str, answer: str) -> bool:
        told = case.findings.get(name)
        return lived.get(name, {}).get(answer, 0.0) > EVEN or (told is not None and told.grade == answer)

    fitting = (one for one in record.guessed if one.holds_for(case.speeds))
    return next((one.chances for one in fitting if all(is_told(*pair) for pair in one.told.items())), None)


def _doubted(shares: Mapping[str, float], answer: str, p_right: float) -> dict[str, float]:
    rest = max(sum(share for grade, share in shares.items() if grade != answer), 1e-9)
    return {
        grade: p_right if grade == answer else (1 - p_right) * share / rest
        for grade, share in shares.items()
        if grade == answer or p_right < 1
    }


def background_factor(raises: tuple[Raise, ...], lived: Lived, backgrounds: Mapping[str, Background]) -> float:
    """Multiply the hazard ratios of what is known; what is not known counts as its average, that is 1.

    Args:
        raises: the ratios that a record states, relative to the first answer of each background.
        lived: what this case knows; of a doubted answer the ratio is averaged.
        backgrounds: the shares of the answers among complaints.
    """
    factor = 1.0
    for name, answers in lived.items():
        ratios = {item.grade: item.ratio for item in raises if item.background == name}
        if ratios and name in backgrounds:
            shares = backgrounds[name].shares
            average = sum(share * ratios.get(grade, 1.0) for grade, share in shares.items())
            factor *= sum(p * ratios.get(grade, 1.0) for grade, p in answers.items()) / average
    return factor
