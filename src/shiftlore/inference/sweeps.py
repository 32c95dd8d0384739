"""A sweep: a reduced structure with its numbers and its plan, run over rows in passes that fit the memory."""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

import numpy as np

from shiftlore.inference.plans import Plan, run_plan
from shiftlore.inference.reduction import Reduction
from shiftlore.inference.rows import UNCHANGED, Rows
from shiftlore.network import FloatArray

CELLS_PER_PASS = 1 << 22
"""Most entries (states times rows) of all arrays of one pass, so that they stay in the processor's cache; measured."""


@dataclass(frozen=True, eq=False)
class SweepRun:
    """What a sweep says, row by row.

    Args:
        log_p: natural logarithm of the sum over all states, shape (rows,).
        p_states: shape (all states of all variables, rows), posteriors; empty if not asked for.
        deviation: shape (rows,), how far the posteriors of a variable are from adding up to 1, at worst.
        careful: whether nothing was subtracted.
    """

    log_p: FloatArray
    p_states: FloatArray
    deviation: FloatArray
    careful: bool


class Sweep:
    """A structure with numbers and a plan.

    Args:
        reduction: structure and numbers.
        plan: its plan.
    """

    def __init__(self, reduction: Reduction, plan: Plan) -> None:
        self._reduction = reduction
        self._plan = plan
        self.n_cells, self.n_products = plan.n_cells, plan.n_products
        self._tables: dict[int, FloatArray] = {}
        self.known = reduction.known
        self.releasable = frozenset(reduction.releasable)
        sizes = [len(unary) for unary in reduction.unary]
        starts = np.concatenate([[0], np.cumsum(sizes)]).astype(int)
        self.spans: Mapping[str, slice] = {
            name: slice(int(starts[node]), int(starts[node + 1])) for name, node in reduction.node.items()
        }
        self._node_spans = [slice(int(start), int(stop)) for start, stop in pairwise(starts)]
        self._n_states = int(starts[len(reduction.node)])
        self._starts = starts[:-1]
        self._node_of_state = np.repeat(np.arange(len(sizes)), sizes)
        self._flat = np.concatenate(reduction.unary) if sizes else np.ones((0, reduction.numbers.n_rows))
        self._free = np.array([node not in plan.touched for node in range(len(sizes))], dtype=bool)

    @cached_property
    def base(self) -> SweepRun:
        """Run the unchanged row once and remember it."""
        return self.run(UNCHANGED)

    def run(self, rows: Rows, backwards: bool = True) -> SweepRun:
        """Work out the probability of the answers, and the posteriors, of every row.

        Args:
            rows: changes of unary factors; with draws, a single row stands for all draws.
            backwards: whether posteriors are wanted.
        """
        n_rows = max(rows.n_rows, self._flat.shape[1])
        unary = np.repeat(self._flat, n_rows, axis=1) if self._flat.shape[1] < n_rows else self._flat.copy()
        log_constant = self._change_unary(unary, rows, n_rows)
        width = max(1, CELLS_PER_PASS // max(1, self._plan.n_cells))
        constants = self._release(rows, n_rows)
        passes = [
            self._run_pass(unary, constants, slice(start, min(start + width, n_rows)), backwards)
            for start in range(0, n_rows, width)
        ]
        log_p = log_constant + np.concatenate([log_sum for log_sum, _ in passes])
        p_states = np.concatenate([states for _, states in passes], axis=1)
        return SweepRun(log_p, p_states, self._deviation(p_states, log_p), self._reduction.careful)

    def _deviation(self, p_states: FloatArray, log_p: FloatArray) -> FloatArray:
        """Measure how far the posteriors of each row are from adding up to 1."""
        if not p_states.size:
            return np.zeros(p_states.shape[1])
        sums = np.add.reduceat(p_states, self._starts[: len(self._reduction.node)], axis=0)
        return np.where(np.isfinite(log_p), np.abs(sums - 1).max(axis=0), 0.0)

    def _change_unary(self, unary: FloatArray, rows: Rows, n_rows: int) -> FloatArray:
        """Apply the changes in place; changes of known variables go into the logarithm that is returned."""
        constant = np.array(np.broadcast_to(self._reduction.constant, n_rows))
        for name, p_unexplained in self._reduction.unexplained.items():
            factor = np.array(np.broadcast_to(p_unexplained, n_rows))
            if name in rows.released:
                factor[rows.released[name]] = 1.0
            constant *= factor
        for name, row in rows.released.items():
            if name in self._reduction.differences:
                unary[self._node_spans[self._reduction.differences[name]], row] = [1.0, 0.0]
        for row, vectors in enumerate(rows.vectors):
            for name, vector in vectors.items():
                if name in self.known:
                    constant[row] *= vector[self.known[name]]
                else:
                    unary[self.spans[name], row] *= vector
        for index, name in enumerate(rows.watched):
            if name in self.known:
                constant *= rows.present_factors[index] if self.known[name] else rows.sound_factors[index]
                continue
            span = self.spans[name]
            unary[span.start] *= rows.sound_factors[index]
            unary[span.start + 1 : span.stop] *= rows.present_factors[index]
        with np.errstate(divide="ignore"):
            return np.log(constant)

    def _release(self, rows: Rows, n_rows: int) -> list[FloatArray]:
        """Give the constants, with ones for the findings that count as not asked in single rows."""
        constants = list(self._reduction.constants)
        for name, row in rows.released.items():
            if name in self._reduction.unexplained or name in self._reduction.differences:
                continue
            factor = self._reduction.releasable[name]
            constants[factor] = np.repeat(constants[factor], n_rows, axis=1)
            constants[factor][:, row] = 1.0
        return constants

    def _run_pass(
        self, unary: FloatArray, all_constants: list[FloatArray], rows: slice, backwards: bool
    ) -> tuple[FloatArray, FloatArray]:
        """Run the plan over some of the rows."""
        part = unary[:, rows]
        start, stop = rows.start, rows.stop
        nodes = [part[span] for span in self._node_spans]
        constants = [array if array.shape[-1] == 1 else array[..., rows] for array in all_constants]
        log_p, gradients = run_plan(self._plan, nodes, constants, stop - start, backwards, self._tables)
        sums = np.add.reduceat(part, self._starts, axis=0) if len(part) else np.ones((0, stop - start))
        with np.errstate(divide="ignore"):
            log_p = log_p + np.log(sums[self._free]).sum(axis=0)
        if not backwards:
            return log_p, np.empty((0, stop - start))
        sums[~self._free] = 1.0
        p_states = part / np.where(sums > 0, sums, 1.0)[self._node_of_state]
        for node, gradient in gradients.items():
            p_states[self._node_spans[node]] *= gradient
        return log_p, p_states[: self._n_states]
