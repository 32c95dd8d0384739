"""Sums of one cluster against going through every configuration."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from support.hubs import draw_tables, fixing, sum_by_force

from shiftlore.exact import HubEngine, HubTables, ways
from shiftlore.exact import sums as sums_of_the_room
from shiftlore.exact.answers import Gate
from shiftlore.exact.chains import plan_clusters
from shiftlore.exact.sums import Change, ClusterSum

law = settings(max_examples=60, deadline=None, derandomize=True)
seeds = st.integers(0, 2**32 - 1)
both_ways = st.booleans()
"""Sums by a table of all ways, and along chains."""


def draw_sums(seed: int, easy: int, tabled: bool = False) -> tuple[HubTables, list[Gate], np.ndarray, list[ClusterSum]]:
    """Draw clusters, planned with or without fixed variables, summed by a table or along chains."""
    rng = np.random.default_rng(seed)
    tables = draw_tables(rng, int(rng.integers(1, 5)), int(rng.integers(1, 7)), int(rng.integers(1, 8)))
    gates = HubEngine(tables).split({key: gate.n_states - 1 for key, gate in tables.gates.items()})[1]
    weights = rng.uniform(0, 1.5, len(tables.hidden))
    with fixing(easy):
        clusters = plan_clusters(tuple(gate.hidden for gate in gates))
    parts = [ClusterSum(cluster, gates, tables.p_hidden, weights) for cluster in clusters]
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(ways, "MOST_WORK", 1 << 20 if tabled else 0)
        assert all((part.table is not None) == tabled for part in parts)
    return tables, gates, weights, parts


@given(seeds, st.sampled_from([1, 512]), both_ways)
@law
def test_cluster_sum__equals_summing_by_force(seed: int, easy: int, tabled: bool) -> None:
    tables, gates, weights, parts = draw_sums(seed, easy, tabled)
    for part in parts:
        expected = sum_by_force(tables.p_hidden, gates, weights, part.cluster.hidden)
        assert expected == pytest.approx(part.total, rel=1e-10, abs=1e-14)
        assert part.total == pytest.approx(part.joint.sum(axis=0), rel=1e-12)


@given(seeds, st.sampled_from([1, 512]), both_ways, st.data())
@law
def test_ask__equals_summing_the_changed_answers_by_force(
    seed: int, easy: int, tabled: bool, data: st.DataObject
) -> None:
    tables, gates, weights, parts = draw_sums(seed, easy, tabled)
    for part in parts:
        hidden, own = part.cluster.hidden, part.cluster.gates
        changes = []
        for _ in range(data.draw(st.integers(1, 4))):
            chosen = data.draw(st.lists(st.sampled_from(hidden), unique=True, max_size=3))
            factors = [(h, data.draw(st.sampled_from([0.0, 0.3, 1.0, 2.5]))) for h in chosen]
            released = data.draw(st.lists(st.sampled_from(own), unique=True, max_size=2, min_size=0 if chosen else 1))
            changes.append(Change(tuple(factors), tuple(released)))
        found = part.ask(changes)
        base = sum_by_force(tables.p_hidden, gates, weights, hidden)
        for change, row in zip(changes, found, strict=True):
            changed = weights.copy()
            for h, factor in change.weights:
                changed[h] *= factor
            expected = sum_by_force(tables.p_hidden, gates, changed, hidden, change.released) / base
            assert expected == pytest.approx(row, rel=1e-8, abs=1e-12), change


@given(seeds, st.sampled_from([1, 512]))
@law
def test_ask__the_same_when_columns_are_cut_into_passes(seed: int, easy: int) -> None:
    _, _, _, parts = draw_sums(seed, easy)
    changes = [[Change(((h, 0.5),)) for h in part.cluster.hidden] for part in parts]
    expected = [(part.total, part.ask(change)) for part, change in zip(parts, changes, strict=True)]
    _, _, _, again = draw_sums(seed, easy)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(sums_of_the_room, "CELLS_PER_PASS", 2)
        for part, change, (total, asked) in zip(again, changes, expected, strict=True):
            assert total == pytest.approx(part.total, rel=1e-12)
            assert asked == pytest.approx(part.ask(change), rel=1e-12)


@given(seeds, both_ways)
@law
def test_ask__nothing_changed_is_one(seed: int, tabled: bool) -> None:
    for part in draw_sums(seed, 512, tabled)[3]:
        found = part.ask([Change(((h, 1.0),)) for h in part.cluster.hidden])
        assert np.ones_like(found) == pytest.approx(found, rel=1e-12)


@given(seeds, both_ways)
@law
def test_ask__a_weight_is_linear(seed: int, tabled: bool) -> None:
    """What the engine rests on when it serves all changes of one weight from the variable held absent."""
    for part in draw_sums(seed, 512, tabled)[3]:
        for h in part.cluster.hidden:
            absent, half, double = part.ask([Change(((h, factor),)) for factor in (0.0, 0.5, 2.0)])
            assert absent + 0.5 * (1 - absent) == pytest.approx(half, rel=1e-9)
            assert absent + 2.0 * (1 - absent) == pytest.approx(double, rel=1e-9)


def test_cluster_sum__no_digit_is_lost_where_nothing_is_likely() -> None:
    """Forty unlikely signs of one hidden variable, by hand: p q^40 + (1 - p) leak^40, some 1e-120."""
    leak, q, p, n = 1e-3, 1e-3, 0.1, 40
    gates = [Gate(f"f{i}", (0,), np.array([1 - q]), np.array([1 - leak])) for i in range(n)]
    cluster = plan_clusters(((0,),) * n)[0]
    found = ClusterSum(cluster, gates, np.array([[p]]), np.ones(1)).total
    expected = p * (1 - (1 - q) * (1 - leak)) ** n + (1 - p) * leak**n
    assert expected == pytest.approx(float(found[0]), rel=1e-9)
