"""Random small networks for laws: small enough to be enumerated."""

import numpy as np
from hypothesis import strategies as st

from shiftlore.network import Network, NoisyLink, NoisyMax, Table, Variable

seeds = st.integers(0, 2**32 - 1)
"""Seeds of the small random networks; hypothesis shrinks towards small numbers."""


def random_row(rng: np.random.Generator, size: int, sharp: float = 0.6) -> np.ndarray:
    """Draw a pmf; small `sharp` gives rows that lean to few states."""
    return rng.dirichlet(np.full(size, sharp))


def random_link(rng: np.random.Generator, parent: str, n_parent: int, n_child: int) -> NoisyLink:
    """Draw a link whose sound row does nothing."""
    matrix = np.stack([random_row(rng, n_child) for _ in range(n_parent)])
    matrix[0] = np.eye(n_child)[0]
    return NoisyLink(parent, matrix)


def small_network(seed: int, n_most: int = 11, tables: bool = True) -> Network:
    """Draw a network of at most `n_most` variables: roots, then noisy or full gates."""
    rng = np.random.default_rng(seed)
    n_roots = int(rng.integers(1, 5))
    n = int(rng.integers(n_roots + 1, n_most + 1))
    names = [f"v{index}" for index in range(n)]
    sizes = [int(rng.choice([2, 2, 3])) for _ in names]
    gates: list = []
    for index, name in enumerate(names):
        if index < n_roots:
            gates.append(Table(name, (), random_row(rng, sizes[index])))
            continue
        n_parents = int(rng.integers(0, min(index, 4) + 1))
        parents = sorted(rng.choice(index, n_parents, replace=False).tolist())
        if tables and parents and rng.random() < 0.2:
            shape = tuple(sizes[parent] for parent in parents)
            rows = rng.dirichlet(np.ones(sizes[index]), size=shape)
            gates.append(Table(name, tuple(names[parent] for parent in parents), rows))
            continue
        links = [random_link(rng, names[parent], sizes[parent], sizes[index]) for parent in parents]
        gates.append(NoisyMax(name, random_row(rng, sizes[index]), tuple(links)))
    variables = [
        Variable(name, tuple(f"s{state}" for state in range(size))) for name, size in zip(names, sizes, strict=True)
    ]
    return Network(variables, gates)


def small_evidence(network: Network, seed: int, share: float = 0.4, soft: bool = True) -> dict:
    """Draw answers for some of the variables of a small network; some of them doubtful."""
    rng = np.random.default_rng(seed + 1)
    evidence: dict = {}
    for name in network.variables:
        if rng.random() < share:
            size = network.n_states(name)
            doubtful = soft and rng.random() < 0.3
            evidence[name] = rng.uniform(0.05, 1, size) if doubtful else int(rng.integers(size))
    return evidence
