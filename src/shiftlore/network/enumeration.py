"""Work out small networks by writing down every possible world: slow, simple, and therefore the yardstick."""

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from shiftlore.basics import ImpossibleEvidence
from shiftlore.network.gates import FloatArray, Gate, Table
from shiftlore.network.networks import Network

MAX_ENUMERATED = 14
"""Most variables that may be enumerated: 2**14 worlds of yes/no variables fit any machine."""


@dataclass(frozen=True, eq=False)
class Enumeration:
    """What enumeration found.

    Args:
        log_p_evidence: natural logarithm of P(evidence | brought in).
        p_states: variable -> shape (states,).
    """

    log_p_evidence: float
    p_states: Mapping[str, FloatArray]


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


def enumerate_joint(network: Network) -> FloatArray:
    """Write down the joint distribution, one axis per variable in the network's order of variables, tie included.

    Raises: ValueError: more than MAX_ENUMERATED variables.
    """
    ids = list(network.variables)
    if len(ids) > MAX_ENUMERATED:
        raise ValueError(f"enumeration: at most {MAX_ENUMERATED} variables, not {len(ids)}.")
    joint = np.ones((1,) * len(ids))
    for child, gate in network.gates.items():
        axes = [ids.index(name) for name in (*gate.parents, child)]
        shape = [1] * len(ids)
        for axis in axes:
            shape[axis] = network.n_states(ids[axis])
        joint = joint * np.transpose(expand_gate(gate), np.argsort(axes)).reshape(shape)
    if network.tie:
        none = tuple(slice(0, 1) if name in network.tie.members else slice(None) for name in ids)
        joint[none] = joint[none] * network.tie.weight_none
    return joint / joint.sum()


def enumerate_posteriors(network: Network, evidence: Mapping[str, int | FloatArray]) -> Enumeration:
    """Work out every posterior of a small network by enumeration.

    Args:
        network: at most MAX_ENUMERATED variables.
        evidence: variable -> state index, or likelihood of each state.
    Raises: ImpossibleEvidence: the answers have probability 0.
    """
    ids = list(network.variables)
    joint = enumerate_joint(network)
    for name, answer in evidence.items():
        shape = [1] * len(ids)
        shape[ids.index(name)] = -1
        n_states = network.n_states(name)
        likelihood = np.eye(n_states)[answer] if isinstance(answer, int | np.integer) else np.asarray(answer, float)
        joint = joint * likelihood.reshape(shape)
    total = float(joint.sum())
    if total <= 0:
        raise ImpossibleEvidence(tuple(evidence))
    marginals = {
        name: joint.sum(axis=tuple(other for other in range(len(ids)) if other != axis)) / total
        for axis, name in enumerate(ids)
    }
    return Enumeration(math.log(total), marginals)
