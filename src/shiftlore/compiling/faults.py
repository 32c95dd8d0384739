"""What may be wrong, as states of one root: nothing known, one cause, or one of the pairs that go together.

A vehicle is brought in because of a fault. Most have one, some have two: those pairs stand in the list of which one
brings the other on, and those of common faults that meet by chance. Any other pair is left out (its share is below
what a base rate can tell), and its part of the chance of two faults goes back to the single ones.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from shiftlore.compiling.expansion import Expansion
from shiftlore.network import Survival

NONE = "none"
PAIR_SIGN = "+"
MOST_PAIRS = 160
"""Pairs kept, the likeliest first: together they hold nearly all of the chance of two faults (measured)."""
N_COMMON = 20
"""Common faults that are allowed to meet by chance."""
P_BROUGHT_ON = 6.0
"""A cause that another brings on is so many times likelier beside it than beside any other fault (judgement)."""


@dataclass(frozen=True, eq=False)
class Faults:
    """The root's states and their priors.

    Args:
        causes: expanded cause ids.
        members: per root state the positions of its causes; the first state has none.
        prior: shape (n_states,), sum 1.
    """

    causes: tuple[str, ...]
    members: tuple[tuple[int, ...], ...]
    prior: np.ndarray

    @cached_property
    def names(self) -> tuple[str, ...]:
        """Name the root's states: `none`, a cause, or two causes joined by a plus sign."""
        return (NONE, *(PAIR_SIGN.join(self.causes[i] for i in member) for member in self.members[1:]))

    @cached_property
    def survival(self) -> Survival:
        """What work leaves of each root state; where no known cause is present nothing can be put right."""
        return Survival(self.members, len(self.causes))

    @cached_property
    def pairs(self) -> np.ndarray:
        """Positions of the two causes of each pair, shape (n_pairs, 2)."""
        found = [member for member in self.members if len(member) == 2]
        return np.array(found, dtype=np.intp).reshape(len(found), 2)

    @cached_property
    def _in_pairs(self) -> np.ndarray:
        """Tell which causes are in which pair, 1 or 0, shape (n_pairs, n_causes)."""
        found = np.zeros((len(self.pairs), len(self.causes)))
        for place in (0, 1):
            found[np.arange(len(self.pairs)), self.pairs[:, place]] = 1
        return found

    def sum_over_causes(self, p: np.ndarray) -> np.ndarray:
        """Add root states up to causes: P(cause present), shape (..., n_causes) from (..., n_states)."""
        n = len(self.causes)
        return p[..., 1 : n + 1] + p[..., n + 1 :] @ self._in_pairs

    def spread_over_states(self, per_cause: np.ndarray) -> np.ndarray:
        """Multiply a factor per cause over the causes of each state: shape (..., n_states); 1 for `none`."""
        ones = np.ones((*per_cause.shape[:-1], 1))
        pairs = per_cause[..., self.pairs[:, 0]] * per_cause[..., self.pairs[:, 1]]
        return np.concatenate([ones, per_cause, pairs], axis=-1)


def list_faults(
    expansion: Expansion, shares: Mapping[str, float], complaint_total: float, nothing_found: float
) -> Faults:
    """List the root's states with their priors.

    Args:
        shares: cause -> weight among complaints, any scale.
        complaint_total: expected number of faults per complaint (1.15: about every seventh vehicle has two).
        nothing_found: share of complaints in which no known cause is present.
    """
    causes = tuple(expansion.causes)
    weights = np.array([shares[cause] for cause in causes])
    weights = weights / (weights.sum() or 1.0)
    p_two = max(0.0, min(0.5, complaint_total - (1 - nothing_found)))
    pairs, kept = _weigh_pairs(expansion, causes, weights)
    total = math.fsum(weight for _, weight in pairs) or 1.0
    p_pairs = np.array([p_two * kept * weight / total for _, weight in pairs])
    p_single = 1 - nothing_found - p_pairs.sum()
    prior = np.concatenate([[nothing_found], p_single * weights, p_pairs])
    members = ((), *((i,) for i in range(len(causes))), *(pair for pair, _ in pairs))
    return Faults(causes, members, prior / prior.sum())


def _weigh_pairs(
    expansion: Expansion, causes: Sequence[str], weights: np.ndarray
) -> tuple[list[tuple[tuple[int, int], float]], float]:
    """Weigh the pairs that may be present together and keep the likeliest.

    By chance two faults meet in proportion to the product of their shares.
    Returns: the pairs with their weights, and the share of all chance of two faults that they hold.
    """
    position = {cause: i for i, cause in enumerate(causes)}
    common = np.argsort(-weights, kind="stable")[:N_COMMON]
    found = {
        (min(first, second), max(first, second)): float(weights[first] * weights[second])
        for rank, first in enumerate(common.tolist())
        for second in common[rank + 1 :].tolist()
    }
    for cause in causes:
        first = position[cause]
        for damaged in expansion.causes[cause].cause.driven_on.damages:
            for other in expansion.of_template.get(damaged, ()):
                second = position[other]
                if first != second:
                    key = (min(first, second), max(first, second))
                    found[key] = P_BROUGHT_ON * float(weights[first] * weights[second])
    ranked = sorted(found.items(), key=lambda item: (-item[1], item[0]))[:MOST_PAIRS]
    kept = math.fsum(weight for _, weight in ranked)
    chance = (1 - float(weights @ weights)) / 2
    brought_on = math.fsum(
        weight * (1 - 1 / P_BROUGHT_ON) for (first, second), weight in found.items()
        if weight > 1.5 * float(weights[first] * weights[second])
    )
    return ranked, min(1.0, kept / max(chance + brought_on, 1e-12))
