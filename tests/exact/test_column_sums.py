"""Likelihoods by kinds of columns against the engine, and against every configuration by force."""

import numpy as np
import pytest
from hypothesis import given, settings
from support.fleets import draw_evidence as evidence_of
from support.hubs import hubs, weigh_by_force
from support.trade import unit_of

from shiftlore.basics import ImpossibleEvidence
from shiftlore.cases import Case
from shiftlore.exact import ColumnSums, Evidence, HubEngine, HubTables, take_sets

CLOSE = 1e-9
law = settings(max_examples=60, deadline=None, derandomize=True)
Drawn = tuple[HubTables, Evidence]


def engine_of(unit: str = "long5") -> HubEngine:
    return unit_of(unit).prepare(Case(unit)).single


@given(hubs(single=True, doubt=0.4))
@law
def test_bounds__equal_the_sum_over_every_configuration(drawn: Drawn) -> None:
    tables, evidence = drawn
    sums = ColumnSums(HubEngine(tables), evidence)
    assert sums.bounds[0] is sums.bounds[1]
    assert weigh_by_force(tables, evidence) == pytest.approx(np.exp(sums.bounds[0])[sums.kind], abs=CLOSE)


@given(hubs(single=True, doubt=0.4))
@law
def test_weigh_sets__equal_the_sum_over_every_configuration(drawn: Drawn) -> None:
    tables, evidence = drawn
    members = np.array([[1, 1, 0], [tables.n_root - 1, 0, 0]])
    found = ColumnSums(HubEngine(tables), evidence).weigh_sets(members)
    assert weigh_by_force(take_sets(tables, members, tables.gates), evidence) == pytest.approx(np.exp(found), abs=CLOSE)


@given(hubs(single=True, most_hidden=7, most_gates=9))
@law
def test_bounds__what_is_too_much_lies_between_them(drawn: Drawn) -> None:
    tables, evidence = drawn
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("shiftlore.exact.column_sums.FEW_TERMS", 0)
        sums = ColumnSums(HubEngine(tables, 0, 0), evidence)
    exact = np.log(weigh_by_force(tables, evidence))
    low, high = (bound[sums.kind] for bound in sums.bounds)
    assert sums.is_hard or not any(gate.hidden for gate in sums.gates)
    assert ((low <= exact + CLOSE) & (exact <= high + CLOSE)).all()


@pytest.mark.parametrize("doubted", [False, True])
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_bounds__equal_the_engine(seed: int, doubted: bool) -> None:
    engine, evidence = engine_of(), evidence_of(seed, doubted=doubted)
    sums = ColumnSums(engine, evidence)
    assert engine.weigh(evidence) == pytest.approx(sums.bounds[0][sums.kind], abs=CLOSE)


@pytest.mark.parametrize("doubted", [False, True])
@pytest.mark.parametrize("size", [1, 2, 3])
def test_weigh_sets__equal_the_engine(size: int, doubted: bool) -> None:
    engine, evidence = engine_of(), evidence_of(4, doubted=doubted)
    members = np.random.default_rng(size).integers(1, engine.tables.n_root, (size, 60))
    wanted = engine.weigh_sets(evidence, members, 1 << 20)
    top = wanted.max()
    assert np.exp(wanted - top) == pytest.approx(
        np.exp(ColumnSums(engine, evidence).weigh_sets(members) - top), abs=CLOSE
    )


@pytest.mark.parametrize("way", ["FEW_TERMS", "SHARP"])
def test_weigh_sets__along_chains_they_are_the_same(way: str, monkeypatch: pytest.MonkeyPatch) -> None:
    engine, evidence = engine_of(), evidence_of(4, telling=6)
    members = np.random.default_rng(1).integers(1, engine.tables.n_root, (2, 60))
    short = ColumnSums(engine, evidence)
    single, sets = short.bounds[0], short.weigh_sets(members)
    monkeypatch.setattr(f"shiftlore.exact.column_sums.{way}", 0 if way == "FEW_TERMS" else 2.0)
    long = ColumnSums(engine, evidence)
    top = single.max()
    assert np.exp(single - top) == pytest.approx(np.exp(long.bounds[0] - top), abs=CLOSE)
    assert np.exp(sets - top) == pytest.approx(np.exp(long.weigh_sets(members) - top), abs=CLOSE)
    assert any(group.cluster for group in long.groups)


def test_column_sums__columns_that_nothing_tells_apart_are_one() -> None:
    engine = engine_of()
    sums = ColumnSums(engine, evidence_of(5, telling=1, sound=0))
    assert len(sums.first) < engine.tables.n_root / 2
    assert engine.tables.n_root == len(sums.kind)


def test_bounds__improbable_answers_keep_their_digits() -> None:
    """Twelve telling answers that hardly ever come together: differences would leave nothing of them."""
    engine, evidence = engine_of(), evidence_of(9, telling=12, sound=10)
    sums = ColumnSums(engine, evidence)
    assert engine.weigh(evidence) == pytest.approx(sums.bounds[0][sums.kind], abs=1e-7)


def test_bounds__answers_that_cannot_be_name_the_clash() -> None:
    tables = engine_of().tables
    below = tables.gates["slips"].cum_root
    engine = HubEngine(take_sets(tables, np.arange(3)[None], ["slips"]))
    engine.tables.gates["slips"].cum_root[0] = 1.0
    engine.tables.p_hidden[:] = 0.0
    with pytest.raises(ImpossibleEvidence, match="slips"):
        assert ColumnSums(engine, {"slips": len(below) - 1}).bounds


def test_lay_out__is_remembered() -> None:
    engine, evidence = engine_of(), evidence_of(1)
    assert all(one is other for one, other in zip(engine.lay_out(evidence), engine.lay_out(evidence), strict=True))
