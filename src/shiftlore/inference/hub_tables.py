"""Networks with one many-state root: the tables of a network in which, given the root, hidden variables are independent.

Shape of such a network: a root; yes/no hidden variables that only the root bears on; findings (leaky noisy-OR or
noisy-MAX) that the root and hidden variables bear on. Given a state of the root everything but the findings' gates
is a product, so all root states can be worked out side by side as the last axis of every array.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from shiftlore.network import FloatArray, Network, NoisyMax, Table


@dataclass(frozen=True, eq=False)
class GateTable:
    """A finding's gate.

    Args:
        n_states: states of the finding.
        cum_root: shape (n_states, n_root): P(contribution of root and leak <= j | root state); last row 1.
        hidden: positions of the hidden parents.
        cum_hidden: shape (n_hidden_parents, n_states): P(contribution <= j) of each hidden parent when present.
    """

    id: str
    n_states: int
    cum_root: FloatArray
    hidden: tuple[int, ...]
    cum_hidden: FloatArray


@dataclass(frozen=True, eq=False)
class HubTables:
    """All tables of one network, the root's states along the last axis.

    Args:
        prior: shape (n_root,).
        hidden: ids of the hidden variables.
        p_hidden: shape (n_hidden, n_root): P(hidden present | root state).
        gates: finding -> its gate.
    """

    root: str
    root_states: tuple[str, ...]
    prior: FloatArray
    hidden: tuple[str, ...]
    p_hidden: FloatArray
    gates: Mapping[str, GateTable]

    @property
    def n_root(self) -> int:
        """Count the root's states."""
        return len(self.root_states)


def find_root(network: Network) -> str | None:
    """Name the single root of a network of this shape, or None if it has another shape."""
    roots = [key for key in network.gates if network.is_root(key)]
    if network.tie is not None or len(roots) != 1:
        return None
    root = roots[0]
    hidden = set()
    for key, gate in network.gates.items():
        if key != root and not isinstance(gate, NoisyMax):
            return None
        if key != root and set(gate.parents) <= {root} and network.n_states(key) == 2:
            hidden.add(key)
    for gate in network.gates.values():
        if not set(gate.parents) <= hidden | {root}:
            return None
    return root


def build_tables(network: Network, root: str) -> HubTables:
    """Read the tables out of a network of this shape.

    Args:
        network: as `find_root` accepts it.
        root: its root.
    """
    prior = network.gates[root]
    assert isinstance(prior, Table), "the root is a plain prior"
    above = {parent for gate in network.gates.values() for parent in gate.parents if parent != root}
    hidden = tuple(key for key in network.order if key in above)
    position = {key: i for i, key in enumerate(hidden)}
    n_root = network.n_states(root)
    noisy = {key: gate for key, gate in network.gates.items() if isinstance(gate, NoisyMax)}
    gates = {key: read_gate(noisy[key], root, n_root, position) for key in network.order if key in noisy.keys() - hidden}
    p_hidden = np.array([1 - read_gate(noisy[key], root, n_root, {}).cum_root[0] for key in hidden])
    states = network.variables[root].states
    return HubTables(root, states, prior.array, hidden, p_hidden.reshape(len(hidden), n_root), gates)


def read_gate(gate: NoisyMax, root: str, n_root: int, position: Mapping[str, int]) -> GateTable:
    """Cumulate one gate's leak and links."""
    cum_root = np.repeat(cumulate_rows(gate.leak)[:, None], n_root, axis=1)
    hidden, cum_hidden = [], []
    for link in gate.links:
        if link.parent == root:
            cum_root = cum_root * cumulate_rows(link.matrix).T
        else:
            hidden.append(position[link.parent])
            cum_hidden.append(cumulate_rows(link.matrix[1]))
    table = np.array(cum_hidden).reshape(len(hidden), gate.n_states)
    return GateTable(gate.child, gate.n_states, cum_root, tuple(hidden), table)


def cumulate_rows(rows: FloatArray) -> FloatArray:
    """Add up pmfs along their last axis; the last entry is exactly 1."""
    cumulated = np.cumsum(rows, axis=-1)
    cumulated[..., -1] = 1.0
    return np.minimum(cumulated, 1.0)
