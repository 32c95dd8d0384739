"""Draw the numbers of a network from their spreads, so that an answer can say how sure it is of itself."""

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from shiftlore.network.gates import FloatArray, Gate, NoisyLink, NoisyMax, Table
from shiftlore.network.networks import Network


@dataclass(frozen=True, eq=False)
class Parameters:
    """The numbers of every gate, several times over.

    Args:
        n_draws: length of the leading axis of every array.
        leaks: child -> shape (n_draws, child states).
        links: (child, parent) -> shape (n_draws, parent states, child states).
        tables: child -> shape (n_draws, parent states ..., child states).
    """

    n_draws: int
    leaks: Mapping[str, FloatArray]
    links: Mapping[tuple[str, str], FloatArray]
    tables: Mapping[str, FloatArray]


def _draw_rows(rng: np.random.Generator, mean: FloatArray, weight: float, n: int) -> FloatArray:
    """Draw rows with the given mean: gammas divided by their sum are a Dirichlet (a Beta for two states).

    Source: Devroye 1986, Non-Uniform Random Variate Generation, chapter XI.4.
    """
    if math.isinf(weight):
        return np.broadcast_to(mean, (n, *mean.shape))
    gammas = rng.standard_gamma(np.broadcast_to(mean * weight, (n, *mean.shape)))
    sums = gammas.sum(axis=-1, keepdims=True)
    # very small shapes can underflow to all zeros; such a draw falls back on its mean
    return np.where(sums > 0, gammas / np.where(sums > 0, sums, 1), mean)


def draw_parameters(network: Network, rng: np.random.Generator, n: int) -> Parameters:
    """Draw every number of a network `n` times from its Beta or Dirichlet spread.

    Args:
        network: means and weights (concentrations).
        rng: source of chance.
        n: number of draws.
    Returns: parameters with a leading axis of length n; rows of infinite weight repeat their mean.
    """
    leaks, links, tables = {}, {}, {}
    for child, gate in network.gates.items():
        if isinstance(gate, Table):
            tables[child] = _draw_rows(rng, gate.array, gate.weight, n)
            continue
        leaks[child] = _draw_rows(rng, gate.leak, gate.leak_weight, n)
        for link in gate.links:
            links[child, link.parent] = _draw_rows(rng, link.matrix, link.weight, n)
    return Parameters(n, leaks, links, tables)


def mean_parameters(network: Network) -> Parameters:
    """Take the means as a single draw (leading axis of length 1)."""
    leaks, links, tables = {}, {}, {}
    for child, gate in network.gates.items():
        if isinstance(gate, Table):
            tables[child] = gate.array[None]
            continue
        leaks[child] = gate.leak[None]
        links.update({(child, link.parent): link.matrix[None] for link in gate.links})
    return Parameters(1, leaks, links, tables)


def replace_parameters(network: Network, parameters: Parameters, draw: int) -> Network:
    """Build the network of one draw, for instance to check it with another program."""
    gates: list[Gate] = []
    for child, gate in network.gates.items():
        if isinstance(gate, Table):
            gates.append(Table(child, gate.parents, parameters.tables[child][draw], gate.weight, gate.mark))
            continue
        links = tuple(
            NoisyLink(link.parent, parameters.links[child, link.parent][draw], link.weight) for link in gate.links
        )
        gates.append(NoisyMax(child, parameters.leaks[child][draw], links, gate.leak_weight, gate.mark))
    return Network(tuple(network.variables.values()), gates, network.tie)
