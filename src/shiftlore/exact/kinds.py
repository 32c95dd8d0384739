"""Columns that are alike, worked out once: the first of each kind, the kind of each column, and sets of columns by kinds."""

from functools import lru_cache

import numpy as np

from shiftlore.exact.tables import FloatArray

SAME, SAME_SIGN = 1e-15, 1e-13
"""Columns that differ by less are one kind: probabilities made as 1 - product hold no more digits."""


def find_kinds(rows: FloatArray, n_draws: int = 1) -> tuple[np.ndarray, np.ndarray]:
    """Find the columns that differ: the first of each kind, and each column's kind.

    Args:
        n_draws: draws that stand side by side; columns that are equal in the first three are equal in all of them.
    """
    n = rows.shape[1] // n_draws
    taken = rows if n_draws == 1 else np.concatenate([rows[:, i * n : i * n + n] for i in range(min(n_draws, 3))])
    first, inverse = _rank_signs(np.rint(_row_weights(len(taken)) @ taken / SAME_SIGN))
    if len(taken) and np.abs(taken - taken[:, first[inverse]]).max() > SAME:
        _, first, inverse = np.unique(taken, axis=1, return_index=True, return_inverse=True)
    draws = np.arange(n_draws)[:, None]
    return (draws * n + first).ravel(), (draws * len(first) + inverse.ravel()).ravel()


def _rank_signs(signs: FloatArray) -> tuple[np.ndarray, np.ndarray]:
    """Give where each different number stands first, smallest number first, and which of them each one is."""
    order = signs.argsort(kind="stable")
    ranked = signs[order]
    begins = np.ones(len(order), dtype=bool)
    np.not_equal(ranked[1:], ranked[:-1], out=begins[1:])
    inverse = np.empty(len(order), dtype=np.intp)
    inverse[order] = np.cumsum(begins) - 1
    return order[begins], inverse


@lru_cache(512)
def _row_weights(n: int) -> FloatArray:
    """Give numbers by which rows are told apart once they are added up, shape (n,)."""
    weights: FloatArray = 2 + np.sin(np.arange(1, n + 1))
    return weights


def gather_sets(kinds: np.ndarray, n: int) -> tuple[np.ndarray, np.ndarray]:
    """Find the sets that differ, whatever the order of their members.

    Args:
        kinds: the kind of each member of each set, below n, shape (largest, n_sets).
    Returns: the members of each kind of set, shape (largest, n_kinds), and the kind of each set.
    """
    if len(kinds) == 2:
        code = np.minimum(*kinds) * n + np.maximum(*kinds)
        seen = np.zeros(n * n, dtype=bool)
        seen[code] = True
        codes = np.flatnonzero(seen)
        place = np.empty(n * n, dtype=np.intp)
        place[codes] = np.arange(len(codes))
        return np.array(np.divmod(codes, n)), place[code]
    kinds = np.sort(kinds, axis=0)
    code = kinds[0]
    for row in kinds[1:]:
        code = code * n + row
    _, at, back = np.unique(code, return_index=True, return_inverse=True)
    return kinds[:, at], back
