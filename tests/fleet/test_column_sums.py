"""Likelihoods by kinds of columns against the engine."""

import numpy as np
import pytest
from support.fleets import draw_evidence as evidence_of
from support.trade import unit_of

from shiftlore.cases import Case
from shiftlore.fleet.column_sums import CaseSums, TooHard, find_kinds
from shiftlore.fleet.grounds import Ground

CLOSE = 1e-9


def ground_of(unit: str = "long5") -> Ground:
    return Ground(unit_of(unit).prepare(Case(unit)).single)


@pytest.mark.parametrize("doubted", [False, True])
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_single__equals_the_engine(seed: int, doubted: bool) -> None:
    ground, evidence = ground_of(), evidence_of(seed, doubted=doubted)
    sums = CaseSums(ground, ground.split(evidence))
    assert ground.engine.weigh(evidence) == pytest.approx(sums.single[0][sums.kind], abs=CLOSE)


@pytest.mark.parametrize("doubted", [False, True])
@pytest.mark.parametrize("size", [1, 2, 3])
def test_weigh__equals_the_engine_for_sets(size: int, doubted: bool) -> None:
    ground, evidence = ground_of(), evidence_of(4, doubted=doubted)
    members = np.random.default_rng(size).integers(1, ground.tables.n_root, (size, 60))
    sums = CaseSums(ground, ground.split(evidence))
    wanted = ground.engine.weigh_sets(evidence, members, 1 << 20)
    top = wanted.max()
    assert np.exp(wanted - top) == pytest.approx(np.exp(sums.weigh(members) - top), abs=CLOSE)


def test_case_sums__columns_that_nothing_tells_apart_are_one() -> None:
    ground, evidence = ground_of(), evidence_of(5, telling=1, sound=0)
    sums = CaseSums(ground, ground.split(evidence))
    assert len(sums.first) < ground.tables.n_root / 2
    assert ground.tables.n_root == len(sums.kind)


def test_case_sums__what_hangs_together_too_much_is_left_to_the_engine(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("shiftlore.fleet.column_sums.MOST_WORK", 0)
    ground, evidence = ground_of(), evidence_of(2, telling=8)
    with pytest.raises(TooHard):
        CaseSums(ground, ground.split(evidence))


def test_find_kinds__equal_columns_are_of_one_kind() -> None:
    rows = np.array([[0.1, 0.2, 0.1, 0.3], [0.5, 0.5, 0.5, 0.5]])
    first, kind = find_kinds(rows)
    assert 3 == len(first) and kind[0] == kind[2]
    assert rows.tolist() == rows[:, first[kind]].tolist()


def test_find_kinds__changed_places_are_other_columns() -> None:
    assert 2 == len(find_kinds(np.array([[0.1, 0.2], [0.2, 0.1]]))[0])


def test_split__is_remembered() -> None:
    ground, evidence = ground_of(), evidence_of(1)
    assert all(one is other for one, other in zip(ground.split(evidence), ground.split(evidence), strict=True))
