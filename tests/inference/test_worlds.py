"""The quick and the careful way agree, and the careful way steps in where digits run out."""

import numpy as np
import pytest
from strategies import realistic_evidence, realistic_network

from shiftlore.inference.numbers import Numbers
from shiftlore.inference.planning import make_plan
from shiftlore.inference.reduction import Reduction, sort_answers
from shiftlore.inference.rows import UNCHANGED
from shiftlore.inference.sweeps import Sweep
from shiftlore.inference.worlds import LOST_DIGITS, World, WorldParts
from shiftlore.network import Network, NoisyLink, NoisyMax, Table, Variable


@pytest.fixture(scope="module")
def medium():
    """A network of middle size with answers, and both sweeps over it."""
    network = realistic_network(2, n_causes=120, n_states=20, n_findings=120, n_areas=10)
    answers = sort_answers(network, realistic_evidence(network, 2, 25, 8))
    numbers = Numbers(network)
    runs = []
    for cumulated in (True, False):
        reduction = Reduction(network, numbers, answers, cumulated=cumulated)
        runs.append(Sweep(reduction, make_plan(reduction.structure)).run(UNCHANGED))
    return runs


def test_sweep__quick_and_careful_agree(medium):
    quick, careful = medium
    assert careful.log_p[0] == pytest.approx(quick.log_p[0], abs=1e-10)
    assert careful.p_states == pytest.approx(quick.p_states, abs=1e-10)


def test_sweep__deviation_tells_the_true_error(medium):
    """The claim on which the choice of the way rests: the sums deviate from 1 as much as the posteriors are wrong."""
    quick, careful = medium
    error = np.abs(quick.p_states - careful.p_states).max()
    assert error <= 10 * quick.deviation[0] + 1e-14


def spoiled() -> tuple[Network, dict]:
    """Build a hidden state of probability 1e-13 that alone explains eight findings."""
    link = NoisyLink("c", [[1, 0], [1 - 1e-6, 1e-6]])
    gates = [Table("c", (), [1 - 1e-7, 1e-7]), NoisyMax("s", [1, 0], (link,))]
    gates += [
        NoisyMax(f"f{k}", [1 - 1e-6, 1e-6], (NoisyLink("s", [[1, 0], [0.1, 0.9]]), NoisyLink("c", [[1, 0], [1, 0]])))
        for k in range(8)
    ]
    return Network([Variable(gate.child) for gate in gates], gates), {f"f{k}": 1 for k in range(8)}


def test_world__takes_the_careful_way_when_digits_run_out():
    network, evidence = spoiled()
    parts = WorldParts(network, Numbers(network), sort_answers(network, evidence), ("s",), make_plan)
    world = World(parts)
    by_hand = 1e-13 * (0.9 + 0.1 * 1e-6) ** 8
    assert np.log(by_hand) == pytest.approx(world.base.log_p[0], abs=1e-9)
    assert world.base.careful or world.base.deviation[0] <= LOST_DIGITS
