"""A plan: the elimination of a structure, written down once as a list of array operations, run forwards and backwards.

The forward sweep gives the probability of the answers, row by row; the backward sweep gives the derivative of its
logarithm by every unary factor, and thereby every posterior at once. The plan depends on the structure alone; the
numbers are bound when it runs.
Source: junction-tree propagation without division, Shafer and Shenoy 1990; the two sweeps as derivatives, Darwiche
2003.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from shiftlore.inference.operations import Operation, Tape
from shiftlore.network import FloatArray


@dataclass(frozen=True, slots=True)
class Factor:
    """A constant of a structure: which nodes it joins, and on which of its axes it is of kind R.

    Args:
        scope: nodes, one per axis.
        required: gate nodes on which the factor holds "required" values (see kernels); F on its other gates.
    """

    scope: tuple[int, ...]
    required: frozenset[int] = frozenset()


@dataclass(frozen=True, slots=True)
class Structure:
    """What must be summed over, without its numbers; two sets of answers of the same form share it.

    Args:
        sizes: states per node.
        n_variables: nodes below this number are variables with a unary factor, the others are gates.
        factors: the constants.
    """

    sizes: tuple[int, ...]
    n_variables: int
    factors: tuple[Factor, ...]


@dataclass(frozen=True, slots=True)
class Plan:
    """The operations of a structure.

    Args:
        operations: in the order of the forward sweep.
        ends: slots of the scalars that are left, one per connected part.
        n_slots: number of arrays.
        n_cells: number of entries of all arrays together, per row: the price of a row.
        largest: entries of the largest array, per row.
        n_products: products of the forward sweep, per row; many more than cells where gates are joined by maxima.
        touched: variable nodes whose unary factor the operations use.
    """

    operations: tuple[Operation, ...]
    ends: tuple[int, ...]
    n_slots: int
    n_cells: int
    largest: int
    n_products: int
    touched: frozenset[int] = frozenset()


def run_plan(
    plan: Plan,
    unary: Sequence[FloatArray],
    constants: Sequence[FloatArray],
    n_rows: int,
    backwards: bool,
    tables: dict[int, FloatArray],
) -> tuple[FloatArray, Mapping[int, FloatArray]]:
    """Run a plan over many rows at once.

    Args:
        plan: from `make_plan`.
        unary: per variable node, shape (states, rows).
        constants: per factor, axes of its scope plus rows or 1.
        n_rows: number of rows.
        backwards: whether derivatives are wanted.
        tables: products of constants, kept by the caller from one run to the next.
    Returns: natural logarithm of the sum over all nodes, shape (rows,), minus infinity where it is 0; and per touched
        variable the derivative of that logarithm by its unary factor, shape (states, rows), 0 in rows that sum to 0.
    """
    tape = Tape(unary, constants, n_rows, plan.n_slots, tables)
    for operation in plan.operations:
        operation.forward(tape)
    log_total = tape.log_scale.copy()
    with np.errstate(divide="ignore"):
        for slot in plan.ends:
            log_total = log_total + np.log(np.maximum(tape.value(slot), 0.0))
    if not backwards:
        return log_total, {}
    possible = np.isfinite(log_total)
    for slot in plan.ends:
        end = tape.value(slot)
        tape.gradients[slot] = np.where(possible, 1.0, 0.0) / np.where(end > 0, end, 1.0)
    for operation in reversed(plan.operations):
        operation.backward(tape)
    return log_total, {variable: array for variable, array in enumerate(tape.unary_gradients) if array is not None}
