"""Write a noisy network as small full tables that any Bayesian-network program can read.

A gate with many parents becomes a chain: each auxiliary variable holds the strongest contribution so far.
Source: Olesen, Kjaerulff, Jensen, Jensen, Falck, Andreassen, Andersen 1989, "A MUNIN network for the median nerve"
(parent divorcing).
"""

import numpy as np

from shiftlore.network.networks import FloatArray, Gate, Network, NoisyLink, NoisyMax, Table, Variable

MAX_PARENTS = 3
"""Usual most parents of a table: 16 entries for yes/no variables."""


def expand_gate(gate: Gate) -> FloatArray:
    """Write a gate out as a full table, shape (parent states ..., child states).

    Parent by parent, the strongest contribution is j if it was j before and the new one is at most j, or if it was
    below j and the new one is j; nothing is subtracted, so no digits are lost.
    Source: Diez 1993, the noisy MAX; Pearl 1988, section 4.3.2 (noisy OR).
    """
    if isinstance(gate, Table):
        return gate.array
    n = len(gate.links)
    table = gate.leak.reshape((1,) * n + (-1,))
    for axis, link in enumerate(gate.links):
        shape = [1] * (n + 1)
        shape[axis], shape[-1] = link.matrix.shape
        below = np.concatenate([np.zeros_like(table[..., :1]), np.cumsum(table, axis=-1)[..., :-1]], axis=-1)
        table = table * np.cumsum(link.matrix, axis=1).reshape(shape) + below * link.matrix.reshape(shape)
    return table


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


def divorce(network: Network, max_parents: int = MAX_PARENTS) -> Network:
    """Write a network as small tables, all non-negative.

    Args:
        network: any network.
        max_parents: most parents of a noisy gate's table, at least 2; full tables are kept as they are.
    """
    assert max_parents >= 2, "a chain needs room for the carried variable and one parent"
    variables = list(network.variables.values())
    tables: list[Table] = []
    for gate in (network.gates[child] for child in network.order):
        if isinstance(gate, Table):
            tables.append(gate)
            continue
        for part in _split_gate(gate, max_parents):
            tables.append(Table(part.child, part.parents, np.clip(expand_gate(part), 0, 1)))
            if part.child not in network.variables:
                variables.append(Variable(part.child, network.variables[gate.child].states))
    return Network(variables, tables)
