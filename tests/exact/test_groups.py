"""Groups of telling answers: both ways of summing against the sum over every configuration."""

from dataclasses import replace
from itertools import product

import numpy as np
import pytest

from shiftlore.exact.chains import plan_clusters
from shiftlore.exact.groups import GateGroup, join_groups, list_subsets
from shiftlore.exact.tables import join_states

CLOSE = 1e-12


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
    assert total == pytest.approx(group.total, rel=1e-9, abs=CLOSE)
    assert free == pytest.approx(group.free, rel=CLOSE)


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
    assert enumerate_group(group, absent, misses)[0] == pytest.approx(group.sum_sets(kinds), abs=CLOSE)


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
    long = replace(short, cluster=cluster)
    kinds = np.array([[0, 1, 2, 3], [1, 2, 3, 3]])
    assert long.total == pytest.approx(short.total, rel=1e-9)
    assert long.p_absent() == pytest.approx(short.p_absent(), abs=1e-9)
    assert long.sum_sets(kinds) == pytest.approx(short.sum_sets(kinds), rel=1e-9)
    assert [1.0] * 4 == long.left.tolist()
