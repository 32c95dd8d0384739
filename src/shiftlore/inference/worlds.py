"""A world: one set of answers, ready to be run over rows, quickly where that is safe and carefully where it is not.

The careful way holds every gate by its strongest contribution so far and never subtracts; it keeps all digits at any
probability. The quick way holds the gates of hidden variables cumulated, where joining is a plain product, and
subtracts once per gate; where hidden variables share many causes it is about ten times as fast. How many digits the
subtractions cost shows in the result itself: the posteriors of every variable add up to 1 only as far as digits are
left (measured on large random networks, the deviation is the true error to within a factor of 2). Where it exceeds
LOST_DIGITS, the careful way is taken instead.
"""

from collections.abc import Callable, Collection
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from shiftlore.inference.numbers import Numbers
from shiftlore.inference.plans import Plan, Structure
from shiftlore.inference.reduction import Answers, Reduction
from shiftlore.inference.rows import UNCHANGED, Rows
from shiftlore.inference.sweeps import Sweep, SweepRun
from shiftlore.network import FloatArray, Network

LOST_DIGITS = 1e-11
"""Largest deviation from 1 that is accepted from the quick way; a tenth of the agreement asked of the engine."""


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

    def __init__(self, parts: WorldParts, clamped: Collection[str] = ()):
        self._parts = parts
        self._clamped = clamped
        self._quick = self._sweep(cumulated=True)
        self.spans = self._quick.spans
        self.known = self._quick.known
        self.releasable = self._quick.releasable

    def _sweep(self, cumulated: bool) -> Sweep:
        """Reduce the answers, one way or the other."""
        parts = self._parts
        reduction = Reduction(parts.network, parts.numbers, parts.answers, parts.needed, self._clamped, cumulated)
        return Sweep(reduction, parts.find_plan(reduction.structure))

    @cached_property
    def _careful(self) -> Sweep:
        """Reduce the answers the careful way, when it is first needed."""
        return self._sweep(cumulated=False)

    @cached_property
    def base(self) -> SweepRun:
        """Run the unchanged row."""
        run = self._quick.run(UNCHANGED)
        possible = bool(np.all(np.isfinite(run.log_p)))
        return run if possible and _is_sound(run.deviation) else self._careful.run(UNCHANGED)

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
        run = self._quick.run(rows, backwards)
        if not backwards:
            return run
        if rows.released:
            return run if _is_sound(run.deviation) else self._careful.run(rows, backwards)
        # what matters is the error beside the unchanged row, of which every row is a part
        share = np.exp(np.minimum(run.log_p - np.max(self.base.log_p), 0.0))
        return run if _is_sound(run.deviation * share) else self._careful.run(rows, backwards)


def _is_sound(deviation: FloatArray) -> bool:
    """Tell whether enough digits are left."""
    return bool(np.all(deviation <= LOST_DIGITS))
