"""Draws of the numbers have the stated mean and spread."""

import numpy as np
import pytest

from shiftlore.network import (
    Network,
    NoisyLink,
    NoisyMax,
    Table,
    Variable,
    draw_parameters,
    mean_parameters,
    replace_parameters,
)

GRADES = ("none", "some", "much")
NETWORK = Network(
    (Variable("c"), Variable("d"), Variable("f", GRADES)),
    (
        Table("c", (), [0.9, 0.1], 30.0),
        Table("d", (), [0.8, 0.2]),
        NoisyMax(
            "f",
            [0.9, 0.06, 0.04],
            (NoisyLink("c", [[1, 0, 0], [0.2, 0.5, 0.3]], 9.0), NoisyLink("d", [[1, 0, 0], [0.5, 0.25, 0.25]])),
            50.0,
        ),
    ),
)


def test_draw_parameters__mean_and_variance_of_a_beta():
    """Variance of a Beta with mean m and concentration n: m (1 - m) / (n + 1) (Johnson, Kotz, Balakrishnan 1995)."""
    drawn = draw_parameters(NETWORK, np.random.default_rng(1), 20000).tables["c"][:, 1]
    assert pytest.approx(drawn.mean(), abs=0.002) == 0.1
    assert pytest.approx(drawn.var(), rel=0.05) == 0.1 * 0.9 / 31


def test_draw_parameters__mean_and_variance_of_a_dirichlet():
    drawn = draw_parameters(NETWORK, np.random.default_rng(2), 20000).links["f", "c"][:, 1]
    assert np.array([0.2, 0.5, 0.3]) == pytest.approx(drawn.mean(axis=0), abs=0.005)
    assert np.array([0.2, 0.5, 0.3]) * [0.8, 0.5, 0.7] / 10 == pytest.approx(drawn.var(axis=0), rel=0.06)


def test_draw_parameters__rows_add_up_and_sound_rows_stay():
    drawn = draw_parameters(NETWORK, np.random.default_rng(3), 50)
    assert np.ones((50, 2)) == pytest.approx(drawn.links["f", "c"].sum(axis=-1), abs=1e-12)
    assert (drawn.links["f", "c"][:, 0] == [1, 0, 0]).all()


def test_draw_parameters__infinite_weight_repeats_the_mean():
    drawn = draw_parameters(NETWORK, np.random.default_rng(4), 5)
    assert (drawn.links["f", "d"][:, 1] == [0.5, 0.25, 0.25]).all()


def test_draw_parameters__tiny_weight_never_yields_nan():
    gates = (Table("c", (), [1 - 1e-9, 1e-9], 1e-3),)
    drawn = draw_parameters(Network((Variable("c"),), gates), np.random.default_rng(5), 500)
    assert np.ones(500) == pytest.approx(drawn.tables["c"].sum(axis=1), abs=1e-12)


def test_replace_parameters__of_the_means_gives_the_network_back():
    again = replace_parameters(NETWORK, mean_parameters(NETWORK), 0)
    for child, gate in NETWORK.gates.items():
        if isinstance(gate, Table):
            assert (gate.array == again.gates[child].array).all()
        else:
            assert (gate.leak == again.gates[child].leak).all()
            assert (gate.links[0].matrix == again.gates[child].links[0].matrix).all()
