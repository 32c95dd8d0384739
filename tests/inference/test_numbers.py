"""Numbers with the rows last."""

import numpy as np
import pytest
from support.strategies import small_network

from shiftlore.inference.numbers import Numbers
from shiftlore.network import NoisyMax, draw_parameters

NETWORK = small_network(3)
CHILD = next(name for name, gate in NETWORK.gates.items() if isinstance(gate, NoisyMax) and gate.links)


def test_numbers__means_stand_as_a_single_row():
    gate, numbers = NETWORK.gates[CHILD], Numbers(NETWORK)
    assert numbers.n_rows == 1
    assert gate.leak == pytest.approx(numbers.leak(CHILD)[:, 0], abs=0)
    assert gate.links[0].matrix == pytest.approx(numbers.link(CHILD, gate.links[0].parent)[..., 0], abs=0)


def test_numbers__draws_stand_last():
    drawn = draw_parameters(NETWORK, np.random.default_rng(1), 7)
    numbers = Numbers(NETWORK, drawn)
    assert numbers.n_rows == 7
    assert drawn.leaks[CHILD] == pytest.approx(numbers.leak(CHILD).T, abs=0)


def test_numbers__below_ends_in_exactly_one():
    parent = NETWORK.gates[CHILD].parents[0]
    assert (Numbers(NETWORK).below(CHILD, parent)[:, -1] == 1).all()
