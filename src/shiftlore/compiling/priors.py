"""How likely each cause is before anything was seen: base rate, distance driven and the vehicle's life.

Base rates are shares of complaints. A vehicle is here because something is at work on the complaint, so a share is
the probability that this cause is it, given that the vehicle was brought in.
"""

from collections.abc import Mapping

from shiftlore.compiling.expansion import Expansion
from shiftlore.knowledge import Background, Knowledge, Raise

SHORTEST_KM, LONGEST_KM = 3_000.0, 600_000.0
"""Distances outside are taken as these: the Weibull shapes are not known there (judgement)."""
LARGEST_WEAR, SMALLEST_WEAR = 6.0, 0.1
"""Limits of the wear factor: beyond, a rule of the trade would speak of another vehicle (judgement)."""


def wear_factor(odometer_km: float | None, slope: float, reference_km: float) -> float:
    """Scale a base rate to the distance driven.

    Given that it has just failed at a distance, a cause counts in proportion to its hazard there, not to the share
    that has failed by then.
    Args:
        odometer_km: distance, or None if not known.
        slope: Weibull shape.
        reference_km: distance at which the base rate holds.
    Source: competing risks; hazard of the Weibull, beta/eta (m/eta)^(beta-1).
    Example:
        >>> round(wear_factor(300_000, 2.0, 150_000), 6)
        2.0
    """
    if odometer_km is None:
        return 1.0
    distance_km = min(max(odometer_km, SHORTEST_KM), LONGEST_KM)
    return min(max((distance_km / reference_km) ** (slope - 1), SMALLEST_WEAR), LARGEST_WEAR)


def background_factor(
    raises: tuple[Raise, ...], known: Mapping[str, str], backgrounds: Mapping[str, Background]
) -> float:
    """Multiply the hazard ratios of what is known; what is not known counts as its average, that is 1.

    Args:
        raises: the ratios that a record states, relative to the first answer of each background.
        known: background -> answer of this case.
        backgrounds: the shares of the answers among complaints.
    """
    factor = 1.0
    for name, answer in known.items():
        ratios = {item.grade: item.ratio for item in raises if item.background == name}
        if ratios and name in backgrounds:
            shares = backgrounds[name].shares
            average = sum(share * ratios.get(grade, 1.0) for grade, share in shares.items())
            factor *= ratios.get(answer, 1.0) / average
    return factor


def weigh_causes(
    knowledge: Knowledge, expansion: Expansion, odometer_km: float | None, known: Mapping[str, str]
) -> dict[str, float]:
    """Weigh every cause of a unit by its base rate, the distance and the vehicle's life.

    Args:
        odometer_km: distance driven, or None.
        known: background -> answer.
    Returns: cause -> weight, on any scale; only their proportions count.
    """
    reference_km = knowledge.words.reference_km
    return {
        key: cause.share
        * wear_factor(odometer_km, cause.cause.wear, reference_km)
        * background_factor(cause.cause.raised_by, known, knowledge.backgrounds)
        for key, cause in expansion.causes.items()
    }
