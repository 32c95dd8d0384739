"""Sweeps cut large batches into passes without changing a number."""

import numpy as np
import pytest
from support.strategies import small_network

import shiftlore.inference.sweeps as sweeps
from shiftlore.inference.numbers import Numbers
from shiftlore.inference.planning import make_plan
from shiftlore.inference.reduction import Reduction, sort_answers
from shiftlore.inference.rows import Rows


def make_sweep() -> sweeps.Sweep:
    """Make the sweep of a small network whose last variable was seen."""
    network = small_network(21, tables=False)
    last = list(network.variables)[-1]
    reduction = Reduction(network, Numbers(network), sort_answers(network, {last: 1}))
    return sweeps.Sweep(reduction, make_plan(reduction.structure))


def test_run__passes_do_not_change_the_result(monkeypatch):
    factors = np.random.default_rng(1).random((1, 9))
    rows = Rows(9, (), ("v0",), np.ones((1, 9)), factors)
    whole = make_sweep().run(rows)
    monkeypatch.setattr(sweeps, "CELLS_PER_PASS", 1)
    cut = make_sweep().run(rows)
    assert whole.log_p == pytest.approx(cut.log_p, abs=1e-14)
    assert whole.p_states == pytest.approx(cut.p_states, abs=1e-14)


def test_run__single_vectors_equal_watched_factors():
    factors = np.array([[0.2, 0.7]])
    watched = make_sweep().run(Rows(2, (), ("v0",), np.ones((1, 2)), factors))
    span = make_sweep().spans["v0"]
    vectors = [{"v0": np.array([1.0, *[factor] * (span.stop - span.start - 1)])} for factor in factors[0]]
    assert watched.log_p == pytest.approx(make_sweep().run(Rows(2, vectors)).log_p, abs=1e-14)


def test_run__forwards_only_gives_no_posteriors():
    assert make_sweep().run(Rows(1), backwards=False).p_states.size == 0
