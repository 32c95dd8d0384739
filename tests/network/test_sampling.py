"""Sampled vehicles follow the joint distribution."""

import numpy as np
import pytest
from support.strategies import small_network

from shiftlore.network import Network, Table, Tie, Variable, enumerate_joint, sample_network


@pytest.mark.parametrize("seed", [1, 2, 5, 8])
def test_sample_network__shares_equal_the_joint(seed):
    """Standard error of a share is at most 0.5 / sqrt(n); four of them are allowed."""
    network, n = small_network(seed, 6), 40000
    states = sample_network(network, np.random.default_rng(seed), n)
    joint = enumerate_joint(network)
    counts = np.zeros(joint.shape)
    np.add.at(counts, tuple(states[name] for name in network.variables), 1)
    assert joint == pytest.approx(counts / n, abs=4 * 0.5 / np.sqrt(n))


def test_sample_network__tie_of_rare_causes_is_exact():
    """Two causes of .001 and weight .001: shares by hand .001, .002 and .000001 of .002998."""
    gates = [Table("a", (), [0.999, 0.001]), Table("b", (), [0.999, 0.001])]
    network = Network([Variable("a"), Variable("b")], gates, Tie(("a", "b"), 0.001))
    states = sample_network(network, np.random.default_rng(1), 40000)
    total = 0.998001 * 0.001 + 2 * 0.000999 + 0.000001
    assert 0.998001 * 0.001 / total == pytest.approx(np.mean((states["a"] == 0) & (states["b"] == 0)), abs=0.01)
    assert 0.001 / total == pytest.approx(np.mean(states["a"]), abs=0.01)


def test_sample_network__same_seed_same_vehicles():
    network = small_network(3)
    first, second = (sample_network(network, np.random.default_rng(7), 50) for _ in range(2))
    assert all((first[name] == second[name]).all() for name in network.variables)
