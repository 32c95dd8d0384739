"""A world: one set of answers, ready to be run over rows, quickly where that is safe and carefully where it is not.

The careful way holds every gate by its strongest contribution so far and never subtracts; it keeps all digits at any
probability. The quick way holds the gates of hidden variables cumulated, where joining is a plain product, and
subtracts once per gate; where hidden variables share many causes it is about ten times as fast. The quicker and the
quickest way do so for half or all of the telling findings too, and are tried for large batches only.

How many digits the subtractions cost shows in the result itself: the posteriors of every variable add up to 1 only as
far as digits are left (measured on large random networks, the deviation is the true error to within a factor of 2).
Where it exceeds LOST_DIGITS, the next more careful way is taken.
"""

from collections.abc import Callable, Collection, Iterator
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from shiftlore.inference.numbers import Numbers
from shiftlore.inference.plans import Plan, Structure
from shiftlore.inference.reduction import Answers, Reduction, Way
from shiftlore.inference.rows import UNCHANGED, Rows
from shiftlore.inference.sweeps import Sweep, SweepRun
from shiftlore.network import FloatArray, Network

LOST_DIGITS = 5e-11
"""Largest deviation from 1 that is accepted; half the agreement asked of the engine."""

SLOW_RATIO = 3.0
"""Products per entry above which joining by maxima dominates, so that a quicker way is worth trying; measured."""

LARGE_BATCH = 2e7
"""Products of a batch that take longer than planning a quicker way (some 50 ms); measured."""


@dataclass(frozen=True, eq=False)
class WorldParts:
    """From what a world is made.

    Args:
        network: the network.
        numbers: means or draws.
        answers: what was seen.
        needed: variables that must keep a place in the structure.
        find_plan: gives the plan of a structure.
    """

    network: Network
    numbers: Numbers
    answers: Answers
    needed: Collection[str]
    find_plan: Callable[[Structure], Plan]


class World:
    """One set of answers on one network, perhaps with some roots held sound.

    Args:
        parts: from what it is made.
        clamped: roots held at state 0.
    """

    def __init__(self, parts: WorldParts, clamped: Collection[str] = ()) -> None:
        self._parts = parts
        self._clamped = clamped
        self._quick = self._sweep(Way.QUICK)
        self.spans = self._quick.spans
        self.known = self._quick.known
        self.releasable = self._quick.releasable

    def _sweep(self, way: Way) -> Sweep:
        """Reduce the answers, one way or the other."""
        parts = self._parts
        reduction = Reduction(parts.network, parts.numbers, parts.answers, parts.needed, self._clamped, way)
        return Sweep(reduction, parts.find_plan(reduction.structure))

    @cached_property
    def _careful(self) -> Sweep:
        """Reduce the answers the careful way, when it is first needed."""
        return self._sweep(Way.CAREFUL)

    @cached_property
    def base(self) -> SweepRun:
        """Run the unchanged row; with draws it stands for all of them."""
        for sweep in self._list_ways(self._parts.numbers.n_rows):
            run = sweep.base
            if np.all(np.isfinite(run.log_p)) and _is_sound(run.deviation):
                return run
        return self._careful.base

    def _list_ways(self, n_rows: int) -> Iterator[Sweep]:
        """List the ways to try before the careful one, quickest first."""
        is_slow = self._quick.n_products > SLOW_RATIO * self._quick.n_cells
        if is_slow and self._quick.n_products * n_rows > LARGE_BATCH:
            yield self._quickest
            yield self._quicker
        yield self._quick

    @cached_property
    def _quickest(self) -> Sweep:
        """Reduce the answers the quickest way, when it is first needed."""
        return self._sweep(Way.QUICKEST)

    @cached_property
    def _quicker(self) -> Sweep:
        """Reduce the answers the quicker way, when it is first needed."""
        return self._sweep(Way.QUICKER)

    def run(self, rows: Rows, backwards: bool = True) -> SweepRun:
        """Work out the probability of the answers, and the posteriors, of every row.

        Args:
            rows: changes of unary factors; with draws, a single row stands for all draws.
            backwards: whether posteriors are wanted.
        """
        if rows is UNCHANGED:
            return self.base
        if self.base.careful:
            return self._careful.run(rows, backwards)
        for sweep in self._list_ways(rows.n_rows):
            # a way that spoils the unchanged row is not worth a batch
            if sweep is not self._quick and not _is_sound(sweep.base.deviation):
                continue
            run = sweep.run(rows, backwards)
            if not backwards or _is_sound(self._lost(run, rows)):
                return run
        return self._careful.run(rows, backwards)

    def _lost(self, run: SweepRun, rows: Rows) -> FloatArray:
        """Measure the error of each row beside the unchanged row, of which it is a part if nothing is released."""
        if rows.released:
            return run.deviation
        return run.deviation * np.exp(np.minimum(run.log_p - np.max(self.base.log_p), 0.0))


def _is_sound(deviation: FloatArray) -> bool:
    """Tell whether enough digits are left."""
    return bool(np.all(deviation <= LOST_DIGITS))
