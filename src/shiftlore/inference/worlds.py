"""A world: one set of answers, reduced and planned, ready to be run over rows."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np

from shiftlore.inference.plans import Plan, Structure, run_plan
from shiftlore.inference.reduction import Reduction
from shiftlore.inference.rows import Rows
from shiftlore.network import FloatArray

CELLS_PER_PASS = 1 << 23
"""Most entries (states times rows) of all arrays of one pass, so that they stay in the processor's cache; measured."""


@dataclass(frozen=True, eq=False)
class WorldRun:
    """What a world says, row by row.

    Args:
        log_p: natural logarithm of the sum over all states, shape (rows,).
        p_states: shape (all states of all variables, rows), posteriors within this world; empty if not asked for.
    """

    log_p: FloatArray
    p_states: FloatArray


class World:
    """Answers, reduced to a structure with numbers and a plan.

    Args:
        reduction: structure and numbers.
        find_plan: gives the plan of a structure, from memory if it is known.
    """

    def __init__(self, reduction: Reduction, find_plan: Callable[[Structure], Plan]):
        self.reduction = reduction
        self.plan = find_plan(reduction.structure)
        sizes = [len(unary) for unary in reduction.unary]
        starts = np.concatenate([[0], np.cumsum(sizes)]).astype(int)
        self.spans: Mapping[str, slice] = {
            name: slice(int(starts[node]), int(starts[node + 1])) for name, node in reduction.node.items()
        }
        self._starts = starts[:-1]
        self._node_of_state = np.repeat(np.arange(len(sizes)), sizes)
        self._flat = np.concatenate(reduction.unary) if sizes else np.ones((0, reduction.numbers.n_rows))
        self._free = np.array([node not in self.plan.touched for node in range(len(sizes))], dtype=bool)

    def run(self, rows: Rows, backwards: bool = True) -> WorldRun:
        """Work out the probability of the answers, and the posteriors, of every row.

        Args:
            rows: changes of unary factors; with draws, a single row stands for all draws.
            backwards: whether posteriors are wanted.
        """
        n_rows = max(rows.n_rows, self._flat.shape[1])
        unary = np.repeat(self._flat, n_rows, axis=1) if self._flat.shape[1] < n_rows else self._flat.copy()
        log_constant = self._change_unary(unary, rows, n_rows)
        width = max(1, CELLS_PER_PASS // max(1, self.plan.n_cells))
        passes = [
            self._run_pass(unary, start, min(start + width, n_rows), backwards) for start in range(0, n_rows, width)
        ]
        log_p = log_constant + np.concatenate([done.log_p for done in passes])
        return WorldRun(log_p, np.concatenate([done.p_states for done in passes], axis=1))

    def _change_unary(self, unary: FloatArray, rows: Rows, n_rows: int) -> FloatArray:
        """Apply the changes in place; changes of known variables go into the logarithm that is returned."""
        constant = np.array(np.broadcast_to(self.reduction.constant, n_rows))
        known = self.reduction.known
        for row, vectors in enumerate(rows.vectors):
            for name, vector in vectors.items():
                if name in known:
                    constant[row] *= vector[known[name]]
                else:
                    unary[self.spans[name], row] *= vector
        for index, name in enumerate(rows.watched):
            if name in known:
                constant *= rows.present_factors[index] if known[name] else rows.sound_factors[index]
                continue
            span = self.spans[name]
            unary[span.start] *= rows.sound_factors[index]
            unary[span.start + 1 : span.stop] *= rows.present_factors[index]
        with np.errstate(divide="ignore"):
            return np.log(constant)

    def _run_pass(self, unary: FloatArray, start: int, stop: int, backwards: bool) -> WorldRun:
        """Run the plan over some of the rows."""
        part = unary[:, start:stop]
        nodes = [part[span] for span in self.spans.values()]
        constants = [array if array.shape[-1] == 1 else array[..., start:stop] for array in self.reduction.constants]
        log_p, gradients = run_plan(self.plan, nodes, constants, stop - start, backwards)
        sums = np.add.reduceat(part, self._starts, axis=0) if len(part) else np.ones((0, stop - start))
        with np.errstate(divide="ignore"):
            log_p = log_p + np.log(sums[self._free]).sum(axis=0)
        if not backwards:
            return WorldRun(log_p, np.empty((0, stop - start)))
        p_states = part / np.where(sums > 0, sums, 1.0)[self._node_of_state]
        spans = list(self.spans.values())
        for node, gradient in gradients.items():
            p_states[spans[node]] = part[spans[node]] * gradient
        return WorldRun(log_p, p_states)
