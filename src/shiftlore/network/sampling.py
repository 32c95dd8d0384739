"""Draw whole vehicles from a network: what is wrong, what it brings about, what would be found."""

import numpy as np
from numpy.typing import NDArray

from shiftlore.network.networks import FloatArray, Network, NoisyMax, Table

StateArray = NDArray[np.int64]


def _pick_states(p_states: FloatArray, rng: np.random.Generator) -> StateArray:
    """Pick a state per row of an array of shape (n, states)."""
    chance = rng.random((p_states.shape[0], 1))
    return np.minimum((chance >= np.cumsum(p_states, axis=1)).sum(axis=1), p_states.shape[1] - 1)


def _sample_roots(network: Network, rng: np.random.Generator, n: int) -> dict[str, StateArray]:
    """Draw every root on its own."""
    roots = {}
    for name in network.roots:
        gate = network.gates[name]
        assert isinstance(gate, Table)
        roots[name] = _pick_states(np.broadcast_to(gate.array, (n, gate.n_states)), rng)
    return roots


def _sample_noisy(gate: NoisyMax, states: dict[str, StateArray], rng: np.random.Generator, n: int) -> StateArray:
    """Draw the child of a noisy gate: only parents that are not sound need arithmetic."""
    cumulative = np.repeat(np.cumsum(gate.leak)[None, :-1], n, axis=0)
    for link in gate.links:
        present = np.flatnonzero(states[link.parent])
        if present.size:
            cumulative[present] *= np.cumsum(link.matrix, axis=1)[states[link.parent][present], :-1]
    return (rng.random((n, 1)) >= cumulative).sum(axis=1)


def sample_network(network: Network, rng: np.random.Generator, n: int) -> dict[str, StateArray]:
    """Draw `n` vehicles: a state for every variable.

    Args:
        network: any network.
        rng: source of chance.
        n: number of vehicles.
    Returns: variable -> state index, shape (n,).
    Source: Henrion 1988, "Propagating uncertainty by logic sampling", parents before children.
    """
    states = _sample_roots(network, rng, n)
    for name in network.order:
        gate = network.gates[name]
        if name in states:
            continue
        if isinstance(gate, NoisyMax):
            states[name] = _sample_noisy(gate, states, rng, n)
        else:
            states[name] = _pick_states(gate.array[tuple(states[parent] for parent in gate.parents)], rng)
    return states
