"""Random networks for laws and benchmarks: small ones that can be enumerated, and large ones of a realistic shape."""

import numpy as np
from hypothesis import strategies as st

from shiftlore.network import Network, NoisyLink, NoisyMax, Table, Tie, Variable, sample_network

seeds = st.integers(0, 2**32 - 1)
"""Seeds of the small random networks; hypothesis shrinks towards small numbers."""


def random_row(rng: np.random.Generator, size: int, sharp: float = 0.6) -> np.ndarray:
    """Draw a pmf; small `sharp` gives rows that lean to few states."""
    return rng.dirichlet(np.full(size, sharp))


def random_link(rng: np.random.Generator, parent: str, n_parent: int, n_child: int, weight: float = 8.0) -> NoisyLink:
    """Draw a link whose sound row does nothing."""
    matrix = np.stack([random_row(rng, n_child) for _ in range(n_parent)])
    matrix[0] = np.eye(n_child)[0]
    return NoisyLink(parent, matrix, weight)


def small_network(seed: int, n_most: int = 11, tables: bool = True) -> Network:
    """Draw a network of at most `n_most` variables: roots, then noisy or full gates; half of them with a tie."""
    rng = np.random.default_rng(seed)
    n_roots = int(rng.integers(1, 5))
    n = int(rng.integers(n_roots + 1, n_most + 1))
    names = [f"v{index}" for index in range(n)]
    sizes = [int(rng.choice([2, 2, 3])) for _ in names]
    gates: list = []
    for index, name in enumerate(names):
        if index < n_roots:
            gates.append(Table(name, (), random_row(rng, sizes[index]), 20.0))
            continue
        n_parents = int(rng.integers(0, min(index, 4) + 1))
        parents = sorted(rng.choice(index, n_parents, replace=False).tolist())
        if tables and parents and rng.random() < 0.2:
            shape = tuple(sizes[parent] for parent in parents)
            rows = rng.dirichlet(np.ones(sizes[index]), size=shape)
            gates.append(Table(name, tuple(names[parent] for parent in parents), rows))
            continue
        links = [random_link(rng, names[parent], sizes[parent], sizes[index]) for parent in parents]
        gates.append(NoisyMax(name, random_row(rng, sizes[index]), tuple(links), 12.0))
    variables = [
        Variable(name, tuple(f"s{state}" for state in range(size))) for name, size in zip(names, sizes, strict=True)
    ]
    tie = None
    if rng.random() < 0.5:
        members = rng.choice(n_roots, int(rng.integers(1, n_roots + 1)), replace=False)
        tie = Tie(tuple(names[member] for member in sorted(members)), float(rng.uniform(0.01, 1)))
    return Network(variables, gates, tie)


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


class _Drawer:
    """Draws the parts of a realistic network one after another."""

    def __init__(self, seed: int, n_causes: int, n_states: int, n_areas: int) -> None:
        self.rng = np.random.default_rng(seed)
        self.variables: list[Variable] = []
        self.gates: list = []
        self.sizes: dict[str, int] = {}
        self.n_causes, self.n_states, self.n_areas = n_causes, n_states, n_areas
        self.cause_area = self.rng.integers(n_areas, size=n_causes)
        self.state_area = np.arange(n_states) % n_areas
        self.layer = np.zeros(n_states)

    def add(self, name: str, size: int, gate) -> None:
        """Add a variable and its gate."""
        self.sizes[name] = size
        self.variables.append(Variable(name, tuple(f"s{state}" for state in range(size))))
        self.gates.append(gate)

    def link(self, parent: str, size: int, strong: bool) -> NoisyLink:
        """Draw a link of one of the usual strengths."""
        matrix = np.zeros((self.sizes[parent], size))
        matrix[0, 0] = 1
        for row in range(1, self.sizes[parent]):
            p = self.rng.choice([0.05, 0.15, 0.35, 0.6, 0.85, 0.95], p=[0.15, 0.2, 0.2, 0.2, 0.15, 0.1])
            p = min(0.97, p * 1.3) if strong else p
            matrix[row] = np.append(1 - p, p * self.rng.dirichlet(np.full(size - 1, 2.0)))
        return NoisyLink(parent, matrix, 12.0)

    def leak(self, size: int, p: float) -> np.ndarray:
        """Draw a leak of a given size."""
        return np.append(1 - p, p * self.rng.dirichlet(np.full(size - 1, 2.0)))

    def add_causes(self) -> None:
        """Add the causes: base rates add up to 1.15, every sixth is graded."""
        base = self.rng.lognormal(0, 1.1, self.n_causes)
        base = np.minimum(base / base.sum() * 1.15, 0.2)
        for index in range(self.n_causes):
            size = 3 if self.rng.random() < 1 / 6 else 2
            prior = np.append(1 - base[index], base[index] * self.rng.dirichlet(np.full(size - 1, 3.0)))
            self.add(f"c{index}", size, Table(f"c{index}", (), prior, 50.0))

    def add_states(self) -> None:
        """Add the hidden states in three layers; the first eight are hubs."""
        self.rng.shuffle(self.state_area)
        self.layer = np.sort(self.rng.choice(3, self.n_states, p=[0.25, 0.4, 0.35]))
        for index in range(self.n_states):
            name, hub = f"s{index}", index < 8
            links = [self.link(f"c{c}", 2, True) for c in self._choose_causes(index, hub)]
            links += [self.link(f"s{s}", 2, True) for s in self._choose_above(index)]
            self.add(name, 2, NoisyMax(name, self.leak(2, 0.004), tuple(links), 40.0))

    def _choose_causes(self, index: int, hub: bool) -> list[int]:
        """Choose the causes of a hidden state, mostly of its own area."""
        near = np.flatnonzero(
            (self.cause_area == self.state_area[index]) | (hub & (self.rng.random(self.n_causes) < 0.05))
        )
        wanted = int(self.rng.integers(15, 41)) if hub else int(self.rng.integers(4, 12))
        wanted = min(wanted, 3 + self.n_causes // 8)
        chosen = self.rng.choice(near, min(len(near), wanted), replace=False)
        if hub and len(chosen) < wanted:
            others = np.setdiff1d(np.arange(self.n_causes), chosen)
            chosen = np.append(chosen, self.rng.choice(others, wanted - len(chosen), replace=False))
        return sorted(chosen.tolist())

    def _choose_above(self, index: int) -> list[int]:
        """Choose the hidden states above a hidden state, from earlier layers."""
        earlier = np.flatnonzero(self.layer < self.layer[index])
        n_above = min(len(earlier), int(self.rng.choice([0, 1, 2, 3], p=[0.3, 0.35, 0.25, 0.1])))
        if not n_above:
            return []
        return sorted(self.rng.choice(earlier, n_above, replace=False, p=_nearness(earlier)).tolist())

    def add_finding(self, index: int) -> None:
        """Add a finding below causes and states of one area, and perhaps below hubs."""
        name, size = f"f{index}", 3 if self.rng.random() < 1 / 6 else 2
        home = int(self.rng.integers(self.n_areas))
        near_causes = np.flatnonzero(self.cause_area == home)
        near_states = np.flatnonzero(self.state_area == home)
        n_near = min(len(near_causes), int(self.rng.integers(1, 11)))
        causes = self.rng.choice(near_causes, n_near, replace=False).tolist() if n_near else []
        above = self.rng.choice(near_states, min(len(near_states), int(self.rng.integers(0, 3))), replace=False)
        every = np.arange(self.n_states)
        other = self.rng.choice(self.n_states, int(self.rng.integers(0, 3)), replace=False, p=_nearness(every))
        links = [self.link(f"c{c}", size, False) for c in sorted(causes)]
        links += [self.link(f"s{s}", size, False) for s in sorted({*above.tolist(), *other.tolist()})]
        leak = self.leak(size, float(self.rng.choice([0.005, 0.02, 0.06])))
        self.add(name, size, NoisyMax(name, leak, tuple(links), 40.0))


def realistic_network(
    seed: int = 0, n_causes: int = 400, n_states: int = 60, n_findings: int = 450, n_areas: int = 30
) -> Network:
    """Draw a network of the shape of a real one: areas of causes, hub states in layers, findings with 2-15 parents.

    Base rates add up to 1.15; every sixth cause and finding is graded; eight hubs have 15-40 causes of several areas.
    """
    drawer = _Drawer(seed, n_causes, n_states, n_areas)
    drawer.add_causes()
    drawer.add_states()
    for index in range(n_findings):
        drawer.add_finding(index)
    return Network(drawer.variables, drawer.gates, Tie(tuple(f"c{index}" for index in range(n_causes)), 0.05))


def _nearness(candidates: np.ndarray) -> np.ndarray:
    """Favour low numbers: the hubs."""
    weights = 1.0 / (1.0 + candidates)
    return weights / weights.sum()


def realistic_evidence(network: Network, seed: int, n_answers: int = 40, n_telling: int = 12) -> dict[str, int]:
    """Draw a vehicle of a realistic network and answer some of its findings; at most `n_telling` are not sound."""
    rng = np.random.default_rng(seed)
    vehicles = sample_network(network, rng, 400)
    findings = [name for name in network.variables if name.startswith("f")]
    counts = sum((vehicles[name] > 0).astype(int) for name in findings)
    best = int(np.argsort(np.abs(counts - n_telling), kind="stable")[0])
    telling = [name for name in findings if vehicles[name][best] > 0]
    sound = [name for name in findings if vehicles[name][best] == 0]
    shown = rng.permutation(telling)[:n_telling].tolist()
    linked = {parent for name in shown for parent in network.gates[name].parents}
    near = [name for name in sound if linked & set(network.gates[name].parents)]
    rest = rng.permutation(near).tolist() + rng.permutation(sorted(set(sound) - set(near))).tolist()
    chosen = [*shown, *rest[: n_answers - len(shown)]]
    return {name: int(vehicles[name][best]) for name in chosen}
