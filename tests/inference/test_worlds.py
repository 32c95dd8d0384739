"""The quick and the careful way agree, and the careful way steps in where digits run out."""

import numpy as np
import pytest
from support.strategies import realistic_evidence, realistic_network

import shiftlore.inference.worlds as worlds
from shiftlore.inference.numbers import Numbers
from shiftlore.inference.planning import make_plan
from shiftlore.inference.reduction import Reduction, Way, sort_answers
from shiftlore.inference.rows import UNCHANGED, Rows
from shiftlore.inference.sweeps import Sweep
from shiftlore.inference.worlds import LOST_DIGITS, World, WorldParts
from shiftlore.network import Network, NoisyLink, NoisyMax, Table, Variable


@pytest.fixture(scope="module")
def runs():
    """A network of middle size with answers, swept every way."""
    network = realistic_network(2, n_causes=120, n_states=20, n_findings=120, n_areas=10)
    answers = sort_answers(network, realistic_evidence(network, 2, 25, 8))
    reductions = {way: Reduction(network, Numbers(network), answers, way=way) for way in Way}
    return {way: Sweep(part, make_plan(part.structure)).run(UNCHANGED) for way, part in reductions.items()}


@pytest.mark.parametrize("way", [Way.QUICK, Way.QUICKER, Way.QUICKEST])
def test_sweep__every_way_agrees_with_the_careful_one(runs, way):
    assert runs[Way.CAREFUL].log_p[0] == pytest.approx(runs[way].log_p[0], abs=1e-10)
    assert runs[Way.CAREFUL].p_states == pytest.approx(runs[way].p_states, abs=1e-10)


@pytest.mark.parametrize("way", [Way.QUICK, Way.QUICKER, Way.QUICKEST])
def test_sweep__deviation_tells_the_true_error(runs, way):
    """The claim on which the choice of the way rests: the sums deviate from 1 as much as the posteriors are wrong."""
    error = np.abs(runs[way].p_states - runs[Way.CAREFUL].p_states).max()
    assert error <= 10 * runs[way].deviation[0] + 1e-14


def test_world__a_large_batch_may_take_a_quicker_way(monkeypatch):
    network = realistic_network(2, n_causes=60, n_states=12, n_findings=60, n_areas=6)
    answers = sort_answers(network, realistic_evidence(network, 2, 16, 6))
    world = World(WorldParts(network, Numbers(network), answers, (), make_plan))
    factors = np.random.default_rng(1).random((1, 4))
    rows = Rows(4, (), ("c0",), np.ones((1, 4)), factors)
    usual = world.run(rows)
    monkeypatch.setattr(worlds, "SLOW_RATIO", 0.0)
    monkeypatch.setattr(worlds, "LARGE_BATCH", 0.0)
    assert usual.p_states == pytest.approx(world.run(rows).p_states, abs=1e-10)


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
