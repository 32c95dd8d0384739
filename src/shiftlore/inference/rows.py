"""Sets of rows: each row changes the unary factors of some variables, on the structure of one set of answers.

Everything that the engine is asked beyond the plain posterior is a set of such rows: the outcomes of open findings,
combinations of outcomes, jobs that cure some causes, worlds with a single cause.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from shiftlore.network import FloatArray

Vectors = Mapping[str, FloatArray]
"""Variable -> factor per state, shape (states,)."""


@dataclass(frozen=True, eq=False)
class Rows:
    """Changes of unary factors.

    Args:
        n_rows: number of rows.
        vectors: per row, variable -> factor per state; may be shorter than n_rows (the rest is unchanged).
        watched: variables changed in every row.
        sound_factors: shape (n_watched, n_rows), factor of state 0 of the watched variables.
        present_factors: shape (n_watched, n_rows), factor of all their other states.
        released: telling finding -> the row in which it counts as not asked (see Reduction.releasable).
    """

    n_rows: int
    vectors: Sequence[Vectors] = ()
    watched: tuple[str, ...] = ()
    sound_factors: FloatArray = field(default_factory=lambda: np.ones((0, 0)))
    present_factors: FloatArray = field(default_factory=lambda: np.ones((0, 0)))
    released: Mapping[str, int] = field(default_factory=dict)


UNCHANGED = Rows(1)
"""A single row that changes nothing."""


@dataclass(frozen=True, eq=False)
class Term:
    """A number times a product of unary factors: one row and its weight."""

    weight: float
    vectors: Vectors


def multiply_vectors(first: Vectors, second: Vectors) -> dict[str, FloatArray]:
    """Multiply two products of unary factors."""
    product = dict(first)
    for name, vector in second.items():
        product[name] = product[name] * vector if name in product else vector
    return product
