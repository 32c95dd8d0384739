"""How likely each cause is before anything was seen: base rate, distance driven and the vehicle's life.

Base rates are shares of complaints. A vehicle is here because something is at work on the complaint, so a cause's
share of complaints is a probability *given that the vehicle was brought in*. In the network causes are therefore
rarer by a common factor, and the tie (at least one cause, or by small chance none) is part of the evidence. With
it the prior of each cause is just its share again, and a second cause beside the first is as rare as it is in life.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass

from shiftlore.compiling.expansion import Expansion
from shiftlore.knowledge import Background, Knowledge, Raise

SHORTEST_KM, LONGEST_KM = 3_000.0, 600_000.0
"""Distances outside are taken as these: the Weibull shapes are not known there (judgement)."""
LARGEST_WEAR, SMALLEST_WEAR = 6.0, 0.1
"""Limits of the wear factor: beyond, a rule of the trade would speak of another vehicle (judgement)."""
LARGEST_SHARE = 0.6
"""No background makes a single cause surer than this before anything was seen (judgement)."""


@dataclass(frozen=True)
class Priors:
    """Priors of one case.

    Args:
        shares: cause -> p given that the vehicle was brought in; they add up to `complaint_total` or less.
        p_causes: cause -> p in the network, before the tie.
        weight_none: weight of "no cause at all" in the tie.
        nothing_found: p that no cause is present, given that the vehicle was brought in.
    """

    shares: Mapping[str, float]
    p_causes: Mapping[str, float]
    weight_none: float
    nothing_found: float


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


def compute_priors(
    knowledge: Knowledge, expansion: Expansion, odometer_km: float | None, known: Mapping[str, str]
) -> Priors:
    """Compute the priors of one case.

    Args:
        odometer_km: distance driven, or None.
        known: background -> answer.
    """
    words = knowledge.words
    weights = {}
    for key, cause in expansion.causes.items():
        wear = wear_factor(odometer_km, cause.cause.wear, words.reference_km)
        weights[key] = cause.share * wear * background_factor(cause.cause.raised_by, known, knowledge.backgrounds)
    total = sum(weights.values()) or 1.0
    shares = {key: min(words.complaint_total * weight / total, LARGEST_SHARE) for key, weight in weights.items()}
    scale = solve_scale(tuple(shares.values()), words.nothing_found)
    p_causes = {key: scale * share for key, share in shares.items()}
    p_none = math.prod(1 - p for p in p_causes.values())
    weight_none = words.nothing_found * scale / p_none
    return Priors(shares, p_causes, min(max(weight_none, 1e-12), 1.0), words.nothing_found)


def solve_scale(shares: tuple[float, ...], nothing_found: float) -> float:
    """Find how much rarer causes are in the fleet than among complaints.

    With p_i = scale * share_i and P(brought in) = (1 - prod(1 - p_i)) / (1 - nothing_found), the probability of a
    cause given "brought in" is p_i / P(brought in); it equals share_i when scale = P(brought in).
    Args:
        shares: p of each cause given that the vehicle was brought in; together more than 1 - nothing_found.
        nothing_found: p of no cause given that the vehicle was brought in.
    Returns: the scale, above 0 and at most 1. Solved by bisection: the difference falls monotonically.
    Example:
        >>> scale = solve_scale((0.6, 0.6), 0.0)
        >>> p = 0.6 * scale
        >>> round(p / (1 - (1 - p) ** 2), 9)
        0.6
    """
    low, high = 1e-6, 1.0
    for _ in range(60):
        middle = (low + high) / 2
        brought_in = -math.expm1(sum(math.log1p(-min(middle * share, 1 - 1e-12)) for share in shares))
        if brought_in / (1 - nothing_found) > middle:
            low = middle
        else:
            high = middle
    return (low + high) / 2
