"""Work out small networks by writing down every possible world: slow, simple, and therefore the yardstick."""

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from shiftlore.basics import ImpossibleEvidence
from shiftlore.network import FloatArray, Network, expand_gate

MAX_ENUMERATED = 14
"""Most variables that may be enumerated: 2**14 worlds of yes/no variables fit any machine."""


@dataclass(frozen=True, eq=False)
class Enumeration:
    """What enumeration found.

    Args:
        log_p_evidence: natural logarithm of P(evidence).
        p_states: variable -> shape (states,).
    """

    log_p_evidence: float
    p_states: Mapping[str, FloatArray]


def enumerate_joint(network: Network) -> FloatArray:
    """Write down the joint distribution, one axis per variable in the network's order of variables.

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
