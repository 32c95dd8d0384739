"""Small clusters summed over all ways in which their hidden variables may be present, one row for each way.

A chain takes some twenty steps on small arrays for each change; where a cluster has a handful of hidden variables, one
table of all their ways is made in a step for each gate, and every change is a row of factors that is multiplied with it.
All numbers stay non-negative, so no digits are lost however improbable the answers are.
"""

from collections.abc import Sequence

import numpy as np

from shiftlore.exact.answers import Gate
from shiftlore.exact.chains import Cluster
from shiftlore.exact.tables import TINY, FloatArray, find_kinds

MOST_WORK = 1 << 10
"""Gates of a cluster times ways of its hidden variables, up to which a table is faster than its chains (measured)."""
MOST_CELLS = 1 << 19
"""Ways times root states up to which a table stays small."""


def is_small(cluster: Cluster, n_root: int) -> bool:
    """Tell whether a cluster is summed by a table."""
    n_hidden = len(cluster.hidden)
    return len(cluster.gates) << n_hidden <= MOST_WORK and n_root << n_hidden <= MOST_CELLS


class WayTable:
    """P(the hidden variables of one cluster are present in each way, all its gates show | root state).

    Args:
        gates: all telling answers.
        p_hidden: shape (n_hidden, n_root).
        weights: factor of each hidden variable when present, shape (n_hidden,) or (n_hidden, n_root).
        n_draws: draws of the numbers that stand side by side.
    """

    def __init__(
        self, cluster: Cluster, gates: Sequence[Gate], p_hidden: FloatArray, weights: FloatArray, n_draws: int
    ):
        hidden = list(cluster.hidden)
        self.place = {h: i for i, h in enumerate(hidden)}
        p, own = p_hidden[hidden], weights[hidden]
        roots = np.array([gates[g].root_misses for g in cluster.gates])
        rows = [p, roots, own] if own.ndim == 2 else [p, roots]
        self.first, self.kind = find_kinds(np.concatenate(rows), n_draws)
        p, roots = p[:, self.first], roots[:, self.first]
        own = own[:, self.first] if own.ndim == 2 else own[:, None]
        self._prior = expand_ways(1 - p, p * own)
        self._hits = {g: self._hit(gates[g], root) for g, root in zip(cluster.gates, roots, strict=True)}
        self.joint = self._multiply(())
        self.total: FloatArray = self.joint.sum(axis=0)

    def _hit(self, gate: Gate, root_misses: FloatArray) -> FloatArray:
        """Give P(a gate shows | way, kind of root state), shape (n_ways, n_kinds)."""
        n = root_misses.shape[0]
        misses: list[FloatArray | float] = [1.0] * len(self.place)
        for h, miss in zip(gate.hidden, gate.misses, strict=True):
            misses[self.place[h]] = miss[self.first] if miss.ndim else float(miss)
        wide = any(np.ndim(miss) for miss in misses)
        present = np.array([np.broadcast_to(miss, n if wide else 1) for miss in misses])
        missed: FloatArray = expand_ways(np.ones_like(present), present) * root_misses
        return np.subtract(1, missed, out=missed)

    def _multiply(self, released: Sequence[int]) -> FloatArray:
        """Give the table with some gates released, shape (n_ways, n_kinds)."""
        joint = self._prior.copy()
        for g, hit in self._hits.items():
            if g not in released:
                joint *= hit
        return joint

    def lay_factors(
        self, n_changes: int, own: np.ndarray, hidden: Sequence[int], factor: Sequence[float] | FloatArray
    ) -> FloatArray:
        """Give by what each change multiplies the weight of each hidden variable, shape (n_changes, n_hidden).

        Args:
            own, hidden, factor: of each weight that is changed its change, its variable, and by what.
        """
        factors = np.ones((n_changes, len(self.place)))
        np.multiply.at(factors, (own, np.array([self.place[h] for h in hidden], dtype=np.intp)), factor)
        return factors

    def ask(self, factors: FloatArray, released: Sequence[int] = ()) -> FloatArray:
        """Give the sum under changes over the sum as it is, shape (n_changes, n_root).

        Args:
            factors: by what each change multiplies the weight of each hidden variable, shape (n_changes, n_hidden).
            released: gates that count as not answered, in all of these changes.
        """
        by_way = expand_ways(np.ones_like(factors.T), factors.T)
        joint = self._multiply(released) if released else self.joint
        changed: FloatArray = by_way.T @ joint
        changed /= np.maximum(self.total, TINY)
        return changed[:, self.kind]


def expand_ways(absent: FloatArray, present: FloatArray) -> FloatArray:
    """Multiply out all ways of n things that are absent or present, shape (2**n, n_columns).

    Args:
        absent, present: factor of each thing, shape (n, n_columns).
    Example:
        >>> expand_ways(np.array([[0.9], [0.5]]), np.array([[0.1], [0.25]])).ravel().tolist()
        [0.45, 0.05, 0.225, 0.025]
    """
    ways = np.empty((1 << len(absent), absent.shape[1]))
    ways[0] = 1.0
    for i, (off, on) in enumerate(zip(absent, present, strict=True)):
        np.multiply(ways[: 1 << i], on, out=ways[1 << i : 2 << i])
        ways[: 1 << i] *= off
    return ways
