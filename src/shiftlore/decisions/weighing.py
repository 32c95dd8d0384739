"""From the probability of each cause to weights over what is at work: one cause, two, or something else.

A cause is at work here if it is present: causes are rare in the fleet, so a second one that merely happens to be there
as well is left aside, and each cause counts as a hypothesis of its own in proportion to its probability. Only where two
probabilities add up to more than one must both be present in some vehicles; that part (the lower Frechet
bound) becomes a pair. Causes that hardly matter, and "no cause at all", are lumped as something else.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from shiftlore.decisions.beliefs import Hypotheses

SOMETHING_ELSE = "something_else"
"""Id of the lump of unlikely causes and of no cause at all."""

MOST_CAUSES = 70
"""Causes weighed singly; the seventy-first rarely has one in a thousand."""

LEAST_CAUSE = 1e-3
"""Probability below which a cause is lumped."""

LEADING = 6
"""Causes among which pairs are looked for."""

LEAST_PAIR = 0.02
"""Weight below which a pair is left aside."""


@dataclass(frozen=True, slots=True, eq=False)
class Weighing:
    """Hypotheses with their weights, and how they came from the causes.

    Args:
        hypotheses: the last cause is `SOMETHING_ELSE`.
        belief: shape (n_hypotheses,), sum 1.
        kept: positions of the causes weighed singly, in the order of the hypotheses' causes.
        lumped: positions of the other causes.
        lump_weights: their weights within the lump; with that of no cause at all they sum to 1.
        p_none_in_lump: weight of no cause at all within the lump.
    """

    hypotheses: Hypotheses
    belief: np.ndarray
    kept: np.ndarray
    lumped: np.ndarray
    lump_weights: np.ndarray
    p_none_in_lump: float

    def average(self, per_cause: np.ndarray, none: np.ndarray | float = 0.0) -> np.ndarray:
        """Turn values per cause into values per hypothesis cause, the lump averaged.

        Args:
            per_cause: shape (..., n_causes).
            none: value where there is no cause at all, shape (...) or one number.
        Returns: shape (..., n_kept + 1).
        """
        lump = per_cause[..., self.lumped] @ self.lump_weights + self.p_none_in_lump * none
        return np.concatenate([per_cause[..., self.kept], np.asarray(lump)[..., None]], axis=-1)


def weigh_causes(causes: Sequence[str], p_present: np.ndarray, p_none: float) -> Weighing:
    """Weigh what may be at work.

    Args:
        causes: ids.
        p_present: probability of each, shape (n_causes,).
        p_none: probability that none is present.
    """
    ranked = np.argsort(-p_present, kind="stable")
    kept = np.sort(ranked[:MOST_CAUSES][p_present[ranked[:MOST_CAUSES]] >= LEAST_CAUSE])
    lumped = np.setdiff1d(np.arange(len(causes)), kept)
    singles, pairs = _split_pairs(p_present[kept])
    lump = float(p_present[lumped].sum()) + p_none
    weights = np.concatenate([singles, [lump], list(pairs.values())])
    members = [(i,) for i in range(len(kept) + 1)] + list(pairs)
    names = (*(causes[i] for i in kept), SOMETHING_ELSE)
    scale = lump if lump > 0 else 1.0
    return Weighing(
        Hypotheses(names, tuple(members)), weights / weights.sum(), kept, lumped, p_present[lumped] / scale,
        p_none / scale,
    )


def _split_pairs(p: np.ndarray) -> tuple[np.ndarray, dict[tuple[int, int], float]]:
    """Take the part of two causes that must coincide out of the single ones, most probable pair first."""
    singles, pairs = p.copy(), {}
    leading = [int(i) for i in np.argsort(-p, kind="stable")[:LEADING]]
    for first, second in sorted(combinations(leading, 2), key=lambda pair: -p[pair[0]] - p[pair[1]]):
        both = min(float(singles[first] + singles[second]) - 1.0, float(singles[first]), float(singles[second]))
        if both > LEAST_PAIR:
            pairs[min(first, second), max(first, second)] = both
            singles[[first, second]] -= both
    return singles, pairs
