"""The divorced network is the same network."""

import numpy as np
import pytest
from hypothesis import given, settings
from support.strategies import seeds, small_evidence, small_network

from shiftlore.basics import ImpossibleEvidence
from shiftlore.inference import prepare
from shiftlore.network import (
    TIE_NODE,
    Network,
    NoisyLink,
    NoisyMax,
    Table,
    Tie,
    Variable,
    divorce,
    divorced_tables,
    enumerate_posteriors,
)


@settings(max_examples=40, deadline=None, derandomize=True)
@given(seeds)
def test_divorce__gives_the_same_posteriors(seed):
    network = small_network(seed)
    evidence = small_evidence(network, seed)
    try:
        expected = enumerate_posteriors(network, evidence)
    except ImpossibleEvidence:
        return
    divorced = divorce(network, 2)
    found = prepare(divorced.network).posterior({**evidence, **divorced.observed}, network.roots)
    for name in network.roots:
        assert expected.p_states[name] == pytest.approx(found.p_states[name], abs=1e-10)


def hub(n_parents: int, tie: Tie | None = None) -> Network:
    """Build one finding below many causes."""
    causes = [f"c{index}" for index in range(n_parents)]
    links = tuple(NoisyLink(cause, [[1, 0], [0.4, 0.6]]) for cause in causes)
    gates = [*(Table(cause, (), [0.9, 0.1]) for cause in causes), NoisyMax("f", [0.95, 0.05], links)]
    return Network([Variable(name) for name in (*causes, "f")], gates, tie)


@pytest.mark.parametrize("max_parents", [2, 3, 5])
def test_divorced_tables__no_table_has_more_parents(max_parents):
    tables = divorced_tables(hub(30, Tie(tuple(f"c{index}" for index in range(30)), 0.1)), max_parents)
    assert max_parents == max(len(parents) for _, parents, _ in tables)
    assert all(np.all(array >= 0) for _, _, array in tables)
    assert tables[-1][0] == TIE_NODE or TIE_NODE in [child for child, _, _ in tables]


def test_divorced_tables__parents_come_first():
    seen: set[str] = set()
    for child, parents, _ in divorced_tables(hub(12)):
        assert set(parents) <= seen
        seen.add(child)


def test_divorce__without_a_tie_observes_nothing():
    assert divorce(hub(4)).observed == {}
