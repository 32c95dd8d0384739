"""Draw the numbers of the rules from their spreads, to see how far a ranking depends on them.

Only what bears on the answers is drawn: base rates, and the gates of the answered findings and their states.
"""

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from shiftlore.compiling.assembling import link_from_faults
from shiftlore.compiling.compiled import CompiledCase
from shiftlore.compiling.expansion import Node
from shiftlore.inference import HubEngine
from shiftlore.network import Network, NoisyLink, NoisyMax, Table

SMALLEST_SHAPE = 1e-3


def draw_posteriors(compiled: CompiledCase, rng: np.random.Generator, n_draws: int) -> Iterator[np.ndarray]:
    """Give P(cause present | answers) under each of `n_draws` draws of the rules' numbers, shape (n_causes,) each."""
    findings = {key: compiled.expansion.findings[key] for key in compiled.evidence}
    wanted = {link.parent for node in findings.values() for link in node.links}
    states = {key: node for key, node in compiled.expansion.states.items() if key in wanted}
    drawn = {key: _draw_node(node, compiled, rng, n_draws) for key, node in (states | findings).items()}
    priors = _draw_priors(compiled, rng, n_draws)
    network = compiled.network
    root = next(key for key in network.gates if network.is_root(key))
    variables = [network.variables[key] for key in (root, *drawn)]
    for number in range(n_draws):
        gates = [Table(root, (), priors[number]), *(gates[number] for gates in drawn.values())]
        engine = _engine_of(Network(variables, gates))
        yield compiled.faults.sum_over_causes(engine.posterior(compiled.evidence)[0])


def _engine_of(network: Network) -> HubEngine:
    from shiftlore.inference import prepare_hub

    return prepare_hub(network)


def _draw_priors(compiled: CompiledCase, rng: np.random.Generator, n_draws: int) -> np.ndarray:
    """Draw base rates as gamma variables around their means; pairs follow their causes, shape (n_draws, n_states)."""
    hits = np.array([max(compiled.expansion.causes[cause].share_weight, SMALLEST_SHAPE) for cause in compiled.causes])
    factors = rng.gamma(hits, 1 / hits, size=(n_draws, len(hits)))
    priors = compiled.faults.prior * compiled.faults.spread_over_states(factors)
    return priors / priors.sum(axis=1, keepdims=True)


def _draw_node(node: Node, compiled: CompiledCase, rng: np.random.Generator, n_draws: int) -> list[NoisyMax]:
    """Draw one gate: its leak and every row of its links are Dirichlet around their means."""
    position = {cause: i for i, cause in enumerate(compiled.causes)}
    gate = compiled.network.gates[node.id]
    assert isinstance(gate, NoisyMax), "only the root is a table"
    leaks = _draw_rows(np.array(gate.leak)[None], np.array([node.leak_weight]), rng, n_draws)[:, 0]
    from_causes = [link for link in node.links if link.parent in position]
    from_states = [link for link in node.links if link.parent not in position]
    rows = _draw_rows(*_stack(from_causes, len(node.grades)), rng, n_draws)
    below = _draw_rows(*_stack(from_states, len(node.grades)), rng, n_draws)
    positions = [position[link.parent] for link in from_causes]
    found = []
    for number in range(n_draws):
        links = [
            NoisyLink(link.parent, np.array([np.eye(len(node.grades))[0], below[number, i]]))
            for i, link in enumerate(from_states)
        ]
        if positions:
            matrix = link_from_faults(positions, rows[number], compiled.faults)
            links.insert(0, replace(gate.links[0], matrix=matrix))
        found.append(NoisyMax(node.id, leaks[number], tuple(links)))
    return found


def _stack(links: list, n_grades: int) -> tuple[np.ndarray, np.ndarray]:
    """Stack the fault rows of links and their spreads."""
    rows = np.array([link.rows[1] for link in links]).reshape(len(links), n_grades)
    return rows, np.array([link.weight for link in links])


def _draw_rows(means: np.ndarray, weights: np.ndarray, rng: np.random.Generator, n_draws: int) -> np.ndarray:
    """Draw pmfs around their means: shape (n_draws, n_rows, n_grades); an infinite weight keeps the mean."""
    if not len(means):
        return np.zeros((n_draws, 0, means.shape[1]))
    finite = np.where(np.isfinite(weights), weights, 1.0)[:, None]
    shapes = np.where(means > 0, np.maximum(means * finite, SMALLEST_SHAPE), 0.0)
    drawn = rng.standard_gamma(shapes, size=(n_draws, *means.shape))
    totals = drawn.sum(axis=-1, keepdims=True)
    drawn = np.where(totals > 0, drawn / np.where(totals > 0, totals, 1.0), means)
    return np.where(np.isfinite(weights)[:, None], drawn, means)
