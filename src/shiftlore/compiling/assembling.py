"""Turn the rules of one unit and the faults of one case into tables, or into a network that remembers its YAML lines.

The network has one root, the fault; hidden states that the fault brings about; and findings that the fault and the
states bring about (leaky noisy-OR and noisy-MAX). The tables say the same and are what the fast engine works on; the
network is built only for whoever wants to look at it, check it or hand it on.
"""

from collections.abc import Mapping
from itertools import chain

import numpy as np

from shiftlore.compiling.expansion import Expansion, Node
from shiftlore.compiling.faults import Faults
from shiftlore.compiling.priors import background_factor
from shiftlore.inference import GateTable, HubTables, cumulate_rows
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
    leak = leak_in_case(node, raised_by, knowledge, known)
    return NoisyMax(node.id, np.array(leak), tuple(links), node.leak_weight, node.mark)


def assemble_tables(
    knowledge: Knowledge, expansion: Expansion, faults: Faults, known: Mapping[str, str]
) -> HubTables:
    """Build the engine's tables of one case, without the network.

    Args: as `assemble_network`.
    """
    position = {cause: i for i, cause in enumerate(faults.causes)}
    hidden = {key: i for i, key in enumerate(expansion.states)}
    p_hidden = np.empty((len(hidden), len(faults.members)))
    for key, node in expansion.states.items():
        leak = leak_in_case(node, expansion.state_records[key].raised_by, knowledge, known)
        p_hidden[hidden[key]] = 1 - _cumulate_root(node, leak, faults, position)[0]
    gates = {}
    for key, node in expansion.findings.items():
        leak = leak_in_case(node, expansion.finding_records[key].raised_by, knowledge, known)
        states = [link for link in node.links if link.parent in hidden]
        cum_hidden = cumulate_rows(np.array([link.rows[1] for link in states]).reshape(len(states), len(node.grades)))
        gates[key] = GateTable(
            key, len(node.grades), _cumulate_root(node, leak, faults, position),
            tuple(hidden[link.parent] for link in states), cum_hidden,
        )
    return HubTables(ROOT, faults.names, faults.prior, tuple(hidden), p_hidden, gates)


def _cumulate_root(
    node: Node, leak: tuple[float, ...], faults: Faults, position: Mapping[str, int]
) -> FloatArray:
    """Cumulate leak and root's link of one node, shape (n_grades, n_root)."""
    own = [link for link in node.links if link.parent in position]
    cum_leak = cumulate_rows(np.array(leak))[:, None]
    if not own:
        return np.repeat(cum_leak, len(faults.members), axis=1)
    rows = np.array([link.rows[1] for link in own])
    return cum_leak * cumulate_faults([position[link.parent] for link in own], rows, faults)


def cumulate_faults(positions: list[int], rows: FloatArray, faults: Faults) -> FloatArray:
    """Cumulate the parts that single causes have in a child, for every root state.

    Args:
        positions: causes that have a part.
        rows: their pmfs over the child's grades, shape (..., n_positions, n_grades).
    Returns: shape (..., n_grades, n_root); a pair brings about the stronger of its two contributions.
    Source: Diez 1993, noisy-MAX: cumulative distributions multiply.
    """
    cumulated = np.ones((*rows.shape[:-2], rows.shape[-1], len(faults.causes)))
    cumulated[..., positions] = np.swapaxes(cumulate_rows(rows), -1, -2)
    return faults.spread_over_states(cumulated)


def leak_in_case(
    node: Node, raised_by: tuple[Raise, ...], knowledge: Knowledge, known: Mapping[str, str]
) -> tuple[float, ...]:
    """Give a node's leak in a case with these backgrounds, as a pmf over its grades."""
    return raise_leak(node.leak, background_factor(raised_by, known, knowledge.backgrounds) if raised_by else 1.0)


def link_from_faults(positions: list[int], rows: FloatArray, faults: Faults) -> FloatArray:
    """Write the parts that single causes have in a child as one table over the root's states.

    Args: as `cumulate_faults`, rows of shape (n_positions, n_grades).
    Returns: shape (n_root, n_grades).
    """
    return np.diff(cumulate_faults(positions, rows, faults), axis=0, prepend=0.0).T


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
