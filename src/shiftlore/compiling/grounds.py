"""What cases of one unit share, whatever their distance: tables by what raises their leaks, and answers worked out on them.

A distance moves only the shares of the causes, so no tables are made anew for it; a background moves the leaks of a few
signs, so there are few tables.
"""

from collections.abc import Mapping, Sequence
from functools import cached_property
from typing import TypeVar

import numpy as np

from shiftlore.compiling.expansion import Expansion
from shiftlore.compiling.faults import NONE
from shiftlore.compiling.gates import GateArrays, build_tables
from shiftlore.compiling.priors import Lived, background_factor, wear_factor
from shiftlore.exact import ColumnSums, Evidence, FloatArray, HubEngine, PairBounds
from shiftlore.knowledge import Knowledge

GROUNDS_KEPT = 64
"""Tables of a unit that are kept: some megabytes each."""
BOUNDS_KEPT = 128
"""Sets of answers whose bounds are kept: whoever answers goes back, and many vehicles say the same."""
FACTORS_KEPT = 4096
Key = TypeVar("Key")
Value = TypeVar("Value")


class Ground:
    """Tables of one unit under some leaks, with what answers make of single causes.

    Args:
        engine: of the root states none and every single cause.
    """

    def __init__(self, engine: HubEngine):
        self.engine = engine
        self._reached: dict[str, FloatArray] = {}
        self._bounds: dict[tuple[object, ...], PairBounds] = {}

    def reach(self, finding: str) -> FloatArray:
        """Give P(finding reaches a grade | root state), shape (n_grades, n_root)."""
        if finding not in self._reached:
            table = self.engine.predict({}, (finding,))[finding]
            self._reached[finding] = np.cumsum(table[::-1], axis=0)[::-1]
        return self._reached[finding]

    def bound(self, evidence: Evidence) -> PairBounds:
        """Give what single causes and pairs make of the answers, from memory where it is known.

        Raises: ImpossibleEvidence: no single cause allows all of the answers; names a smallest clash.
        """
        key = tuple(evidence.items())
        bounds = self._bounds.pop(key, None) or PairBounds(ColumnSums(self.engine, evidence))
        _keep(self._bounds, key, bounds, BOUNDS_KEPT)
        return bounds

    def forget(self) -> None:
        """Forget what was worked out for answers."""
        self._bounds.clear()


class Grounds:
    """The tables of one unit, by what raises their leaks; and how distance and life weigh its causes."""

    def __init__(self, knowledge: Knowledge, expansion: Expansion, arrays: GateArrays):
        self.arrays, self.backgrounds, self.words = arrays, knowledge.backgrounds, knowledge.words
        self.records = tuple(expansion.causes.values())
        self.names = (NONE, *expansion.causes)
        self._grounds: dict[tuple[float, ...], Ground] = {}
        self._factors: dict[tuple[object, ...], tuple[FloatArray, FloatArray]] = {}

    @cached_property
    def _shares(self) -> FloatArray:
        return np.array([cause.share for cause in self.records])

    @cached_property
    def _slopes(self) -> FloatArray:
        return np.array([cause.cause.wear for cause in self.records])

    def of_life(self, lived: Lived) -> Ground:
        """Give the tables under a vehicle's life."""
        leaks = np.ones(len(self.arrays.raised))
        for name, answers in lived.items():
            leaks = leaks * self._raise(name, answers)[1]
        key = tuple(leaks.tolist())
        ground = self._grounds.pop(key, None)
        if ground is None:
            even = np.full(len(self.names), 1 / len(self.names))
            ground = Ground(HubEngine(build_tables(self.arrays, lived, self.backgrounds, even, self.names)))
        _keep(self._grounds, key, ground, GROUNDS_KEPT)
        return ground

    def weigh(self, distances: Sequence[float], lived: Lived) -> FloatArray:
        """Weigh every cause by its base rate, the distance and the vehicle's life, on any scale, shape (n_causes,).

        Args:
            distances: equally likely distances at which it failed, in km; none where nothing is known.
            lived: what is known of the vehicle's life.
        Source: see `priors.wear_factor` and `priors.background_factor`.
        """
        weights = self._shares
        if distances:
            wear = [wear_factor(km, self._slopes, self.words.reference_km) for km in distances]
            weights = weights * (np.sum(wear, axis=0) / len(distances))
        for name, answers in lived.items():
            weights = weights * self._raise(name, answers)[0]
        return weights

    def _raise(self, name: str, answers: Mapping[str, float]) -> tuple[FloatArray, FloatArray]:
        """Give what one background makes of each cause, shape (n_causes,), and of each leak that can be raised."""
        key = (name, *answers.items())
        if key not in self._factors:
            told, backgrounds = {name: answers}, self.backgrounds
            causes = [background_factor(one.cause.raised_by, told, backgrounds) for one in self.records]
            leaks = [background_factor(raises, told, backgrounds) for raises in self.arrays.raised.values()]
            _keep(self._factors, key, (np.array(causes), np.array(leaks)), FACTORS_KEPT)
        return self._factors[key]


def _keep(kept: dict[Key, Value], key: Key, value: Value, most: int) -> None:
    """Keep one thing more as the latest; the oldest goes."""
    kept[key] = value
    while len(kept) > most:
        del kept[next(iter(kept))]
