"""Bounds by kinds of columns against those of the engine, and against what pairs really add."""

import numpy as np
import pytest
from support.fleets import draw_evidence
from support.trade import unit_of

from shiftlore.cases import Case
from shiftlore.compiling.opening import _SetSearch
from shiftlore.fleet.column_sums import CaseSums
from shiftlore.fleet.grounds import Ground
from shiftlore.fleet.pair_bounds import Bounds
from shiftlore.fleet.set_search import Search, list_pairs

SHORT = 1e-5
"""Of the largest: single precision."""


def bounds_of(evidence: dict) -> Bounds:
    ground = Ground(unit_of("long5").prepare(Case("long5")).single)
    return Bounds(CaseSums(ground, ground.split(evidence)))


@pytest.mark.parametrize("doubted", [False, True])
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_gain__is_that_of_the_engine(seed: int, doubted: bool) -> None:
    evidence, prepared = draw_evidence(seed, doubted=doubted), unit_of("long5").prepare(Case("long5"))
    bounds = bounds_of(evidence)
    wanted = _SetSearch(prepared.chances, prepared.single, evidence, bounds.scale).gain
    found = Search(bounds, prepared.chances)._bound_gains()
    first, second, _ = list_pairs(len(prepared.chances.causes))
    assert wanted[first, second] == pytest.approx(found, abs=SHORT * float(wanted.max()))


def test_gain__no_pair_adds_more() -> None:
    evidence, prepared = draw_evidence(4, telling=5), unit_of("long5").prepare(Case("long5"))
    search = Search(bounds_of(evidence), prepared.chances)
    first, second, _ = list_pairs(len(search.kind))
    at = np.random.default_rng(1).integers(0, len(first), 300)
    members = np.array([first[at], second[at]])
    weights = search.pairs.of(*members) * search._weigh(members)
    better = np.maximum(
        search.alone[members[0]] * search.cost[members[1]], search.alone[members[1]] * search.cost[members[0]]
    )
    added = weights - search.pairs.of(*members) * better
    assert np.all(added <= search._bound_gains()[at] * (1 + SHORT) + 1e-9)


def test_bounds__wide_ranges_are_worked_out_in_double_precision(monkeypatch: pytest.MonkeyPatch) -> None:
    evidence = draw_evidence(2)
    short = bounds_of(evidence).gain
    monkeypatch.setattr("shiftlore.fleet.pair_bounds.WIDEST_SHORT", 0.0)
    long = bounds_of(evidence).gain
    assert (np.float32, np.float64) == (short.dtype, long.dtype)
    assert long == pytest.approx(short, abs=SHORT * float(long.max()))


def test_bounds__the_likeliest_cause_is_the_measure() -> None:
    bounds = bounds_of(draw_evidence(1))
    assert 1.0 == bounds.alone.max()
    assert 0.0 <= float(bounds.alone.min())
