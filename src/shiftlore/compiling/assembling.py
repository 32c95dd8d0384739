"""Turn the rules of one unit and the priors of one case into a network; every table remembers its YAML line."""

from collections.abc import Mapping

import numpy as np

from shiftlore.compiling.expansion import Expansion, Node
from shiftlore.compiling.priors import Priors, background_factor
from shiftlore.knowledge import Knowledge, Raise
from shiftlore.network import Gate, Network, NoisyLink, NoisyMax, Table, Tie, Variable

PRESENT = ("absent", "present")
LARGEST_LEAK = 0.9
"""However much a background raises it, a sign without its causes is never surer than this (judgement)."""


def assemble_network(
    knowledge: Knowledge, expansion: Expansion, priors: Priors, known: Mapping[str, str]
) -> Network:
    """Build the network of one case: causes, hidden states, findings, and the tie of having been brought in.

    Args:
        known: backgrounds of the case; they raise the causes' priors (already in `priors`) and some leaks.
    """
    variables = [Variable(key, PRESENT) for key in expansion.causes]
    gates: list[Gate] = [
        Table(key, (), np.array([1 - p, p]), _prior_weight(cause.share_weight, p), cause.cause.mark)
        for (key, cause), p in zip(expansion.causes.items(), priors.p_causes.values(), strict=True)
    ]
    for nodes, records in (
        (expansion.states, expansion.state_records),
        (expansion.findings, expansion.finding_records),
    ):
        for key, node in nodes.items():
            variables.append(Variable(key, node.grades))
            gates.append(_gate(node, records[key].raised_by, knowledge, known))
    tie = Tie(tuple(expansion.causes), priors.weight_none) if expansion.causes else None
    return Network(variables, gates, tie)


def _prior_weight(equivalent_hits: float, p: float) -> float:
    """Keep the spread of a base rate, as a share of itself, at the case's own prior."""
    return max(equivalent_hits, 1e-6) / max(p, 1e-12)


def _gate(node: Node, raised_by: tuple[Raise, ...], knowledge: Knowledge, known: Mapping[str, str]) -> NoisyMax:
    links = tuple(NoisyLink(link.parent, np.array(link.rows), link.weight) for link in node.links)
    leak = raise_leak(node.leak, background_factor(raised_by, known, knowledge.backgrounds) if raised_by else 1.0)
    return NoisyMax(node.id, np.array(leak), links, node.leak_weight, node.mark)


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
