"""Turn the rules of one unit and the faults of one case into a network; every gate remembers its YAML line.

The network has one root, the fault; hidden states that the fault brings about; and findings that the fault and the
states bring about (leaky noisy-OR and noisy-MAX).
"""

from collections.abc import Mapping
from itertools import chain

import numpy as np

from shiftlore.compiling.expansion import Expansion, Node
from shiftlore.compiling.faults import Faults
from shiftlore.compiling.priors import background_factor
from shiftlore.knowledge import Knowledge, Raise
from shiftlore.network import FloatArray, Gate, Network, NoisyLink, NoisyMax, Table, Variable

ROOT = "fault"
LARGEST_LEAK = 0.9
"""However much a background raises it, a sign without its causes is never surer than this (judgement)."""


def assemble_network(
    knowledge: Knowledge, expansion: Expansion, faults: Faults, known: Mapping[str, str]
) -> Network:
    """Build the network of one case.

    Args:
        known: backgrounds of the case; they raise the causes' priors (already in `faults`) and some leaks.
    """
    position = {cause: i for i, cause in enumerate(faults.causes)}
    variables = [Variable(ROOT, faults.names)]
    gates: list[Gate] = [Table(ROOT, (), faults.prior)]
    nodes = chain(
        ((node, expansion.state_records[key].raised_by) for key, node in expansion.states.items()),
        ((node, expansion.finding_records[key].raised_by) for key, node in expansion.findings.items()),
    )
    for node, raised_by in nodes:
        variables.append(Variable(node.id, node.grades))
        gates.append(_make_gate(node, raised_by, faults, position, knowledge, known))
    return Network(variables, gates)


def _make_gate(
    node: Node,
    raised_by: tuple[Raise, ...],
    faults: Faults,
    position: Mapping[str, int],
    knowledge: Knowledge,
    known: Mapping[str, str],
) -> NoisyMax:
    """Make the gate of one state or finding: one link from the fault, one from each state."""
    links = []
    own = [(position[link.parent], link.rows[1]) for link in node.links if link.parent in position]
    if own:
        rows = np.array([row for _, row in own])
        links.append(NoisyLink(ROOT, link_from_faults([i for i, _ in own], rows, faults)))
    links += [
        NoisyLink(link.parent, np.array(link.rows), link.weight) for link in node.links if link.parent not in position
    ]
    leak = raise_leak(node.leak, background_factor(raised_by, known, knowledge.backgrounds) if raised_by else 1.0)
    return NoisyMax(node.id, np.array(leak), tuple(links), node.leak_weight, node.mark)


def link_from_faults(positions: list[int], rows: FloatArray, faults: Faults) -> FloatArray:
    """Write the parts that single causes have in a child as one table over the root's states.

    Args:
        positions: causes that have a part.
        rows: their pmfs over the child's grades, shape (n_positions, n_grades).
    Returns: shape (n_root, n_grades); a pair brings about the stronger of its two contributions.
    Source: Diez 1993, noisy-MAX: cumulative distributions multiply.
    """
    cumulated = np.ones((rows.shape[1], len(faults.causes)))
    cumulated[:, positions] = np.minimum(np.cumsum(rows, axis=1), 1.0).T
    cumulated[-1] = 1.0
    spread = faults.spread_over_states(cumulated)
    return np.diff(spread, axis=0, prepend=0.0).T


def raise_leak(leak: tuple[float, ...], factor: float) -> tuple[float, ...]:
    """Scale how often a sign shows without any of its causes by a hazard ratio.

    Example:
        >>> [round(p, 4) for p in raise_leak((0.9, 0.1), 2.0)]
        [0.81, 0.19]
    """
    fault = 1 - leak[0]
    if factor == 1.0 or fault <= 0:
        return leak
    raised = min(1 - (1 - fault) ** factor, max(LARGEST_LEAK, fault))
    return (1 - raised, *(value * raised / fault for value in leak[1:]))
