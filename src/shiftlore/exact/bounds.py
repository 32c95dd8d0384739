"""Bounds for telling answers that are too much joined to be summed exactly.

Such an answer is a noisy-OR gate 1 - exp(-x), with x adding up over the root and the hidden variables that are present.
Its logarithm is concave in x: a tangent lies above it, and a chord between its parts below it, and both are products
over the hidden variables. Put in the place of the gate they give an upper and a lower bound of the exact sum. A second
lower bound is the product of the single probabilities: given the root, telling answers support each other.
Source: Jaakkola and Jordan 1999, "Variational probabilistic inference and the QMR-DT network"; Harris 1960.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from shiftlore.exact.answers import Gate
from shiftlore.exact.tables import TINY, FloatArray, as_rows

LEAST_X, MOST_X = 1e-3, 30.0
"""Where tangents are laid: beyond these the bound stays a bound, the numbers stay in range."""


@dataclass(frozen=True, eq=False)
class Replaced:
    """Gates replaced by products.

    Args:
        log_root: log factor of each root state, shape (n_root,).
        log_weights: log factor of each hidden variable when present, shape (n_hidden, n_root).
    """

    log_root: FloatArray
    log_weights: FloatArray


def _log_shown(x: FloatArray) -> FloatArray:
    """Give ln(1 - exp(-x)); -inf at 0."""
    with np.errstate(divide="ignore"):
        return np.log(-np.expm1(-x))


def _depths(gate: Gate) -> tuple[FloatArray, FloatArray]:
    """Give what the root and each hidden parent add to x: shapes (n_root,) and (n_parents, 1 or n_root)."""
    root = -np.log(np.maximum(gate.root_misses, np.exp(-MOST_X)))
    return root, -np.log(np.maximum(as_rows(gate.misses), np.exp(-MOST_X)))


def bound_above(gates: Sequence[Gate], p_present: FloatArray) -> Replaced:
    """Replace gates by tangents laid where the hidden variables probably stand.

    Args:
        p_present: P(hidden present | root state, what is summed exactly), shape (n_hidden, n_root).
    """
    log_root, log_weights = np.zeros(p_present.shape[1]), np.zeros_like(p_present)
    for gate in gates:
        root, parents = _depths(gate)
        hidden = list(gate.hidden)
        at = np.clip(root + (parents * p_present[hidden]).sum(axis=0), LEAST_X, MOST_X)
        slope = 1 / np.expm1(at)
        log_root += _log_shown(at) + slope * (root - at)
        log_weights[hidden] += slope * parents
    return Replaced(log_root, log_weights)


def bound_below(gates: Sequence[Gate], p_present: FloatArray) -> Replaced:
    """Replace gates by chords, shared out among the hidden variables as they probably contribute.

    Args: as `bound_above`.
    """
    log_root, log_weights = np.zeros(p_present.shape[1]), np.zeros_like(p_present)
    for gate in gates:
        root, parents = _depths(gate)
        hidden, alone = list(gate.hidden), _log_shown(root)
        parts = parents * np.maximum(p_present[hidden], LEAST_X)
        parts /= np.maximum(parts.sum(axis=0), TINY)
        with np.errstate(invalid="ignore"):
            gain = parts * (_log_shown(root + parents / parts) - alone)
        log_root += alone
        log_weights[hidden] += np.where(np.isfinite(gain), gain, 0.0)
    return Replaced(log_root, log_weights)


def show_apart(gates: Sequence[Gate], p_present: FloatArray) -> FloatArray:
    """Give ln of each gate's single probability, shape (n_gates, n_root).

    Args:
        p_present: P(hidden present | root state, ...), independent of each other, shape (n_hidden, n_root).
    """
    with np.errstate(divide="ignore"):
        return np.array(
            [
                np.log(
                    1 - gate.root_misses * (1 - p_present[list(gate.hidden)] * (1 - as_rows(gate.misses))).prod(axis=0)
                )
                for gate in gates
            ]
        )
