"""Likelihoods by kinds of columns against the engine, and against every configuration by force."""

from itertools import product

import numpy as np
import pytest
from hypothesis import given, settings
from support.fleets import draw_evidence as evidence_of
from support.hubs import hubs, weigh_by_force
from support.trade import unit_of

from shiftlore.basics import ImpossibleEvidence
from shiftlore.cases import Case
from shiftlore.exact import ColumnSums, Evidence, HubEngine, HubTables, take_sets
from shiftlore.exact.chains import plan_clusters
from shiftlore.exact.column_sums import GateGroup, join_groups, list_subsets
from shiftlore.exact.tables import join_states

CLOSE, EXACT = 1e-9, 1e-12
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
    # Logarithms of sums in which differences lose up to six digits (`SHARP`).
    assert engine.weigh(evidence) == pytest.approx(sums.bounds[0][sums.kind], abs=10 * CLOSE)


@pytest.mark.parametrize("doubted", [False, True])
@pytest.mark.parametrize("size", [1, 2, 3])
def test_weigh_sets__equal_the_engine(size: int, doubted: bool) -> None:
    engine, evidence = engine_of(), evidence_of(4, doubted=doubted)
    members = np.random.default_rng(size).integers(1, engine.tables.n_root, (size, 60))
    wanted = HubEngine(take_sets(engine.tables, members, evidence), 1 << 20, 0).weigh(evidence)
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


def make_group(n_gates: int, n_rows: int, n_kinds: int = 4, seed: int = 1) -> GateGroup:
    """Draw a group; column 0 is the one without any cause."""
    rng = np.random.default_rng(seed)
    adds = np.concatenate(
        [np.ones((n_gates + n_rows, 1)), rng.uniform(0.3, 1, (n_gates + n_rows, n_kinds - 1))], axis=1
    )
    return GateGroup(
        gates=tuple(range(n_gates)),
        rows=np.arange(n_rows),
        weights=rng.uniform(0.2, 1, n_rows),
        misses=rng.uniform(0, 1, (n_gates, n_rows)),
        absent=rng.uniform(0.2, 0.9, (n_rows, 1)) * adds[:n_rows],
        root_misses=rng.uniform(0.3, 0.99, (n_gates, 1)) * adds[n_rows:],
        first=np.arange(n_kinds),
        kind=np.arange(n_kinds),
        none=0,
    )


def enumerate_group(
    group: GateGroup, absent: np.ndarray, root_misses: np.ndarray
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Sum over every configuration of the hidden states: in all, without the gates, and with each state absent."""
    total, free, without = np.zeros(absent.shape[1]), np.zeros(absent.shape[1]), np.zeros_like(absent)
    for way in product((0, 1), repeat=len(absent)):
        p = np.ones(absent.shape[1])
        missed = root_misses.copy()
        for h, on in enumerate(way):
            p *= (1 - absent[h]) * group.weights[h] if on else absent[h]
            missed *= group.misses[:, h, None] if on else 1.0
        shown = p * (1 - missed).prod(axis=0)
        total, free = total + shown, free + p
        for h, on in enumerate(way):
            without[h] += 0.0 if on else shown
    return total, free, without


SHAPES = [(1, 1), (1, 5), (2, 1), (2, 6), (3, 3), (4, 2), (5, 1), (4, 7)]


@pytest.mark.parametrize(("n_gates", "n_rows"), SHAPES)
def test_total__equals_enumeration(n_gates: int, n_rows: int) -> None:
    group = make_group(n_gates, n_rows)
    total, free, _ = enumerate_group(group, group.absent, group.root_misses)
    assert total == pytest.approx(group.total, rel=1e-9, abs=EXACT)
    assert free == pytest.approx(group.free, rel=EXACT)


@pytest.mark.parametrize(("n_gates", "n_rows"), SHAPES)
def test_p_absent__equals_enumeration(n_gates: int, n_rows: int) -> None:
    group = make_group(n_gates, n_rows, seed=2)
    total, _, without = enumerate_group(group, group.absent, group.root_misses)
    assert without / total == pytest.approx(group.p_absent(), abs=1e-9)


@pytest.mark.parametrize(("n_gates", "n_rows"), SHAPES)
def test_sum_sets__equals_enumeration_of_joined_columns(n_gates: int, n_rows: int) -> None:
    group = make_group(n_gates, n_rows, seed=3)
    kinds = np.array([[1, 2, 1, 0], [2, 1, 3, 1]])
    absent, misses = join_states(group.absent, kinds), join_states(group.root_misses, kinds)
    assert enumerate_group(group, absent, misses)[0] == pytest.approx(group.sum_sets(kinds), abs=EXACT)


def test_work__is_that_of_the_shorter_way() -> None:
    assert 10 == make_group(5, 1).work and 8 == make_group(1, 4).work


def test_left__is_whole_where_nothing_is_subtracted() -> None:
    assert [1.0] * 4 == make_group(5, 1).left.tolist()
    few = make_group(1, 6)
    assert few.total / few.free == pytest.approx(few.left)


def test_list_subsets__signs_alternate() -> None:
    inside, sign = list_subsets(2)
    assert [[1, 3], [2, 3]] == [own.tolist() for own in inside]
    assert [1.0, -1.0, -1.0, 1.0] == sign.tolist()


def test_join_groups__hidden_states_that_are_shared_through_others() -> None:
    assert [([1], [4]), ([0, 2, 3], [1, 2, 3, 7])] == join_groups([(1, 2), (4,), (7, 3), (2, 3), ()])


@pytest.mark.parametrize(("n_gates", "n_rows"), [(1, 1), (2, 3), (4, 4)])
def test_group__along_chains_it_is_the_same(n_gates: int, n_rows: int) -> None:
    short = make_group(n_gates, n_rows)
    (cluster,) = plan_clusters(tuple(tuple(range(n_rows)) for _ in range(n_gates)))
    long = short.vary(cluster=cluster)
    kinds = np.array([[0, 1, 2, 3], [1, 2, 3, 3]])
    assert long.total == pytest.approx(short.total, rel=1e-9)
    assert long.p_absent() == pytest.approx(short.p_absent(), abs=1e-9)
    assert long.sum_sets(kinds) == pytest.approx(short.sum_sets(kinds), rel=1e-9)
    assert [1.0] * 4 == long.left.tolist()
