"""The divorced network is the same network, in small tables."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from support.enumeration import enumerate_joint
from support.strategies import random_link, random_row, seeds, small_network

from shiftlore.network import Network, NoisyLink, NoisyMax, Table, Variable, divorce, expand_gate


@settings(max_examples=25, deadline=None, derandomize=True)
@given(seeds)
def test_divorce__summed_over_its_chains_is_the_same_joint(seed):
    network = small_network(seed, 8)
    divorced = divorce(network, 2)
    if len(divorced.variables) > 13:
        return
    added = tuple(i for i, name in enumerate(divorced.variables) if name not in network.variables)
    assert enumerate_joint(network) == pytest.approx(enumerate_joint(divorced).sum(axis=added), abs=1e-12)


@settings(max_examples=25, deadline=None, derandomize=True)
@given(seeds, st.integers(2, 5))
def test_divorce__one_gate_of_many_parents_keeps_its_table(seed, max_parents):
    rng = np.random.default_rng(seed)
    names, size = [f"c{i}" for i in range(6)], int(rng.integers(2, 4))
    gate = NoisyMax("f", random_row(rng, size), tuple(random_link(rng, name, 2, size) for name in names))
    network = Network(
        [*(Variable(name) for name in names), Variable("f", tuple("abc"[:size]))],
        [*(Table(name, (), [0.5, 0.5]) for name in names), gate],
    )
    divorced = divorce(network, max_parents)
    added = tuple(i for i, name in enumerate(divorced.variables) if name not in network.variables)
    joint = enumerate_joint(divorced).sum(axis=added)
    assert expand_gate(gate) == pytest.approx(joint * 2**6, abs=1e-12)


def hub(n_parents: int) -> Network:
    """Build one finding below many causes."""
    causes = [f"c{index}" for index in range(n_parents)]
    links = tuple(NoisyLink(cause, [[1, 0], [0.4, 0.6]]) for cause in causes)
    gates = [*(Table(cause, (), [0.9, 0.1]) for cause in causes), NoisyMax("f", [0.95, 0.05], links)]
    return Network([Variable(name) for name in (*causes, "f")], gates)


@pytest.mark.parametrize("max_parents", [2, 3, 5])
def test_divorce__no_table_has_more_parents(max_parents):
    gates = divorce(hub(30), max_parents).gates.values()
    assert max_parents == max(len(gate.parents) for gate in gates)
    assert all(isinstance(gate, Table) and np.all(gate.array >= 0) for gate in gates)


def test_divorce__parents_come_first():
    seen: set[str] = set()
    divorced = divorce(hub(12))
    for child in divorced.order:
        assert set(divorced.gates[child].parents) <= seen
        seen.add(child)


def test_divorce__what_is_small_stays_as_it_is():
    network = hub(3)
    assert list(network.variables) == list(divorce(network).variables)


def test_divorce__a_full_table_is_kept_however_wide():
    wide = Table("f", tuple("abcd"), np.full((2,) * 5, 0.5))
    network = Network([Variable(n) for n in "abcdf"], [*(Table(n, (), [0.5, 0.5]) for n in "abcd"), wide])
    assert divorce(network, 2).gates["f"] is wide


def test_divorce__a_chain_without_room_is_a_programming_fault():
    with pytest.raises(AssertionError, match="room for the carried"):
        divorce(hub(3), 1)
