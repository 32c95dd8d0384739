"""What may be wrong: nothing known, one cause, any two, and three where two do not explain a case.

A vehicle is brought in because of a fault. Most have one, some have two. Two faults meet by chance, in proportion to
the product of their shares, or because one brings the other on. All sets of causes have a chance; which of them are
worked out one by one is decided for each case (`compiling.opening`), or by their chance alone (`list_likeliest`).
"""

import math
from collections.abc import Mapping, Sequence
from functools import cached_property, lru_cache
from itertools import chain, combinations, zip_longest
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from shiftlore.basics.structs import Value
from shiftlore.compiling.expansion import Expansion

if TYPE_CHECKING:
    from shiftlore.network import Survival

NONE = "none"
PAIR_SIGN = "+"
LIKELIEST_PAIRS = 160
"""Pairs that stand for all where there is no case to choose them by: they hold most of the chance of two common faults."""
SMALLEST_PRODUCT = 1e-30
P_BROUGHT_ON = 6.0
"""A cause that another brings on is so many times likelier beside it than beside any other fault (judgement)."""


class Faults(Value, frozen=True, eq=False, dict=True):
    """Root states and their priors.

    Args:
        causes: expanded cause ids.
        members: per root state the positions of its causes; the first state has none, then every single cause, then sets.
        prior: shape (n_states,), sum 1.
    """

    causes: tuple[str, ...]
    members: tuple[tuple[int, ...], ...]
    prior: np.ndarray

    @cached_property
    def names(self) -> tuple[str, ...]:
        """Name the root's states: `none`, a cause, or causes joined by a plus sign."""
        return (NONE, *self.causes, *(PAIR_SIGN.join(self.causes[i] for i in member) for member in self.sets))

    @cached_property
    def survival(self) -> "Survival":
        """What work leaves of each root state; where no known cause is present nothing can be put right."""
        from shiftlore.network import Survival

        return Survival(self.members, len(self.causes))

    @cached_property
    def sets(self) -> tuple[tuple[int, ...], ...]:
        """Sets of two causes or more, in the order of their states."""
        return self.members[len(self.causes) + 1 :]

    @cached_property
    def _held(self) -> tuple[np.ndarray, np.ndarray]:
        """Give which set has which cause, one after the other: positions of both, shape (n,) each."""
        held = np.fromiter(chain.from_iterable(self.sets), dtype=np.intp)
        return np.repeat(np.arange(len(self.sets)), [*map(len, self.sets)]), held

    @cached_property
    def _rows(self) -> np.ndarray:
        """Give the positions of the causes of each set, padded with the number of causes, shape (largest, n_sets)."""
        return np.array([*zip_longest(*self.sets, fillvalue=len(self.causes))], dtype=np.intp)

    @cached_property
    def _in_sets(self) -> np.ndarray:
        """Tell which set has which cause, shape (n_sets, n_causes)."""
        in_sets = np.zeros((len(self.sets), len(self.causes)))
        in_sets[self._held] = 1.0
        return in_sets

    def sum_over_causes(self, p: np.ndarray) -> np.ndarray:
        """Add root states up to causes: P(cause present), shape (..., n_causes) from (..., n_states)."""
        n = len(self.causes) + 1
        present = p[..., 1:n] + p[..., n:] @ self._in_sets if self.sets else p[..., 1:n]
        return np.minimum(present, 1.0)

    def sum_over_groups(self, p: np.ndarray, group_of: np.ndarray, n_groups: int) -> np.ndarray:
        """Add root states up to groups of causes: P(at least one cause of the group), shape (n_groups,) from (n_states,).

        Args:
            group_of: of each cause its group, shape (n_causes,).
        """
        n = len(self.causes) + 1
        sums: np.ndarray = np.bincount(group_of, p[1:n], n_groups)
        if self.sets:
            states, causes = self._held
            in_groups = np.zeros((len(self.sets), n_groups))
            in_groups[states, group_of[causes]] = 1.0  # a set counts once for each of its groups
            sums = sums + p[n:] @ in_groups
        return np.minimum(sums, 1.0)

    def spread_over_states(self, per_cause: np.ndarray) -> np.ndarray:
        """Multiply a factor per cause over the causes of each state: shape (..., n_states); 1 for `none`."""
        one = np.ones((*per_cause.shape[:-1], 1))
        parts = [one, per_cause]
        if self.sets:
            parts.append(np.append(per_cause, one, axis=-1)[..., self._rows].prod(axis=-2))
        return np.concatenate(parts, axis=-1)


class Chances(Value, frozen=True, eq=False, dict=True):
    """The chance of every set of causes, before anything was seen.

    Args:
        causes: expanded cause ids.
        weights: share of each cause among complaints, shape (n_causes,), sum 1.
        brought_on: pairs of which one cause brings the other on.
        p_none, p_one, p_two, p_three: chance that no known cause, one, two, three are present.
    """

    causes: tuple[str, ...]
    weights: np.ndarray
    brought_on: frozenset[tuple[int, int]]
    p_none: float
    p_one: float
    p_two: float
    p_three: float

    def lean(self, factors: np.ndarray) -> "Chances":
        """Give the chances with each cause's share times a factor, shape (n_causes,)."""
        weights = self.weights * factors
        return self.vary(weights=weights / (weights.sum() or 1.0))

    @cached_property
    def pair_scale(self) -> float:
        """Chance of a pair that meets by chance, over the product of the shares of both; 0 where there are no two causes."""
        first, second = _list_ends(self.brought_on)
        total, squares = float(self.weights.sum()), float(self.weights @ self.weights)
        more = float(self.weights[first] @ self.weights[second]) * (P_BROUGHT_ON - 1)
        products = (total * total - squares) / 2 + more
        return self.p_two / products if products > SMALLEST_PRODUCT else 0.0

    @cached_property
    def beyond_chance(self) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """First, second, and the chance beyond that of meeting by chance, of pairs of which one brings the other on."""
        first, second = _list_ends(self.brought_on)
        return first, second, (P_BROUGHT_ON - 1) * self.pair_scale * self.weights[first] * self.weights[second]

    def of_pairs(self, first: np.ndarray, second: np.ndarray) -> np.ndarray:
        """Give the chance of pairs, shape (n,): positions of both, the first cause before the second."""
        factors = _list_factors(len(self.weights), self.brought_on)[first, second]
        chances: np.ndarray = self.weights[first] * self.weights[second] * self.pair_scale * factors
        return chances

    @cached_property
    def _all_threes(self) -> float:
        """The products of the shares of every three causes, added up; sums alone, so that no digits are lost."""
        ones = twos = threes = 0.0
        for weight in self.weights.tolist():
            threes += twos * weight
            twos += ones * weight
            ones += weight
        return threes

    def beside(self, member: tuple[int, ...]) -> np.ndarray:
        """Chance that each cause stands beside a pair, as a set of three, shape (n_causes,)."""
        whole = self._all_threes
        chance = self.p_three * float(self.weights[list(member)].prod()) * self.weights / max(whole, 1e-300)
        chance[list(member)] = 0.0
        return chance

    def chance_of(self, member: tuple[int, ...]) -> float:
        """Chance of one set of causes."""
        if len(member) < 2:
            return self.p_one * float(self.weights[member[0]]) if member else self.p_none
        if len(member) == 2:
            return float(self.of_pairs(*np.array(member)[:, None])[0])
        return float(self.beside(member[:2])[member[2]])


@lru_cache(16)
def _list_ends(pairs: frozenset[tuple[int, int]]) -> tuple[np.ndarray, np.ndarray]:
    """Give the first and the second of each pair, in order."""
    first, second = np.array(sorted(pairs), dtype=np.intp).reshape(-1, 2).T
    return first, second


@lru_cache(16)
def _list_factors(n: int, brought_on: frozenset[tuple[int, int]]) -> np.ndarray:
    """Give by how much likelier each pair is than by chance, the first cause before the second, shape (n, n)."""
    factors = np.ones((n, n))
    for first, second in brought_on:
        factors[first, second] = P_BROUGHT_ON
    return factors


class Pairs(NamedTuple):
    """Every pair of n causes: the first, the second, the place of both in a table of all by all; shape (n_pairs,) each.

    Args:
        number: which pair stands at each place of the table, shape (n, n); 0 where none does.
    """

    first: np.ndarray
    second: np.ndarray
    place: np.ndarray
    number: np.ndarray


@lru_cache(16)
def list_pairs(n: int) -> Pairs:
    """List every pair of n causes, the first below the second."""
    first, second = np.triu_indices(n, 1)
    number = np.zeros((n, n), dtype=np.intp)
    number[first, second] = np.arange(len(first))
    return Pairs(first, second, first * n + second, number)


def weigh_chances(
    expansion: Expansion, shares: Mapping[str, float], complaint_total: float, nothing_found: float
) -> Chances:
    """Give the chances of sets of causes.

    Args:
        shares: cause -> weight among complaints, any scale.
        complaint_total: expected number of faults per complaint (1.15: about every seventh vehicle has two).
        nothing_found: share of complaints in which no known cause is present.
    """
    causes = tuple(expansion.causes)
    weights = np.array([shares[cause] for cause in causes])
    weights = weights / (weights.sum() or 1.0)
    further = max(0.0, min(0.5, complaint_total - (1 - nothing_found)))
    # A third fault is beside a second as often as a second beside a first: further = p_two + 2 p_three, p_three = p_two^2.
    p_two = (math.sqrt(1 + 8 * further) - 1) / 4
    p_three = p_two**2
    position = {cause: i for i, cause in enumerate(causes)}
    brought_on = {
        (min(position[cause], position[other]), max(position[cause], position[other]))
        for cause, record in expansion.causes.items()
        for damaged in record.cause.driven_on.damages
        for other in expansion.of_template.get(damaged, ())
        if other != cause
    }
    return Chances(
        causes,
        weights,
        brought_on=frozenset(brought_on),
        p_none=nothing_found,
        p_one=1 - nothing_found - p_two - p_three,
        p_two=p_two,
        p_three=p_three,
    )


def make_faults(chances: Chances, sets: Sequence[tuple[int, ...]], absorbed: np.ndarray | None = None) -> Faults:
    """Make the root: none, every single cause, and these sets.

    Args:
        sets: sets of two causes or more, positions ascending.
        absorbed: chance of sets that are not listed, added to each single cause, shape (n_causes,); None shares it out
            in proportion.
    """
    singles = chances.p_one * chances.weights
    pairs = [i for i, member in enumerate(sets) if len(member) == 2]
    of_sets = np.array([0.0 if len(member) == 2 else chances.chance_of(member) for member in sets])
    if pairs:
        of_sets[pairs] = chances.of_pairs(*np.array([sets[i] for i in pairs]).T)
    if absorbed is None:
        absorbed = max(0.0, chances.p_two + chances.p_three - of_sets.sum()) * chances.weights
    prior = np.concatenate([[chances.p_none], singles + absorbed, of_sets])
    return Faults(chances.causes, (*_list_singles(len(chances.causes)), *sets), prior / prior.sum())


@lru_cache(16)
def _list_singles(n: int) -> tuple[tuple[int, ...], ...]:
    return ((), *((i,) for i in range(n)))


def list_likeliest(chances: Chances, n_pairs: int = LIKELIEST_PAIRS) -> Faults:
    """Make the root with the pairs that are likeliest before anything was seen."""
    first, second, *_ = list_pairs(len(chances.causes))
    of_pairs = chances.of_pairs(first, second)
    order = np.argsort(-of_pairs, kind="stable")[:n_pairs]
    order = order[of_pairs[order] > 0]
    return make_faults(chances, list(zip(first[order].tolist(), second[order].tolist(), strict=True)))


def close_sets(sets: Sequence[tuple[int, ...]]) -> list[tuple[int, ...]]:
    """Add the pairs within sets of three: whoever repairs one of three faults leaves a pair.

    Example:
        >>> close_sets([(1, 2, 3)])
        [(1, 2), (1, 3), (2, 3), (1, 2, 3)]
    """
    threes = (member for member in sets if len(member) > 2)
    whole = {
        *sets,
        *(part for member in threes for size in range(2, len(member)) for part in combinations(member, size)),
    }
    return sorted(whole, key=lambda member: (len(member), member))
