"""Sampled vehicles follow the joint distribution."""

import numpy as np
import pytest
from support.enumeration import enumerate_joint
from support.strategies import small_network

from shiftlore.network import Network, Table, Variable, sample_network


@pytest.mark.parametrize("seed", [1, 2, 5, 8])
def test_sample_network__shares_equal_the_joint(seed):
    """Standard error of a share is at most 0.5 / sqrt(n); four of them are allowed."""
    network, n = small_network(seed, 6), 40000
    states = sample_network(network, np.random.default_rng(seed), n)
    joint = enumerate_joint(network)
    counts = np.zeros(joint.shape)
    np.add.at(counts, tuple(states[name] for name in network.variables), 1)
    assert joint == pytest.approx(counts / n, abs=4 * 0.5 / np.sqrt(n))


def test_sample_network__a_rare_cause_is_as_rare_as_its_prior():
    """Of 200,000 vehicles at .001 some 200 are expected; four standard errors are allowed."""
    network = Network([Variable("a")], [Table("a", (), [0.999, 0.001])])
    found = sample_network(network, np.random.default_rng(1), 200_000)["a"].sum()
    assert 200 == pytest.approx(found, abs=4 * np.sqrt(200))


def test_sample_network__same_seed_same_vehicles():
    network = small_network(3)
    first, second = (sample_network(network, np.random.default_rng(7), 50) for _ in range(2))
    assert all((first[name] == second[name]).all() for name in network.variables)
