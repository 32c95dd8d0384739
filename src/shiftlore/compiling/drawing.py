"""Draw the numbers of the rules from their spreads, to see how far a ranking depends on them.

Only what bears on the answers is drawn: base rates, and the gates of the answered findings and their states.
"""

from collections.abc import Iterator, Mapping

import numpy as np

from shiftlore.compiling.assembling import ROOT, cumulate_faults, leak_in_case
from shiftlore.compiling.compiled import CompiledCase
from shiftlore.compiling.expansion import Node
from shiftlore.inference import GateTable, HubEngine, HubTables, cumulate_rows

SMALLEST_SHAPE = 1e-3


def draw_posteriors(compiled: CompiledCase, rng: np.random.Generator, n_draws: int) -> Iterator[np.ndarray]:
    """Give P(cause present now | answers) under each of `n_draws` draws of the rules' numbers, shape (n_causes,) each."""
    for p_faults in draw_faults(compiled, rng, n_draws):
        yield compiled.judge_now(p_faults)


def draw_faults(compiled: CompiledCase, rng: np.random.Generator, n_draws: int) -> Iterator[np.ndarray]:
    """Give P(root state | answers) under each of `n_draws` draws of the rules' numbers, shape (n_states,) each."""
    findings = {key: compiled.expansion.findings[key] for key in compiled.evidence}
    wanted = {link.parent for node in findings.values() for link in node.links}
    states = {key: node for key, node in compiled.expansion.states.items() if key in wanted}
    hidden = {key: i for i, key in enumerate(states)}
    drawn_states = [1 - _draw_root(compiled, node, rng, n_draws)[:, 0] for node in states.values()]
    drawn = {key: _draw_gate(compiled, node, hidden, rng, n_draws) for key, node in findings.items()}
    priors = _draw_priors(compiled, rng, n_draws)
    for number in range(n_draws):
        p_hidden = np.array([rows[number] for rows in drawn_states]).reshape(len(hidden), priors.shape[1])
        gates = {key: tables[number] for key, tables in drawn.items()}
        tables = HubTables(ROOT, compiled.faults.names, priors[number], tuple(hidden), p_hidden, gates)
        yield HubEngine(tables).posterior(compiled.evidence)[0]


def _draw_priors(compiled: CompiledCase, rng: np.random.Generator, n_draws: int) -> np.ndarray:
    """Draw base rates as gamma variables around their means; pairs follow their causes, shape (n_draws, n_states)."""
    hits = np.array([max(compiled.expansion.causes[cause].share_weight, SMALLEST_SHAPE) for cause in compiled.causes])
    factors = rng.gamma(hits, 1 / hits, size=(n_draws, len(hits)))
    priors = compiled.faults.prior * compiled.faults.spread_over_states(factors)
    return priors / priors.sum(axis=1, keepdims=True)


def _draw_root(compiled: CompiledCase, node: Node, rng: np.random.Generator, n_draws: int) -> np.ndarray:
    """Draw a node's leak and its causes' rows, cumulated, shape (n_draws, n_grades, n_states)."""
    position = {cause: i for i, cause in enumerate(compiled.causes)}
    own = [link for link in node.links if link.parent in position]
    expansion = compiled.expansion
    record = expansion.state_records.get(node.id) or expansion.finding_records[node.id]
    leak = leak_in_case(node, record.raised_by, compiled.knowledge, dict(compiled.case.background))
    leaks = _draw_rows(np.array(leak)[None], np.array([node.leak_weight]), rng, n_draws)
    cum_leak = cumulate_rows(leaks[:, 0])[:, :, None]
    if not own:
        return np.repeat(cum_leak, len(compiled.faults.members), axis=2)
    rows = _draw_rows(*_stack(own, len(node.grades)), rng, n_draws)
    return cum_leak * cumulate_faults([position[link.parent] for link in own], rows, compiled.faults)


def _draw_gate(
    compiled: CompiledCase, node: Node, hidden: Mapping[str, int], rng: np.random.Generator, n_draws: int
) -> list[GateTable]:
    """Draw one finding's gate: leak, causes' rows and states' rows are Dirichlet around their means."""
    cum_root = _draw_root(compiled, node, rng, n_draws)
    below = [link for link in node.links if link.parent in hidden]
    cum_hidden = cumulate_rows(_draw_rows(*_stack(below, len(node.grades)), rng, n_draws))
    parents = tuple(hidden[link.parent] for link in below)
    return [
        GateTable(node.id, len(node.grades), cum_root[number], parents, cum_hidden[number])
        for number in range(n_draws)
    ]


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
