"""Tables of all ways of a small cluster against going through every configuration, and against chains."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from support.hubs import sum_by_force

from shiftlore.exact import ways
from shiftlore.exact.answers import Gate
from shiftlore.exact.chains import Cluster, plan_clusters
from shiftlore.exact.sums import ClusterSum
from shiftlore.exact.ways import WayTable, expand_ways, is_small

law = settings(max_examples=60, deadline=None, derandomize=True)
seeds = st.integers(0, 2**32 - 1)


def draw_cluster(seed: int) -> tuple[list[Gate], np.ndarray, np.ndarray]:
    """Draw gates over the same hidden variables, some with numbers that differ by root state; and weights likewise."""
    rng = np.random.default_rng(seed)
    n_hidden, n_gates, n_root = (int(rng.integers(1, most)) for most in (6, 5, 7))
    gates = []
    for g in range(n_gates):
        hidden = tuple(h for h in range(n_hidden) if not g or rng.random() < 0.6) or (0,)
        misses = rng.random(len(hidden) if rng.random() < 0.7 else (len(hidden), n_root))
        gates.append(Gate(f"f{g}", hidden, misses, rng.random(n_root)))
    weights = rng.uniform(0, 1.5, n_hidden if rng.random() < 0.5 else (n_hidden, n_root))
    return gates, rng.random((n_hidden, n_root)), weights


def draw_table(seed: int) -> tuple[list[Gate], np.ndarray, np.ndarray, Cluster, WayTable]:
    """Draw gates and weights, and lay them out."""
    gates, p_hidden, weights = draw_cluster(seed)
    (cluster,) = plan_clusters(tuple(gate.hidden for gate in gates))
    return gates, p_hidden, weights, cluster, WayTable(cluster, gates, p_hidden, weights, p_hidden.shape[1])


def arrange(factors: np.ndarray, table: WayTable, n_axes: int) -> np.ndarray:
    """Put the factors of one change in the order of the hidden variables, to be held against weights of so many axes."""
    return factors[[table.place[h] for h in range(len(table.place))]].reshape(-1, *(1,) * (n_axes - 1))


@given(st.integers(0, 6), seeds)
@law
def test_expand_ways__multiplies_each_way(n: int, seed: int) -> None:
    rng = np.random.default_rng(seed)
    absent, present = rng.random((2, n, 3))
    for number, row in enumerate(expand_ways(absent, present)):
        chosen = [present[i] if number >> i & 1 else absent[i] for i in range(n)]
        assert row == pytest.approx(np.prod([np.ones(3), *chosen], axis=0), rel=1e-12)


@given(seeds)
@law
def test_way_table__equals_chains_where_numbers_differ_by_root_state(seed: int) -> None:
    gates, p_hidden, weights, cluster, table = draw_table(seed)
    chained = ClusterSum(cluster, gates, p_hidden, weights, p_hidden.shape[1])
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(ways, "MOST_WORK", 0)
        assert chained.table is None
    assert table.total[table.kind] == pytest.approx(chained.total, rel=1e-10)


@given(seeds)
@law
def test_ask__equals_going_through_every_way(seed: int) -> None:
    gates, p_hidden, weights, cluster, table = draw_table(seed)
    factors = np.random.default_rng(seed).choice([0.0, 0.4, 1.0, 2.0], (3, len(table.place)))
    released = cluster.gates[:1]
    base = sum_by_force(p_hidden, gates, weights, cluster.hidden)
    for skipped in ((), released):
        changed = [weights * arrange(by, table, weights.ndim) for by in factors]
        expected = np.array([sum_by_force(p_hidden, gates, one, cluster.hidden, skipped) for one in changed]) / base
        assert table.ask(factors, skipped) == pytest.approx(expected, rel=1e-9)


def test_lay_factors__those_of_one_variable_are_multiplied() -> None:
    _, _, _, cluster, table = draw_table(3)
    h = cluster.hidden[0]
    found = table.lay_factors(3, np.array([0, 2, 2]), [h, h, h], [0.5, 2.0, 3.0])
    assert [0.5, 1.0, 6.0] == found[:, table.place[h]].tolist()
    assert found.prod() == pytest.approx(3.0, abs=1e-12)


def test_is_small__no_table_for_many_variables_or_very_many_columns() -> None:
    cluster = plan_clusters(((0, 1, 2), (1, 2)))[0]
    wide = plan_clusters((tuple(range(12)),))[0]
    assert is_small(cluster, 300)
    assert not is_small(cluster, 1 << 20)
    assert not is_small(wide, 300)
