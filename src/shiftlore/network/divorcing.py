"""Write a noisy network as small full tables that any Bayesian-network program can read.

A gate with many parents becomes a chain: each auxiliary variable holds the strongest contribution so far.
Source: Olesen, Kjaerulff, Jensen, Jensen, Falck, Andreassen, Andersen 1989, "A MUNIN network for the median nerve"
(parent divorcing).
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from shiftlore.network.enumeration import expand_gate
from shiftlore.network.gates import FloatArray, NoisyLink, NoisyMax, Table, Variable
from shiftlore.network.networks import Network

TIE_NODE = "brought_in__tie"
"""Id of the end node of the tie's chain; it has been observed in state 1."""

MAX_PARENTS = 3
"""Usual most parents of a table: 16 entries for yes/no variables."""


@dataclass(frozen=True, eq=False)
class DivorcedNetwork:
    """An equivalent network of small tables.

    Args:
        network: only tables, no tie.
        observed: what must be added to any evidence (the end node of the tie), variable -> state index.
    """

    network: Network
    observed: Mapping[str, int]


def _maximum_link(parent: str, n_states: int) -> NoisyLink:
    """Link a chain variable so that its state is passed on unchanged."""
    return NoisyLink(parent, np.eye(n_states))


def _split_gate(gate: NoisyMax, max_parents: int) -> list[NoisyMax]:
    """Split a gate into a chain of gates with at most `max_parents` parents; the last one keeps the child's id."""
    chain: list[NoisyMax] = []
    waiting = list(gate.links)
    sound = np.eye(gate.n_states)[0]
    carried: list[NoisyLink] = []
    while len(carried) + len(waiting) > max_parents:
        room = max_parents - len(carried)
        name = f"{gate.child}__upto{len(gate.links) - len(waiting) + room}"
        leak = sound if chain else gate.leak
        chain.append(NoisyMax(name, leak, (*carried, *waiting[:room])))
        waiting = waiting[room:]
        carried = [_maximum_link(name, gate.n_states)]
    chain.append(NoisyMax(gate.child, sound if chain else gate.leak, (*carried, *waiting)))
    return chain


def _tie_gate(network: Network) -> NoisyMax:
    """Write the tie as a noisy-OR over its members: link 1, leak weight_none."""
    assert network.tie is not None
    links = []
    for member in network.tie.members:
        matrix = np.tile([0.0, 1.0], (network.n_states(member), 1))
        matrix[0] = [1, 0]
        links.append(NoisyLink(member, matrix))
    return NoisyMax(TIE_NODE, np.array([1 - network.tie.weight_none, network.tie.weight_none]), tuple(links))


def divorce(network: Network, max_parents: int = MAX_PARENTS) -> DivorcedNetwork:
    """Write a network as small tables, all non-negative, with the tie as an observed node.

    Args:
        network: any network.
        max_parents: most parents of a noisy gate's table, at least 2; full tables are kept as they are.
    """
    assert max_parents >= 2, "a chain needs room for the carried variable and one parent"
    variables = list(network.variables.values())
    tables: list[Table] = []
    gates = [network.gates[child] for child in network.order]
    if network.tie:
        gates.append(_tie_gate(network))
    for gate in gates:
        if isinstance(gate, Table):
            tables.append(gate)
            continue
        for part in _split_gate(gate, max_parents):
            tables.append(Table(part.child, part.parents, np.clip(expand_gate(part), 0, 1)))
            if part.child not in network.variables:
                names = ("no", "yes") if gate.child == TIE_NODE else network.variables[gate.child].states
                variables.append(Variable(part.child, names))
    return DivorcedNetwork(Network(variables, tables), {TIE_NODE: 1} if network.tie else {})


def divorced_tables(network: Network, max_parents: int = MAX_PARENTS) -> list[tuple[str, tuple[str, ...], FloatArray]]:
    """List (child, parents, array) of the divorced network, parents before children; array's last axis is the child."""
    divorced = divorce(network, max_parents).network
    tables = [divorced.gates[child] for child in divorced.order]
    return [(gate.child, gate.parents, gate.array) for gate in tables if isinstance(gate, Table)]
