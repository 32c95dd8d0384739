"""The sets that are opened are those that a single case opens."""

import numpy as np
import pytest
from support.fleets import draw_evidence as evidence_of
from support.trade import unit_of

from shiftlore.cases import Case
from shiftlore.compiling.faults import close_sets
from shiftlore.compiling.opening import open_faults
from shiftlore.fleet.column_sums import CaseSums
from shiftlore.fleet.grounds import Ground
from shiftlore.fleet.pair_bounds import Bounds
from shiftlore.fleet.set_search import PairChances, Search, list_pairs

CLOSE = 1e-12


def search_of(evidence: dict, unit: str = "long5") -> Search:
    prepared = unit_of(unit).prepare(Case(unit))
    ground = Ground(prepared.single)
    return Search(Bounds(CaseSums(ground, ground.split(evidence))), prepared.chances)


@pytest.mark.parametrize("seed", [1, 2, 3, 4])
def test_search__opens_what_a_single_case_opens(seed: int) -> None:
    evidence = evidence_of(seed, telling=5)
    prepared = unit_of("long5").prepare(Case("long5"))
    opened, search = open_faults(prepared.chances, prepared.single, evidence), search_of(evidence)
    pairs, left = search.open_pairs()
    thirds, left_thirds = search.open_thirds()
    assert opened.faults.sets == tuple(close_sets([*pairs, *thirds]))
    rest = left + left_thirds
    assert opened.left_out == pytest.approx(rest / (search.known + rest), abs=1e-6)


@pytest.mark.parametrize("seed", [1, 2])
def test_absorb__gives_every_cause_what_a_single_case_gives_it(seed: int) -> None:
    evidence = evidence_of(seed)
    prepared = unit_of("long5").prepare(Case("long5"))
    opened, search = open_faults(prepared.chances, prepared.single, evidence), search_of(evidence)
    search.open_pairs()
    chances = prepared.chances
    singles = chances.p_one * chances.weights + search.absorb(list(opened.faults.sets))
    wanted = opened.faults.prior[1 : len(singles) + 1] / opened.faults.prior[0] * chances.p_none
    assert wanted == pytest.approx(singles, abs=CLOSE)


def test_pair_chances__are_those_that_are_laid_out() -> None:
    chances = unit_of("long5").prepare(Case("long5", 150_000.0)).chances
    first, second, place = list_pairs(len(chances.causes))
    assert chances.of_pairs[first, second] == pytest.approx(PairChances(chances).of(first, second), rel=1e-9)
    assert place[first, second].tolist() == list(range(len(first)))


def test_open_thirds__nothing_is_looked_for_where_one_fault_explains_all() -> None:
    search = search_of({"slips": 1})
    search.open_pairs()
    assert ([], 0.0) == search.open_thirds()


def test_open_pairs__two_unlike_complaints_open_pairs_of_both() -> None:
    search = search_of(evidence_of(6, telling=8))
    pairs, left = search.open_pairs()
    assert pairs and 0 <= left
    assert all(first < second for first, second in pairs)


def test_held__is_what_all_pairs_hold_together() -> None:
    search = search_of(evidence_of(3))
    first, second, _ = list_pairs(len(search.kind))
    better = np.maximum(
        search.alone[first] * search.cost[second],
        search.alone[second] * search.cost[first],
    )
    whole = float(search.pairs.of(first, second) @ better)
    assert whole == pytest.approx(float(search._held[0].sum()), rel=1e-9)
