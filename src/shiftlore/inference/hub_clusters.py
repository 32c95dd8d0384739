"""Clusters: answers that share hidden variables must be summed over together; everything else is a product.

Within a cluster the hidden variables are summed out one after another. Between two of them it is enough to know how
strongly each open gate has been set off so far, so an array carries one axis per open gate; a gate opens at its first
hidden parent and closes after its last. All numbers stay non-negative, so no digits are lost however improbable the
answers are.
Source: parent divorcing, Olesen et al. 1989; summation in a good order, Dechter 1999 (bucket elimination).
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from shiftlore.inference.hub_tables import GateTable, HubTables
from shiftlore.network import FloatArray

CELLS_PER_PASS = 1 << 22
"""Most entries of the running array in one pass; larger sets of rows are cut up."""


@dataclass(frozen=True, eq=False)
class OpenGate:
    """A telling answer as a gate to be summed over.

    Args:
        hidden: positions of its hidden parents.
        steps: per hidden parent the pmf of its contribution over the gate's levels, shape (n_parents, n_levels).
        cumulated: the same cumulated.
        closing: weight of each level when the gate closes, shape (n_levels, n_root).
    """

    hidden: tuple[int, ...]
    steps: FloatArray
    cumulated: FloatArray
    closing: FloatArray


def open_gate(gate: GateTable, answer: int | FloatArray) -> OpenGate:
    """Turn an answer into a gate.

    A certain answer j needs two levels only, "below j" and "at j"; a doubtful one needs all.
    """
    if isinstance(answer, (int, np.integer)):
        j = int(answer)
        below = gate.cum_root[j - 1] if j else np.zeros_like(gate.cum_root[0])
        closing = np.array([gate.cum_root[j] - below, gate.cum_root[j]])
        low = gate.cum_hidden[:, j - 1 : j] if j else np.zeros((len(gate.hidden), 1))
        cumulated = np.concatenate([low, gate.cum_hidden[:, j : j + 1]], axis=1)
        steps = np.concatenate([low, gate.cum_hidden[:, j : j + 1] - low], axis=1)
        return OpenGate(gate.hidden, steps, cumulated, closing)
    likelihood = np.asarray(answer, dtype=float)
    pmf = np.diff(gate.cum_root, axis=0, prepend=0.0)
    closing = np.array([
        likelihood[level] * gate.cum_root[level] + (likelihood[level + 1 :, None] * pmf[level + 1 :]).sum(axis=0)
        for level in range(gate.n_states)
    ])
    steps = np.diff(gate.cum_hidden, axis=1, prepend=0.0)
    return OpenGate(gate.hidden, steps, gate.cum_hidden, closing)


@dataclass(frozen=True, eq=False)
class Cluster:
    """Gates that share hidden variables, and the order in which these are summed out.

    Args:
        gates: the open gates.
        order: positions of the hidden variables, first summed first.
    """

    gates: tuple[OpenGate, ...]
    order: tuple[int, ...]


def find_clusters(gates: Sequence[OpenGate]) -> list[Cluster]:
    """Group gates that are joined by hidden variables, and order each group's summation."""
    groups: list[tuple[set[int], list[OpenGate]]] = []
    for gate in gates:
        hidden, members = set(gate.hidden), [gate]
        rest = []
        for other, others in groups:
            if hidden & other:
                hidden, members = hidden | other, others + members
            else:
                rest.append((other, others))
        groups = [*rest, (hidden, members)]
    return [Cluster(tuple(members), _choose_order(hidden, members)) for hidden, members in groups]


def _choose_order(hidden: set[int], gates: Sequence[OpenGate]) -> tuple[int, ...]:
    """Sum out next whatever keeps the fewest gates open (greedy)."""
    touching = {h: {i for i, gate in enumerate(gates) if h in gate.hidden} for h in hidden}
    left = {i: set(gate.hidden) for i, gate in enumerate(gates)}
    opened: set[int] = set()
    order = []
    waiting = set(hidden)
    while waiting:
        def price(h: int) -> tuple[int, int, int]:
            closes = sum(left[i] == {h} for i in touching[h])
            return len(touching[h] - opened) - closes, -len(touching[h]), h

        chosen = min(waiting, key=price)
        waiting.remove(chosen)
        opened |= touching[chosen]
        for i in touching[chosen]:
            left[i].discard(chosen)
            if not left[i]:
                opened.discard(i)
        order.append(chosen)
    return tuple(order)


def sum_cluster(cluster: Cluster, tables: HubTables, weights: FloatArray) -> FloatArray:
    """Sum a cluster out.

    Args:
        weights: shape (n_rows, n_hidden): factor of each hidden variable when present (from sound answers), one row
            per variant of the answers.
    Returns: shape (n_rows, n_root).
    """
    kinds, inverse = _find_kinds(cluster, tables)
    levels = 1
    for gate in cluster.gates:
        levels *= gate.closing.shape[0]
    widest = max(1, CELLS_PER_PASS // (kinds.size * min(levels, 1 << 12)))
    parts = [
        _sum_rows(cluster, tables, weights[start : start + widest], kinds)
        for start in range(0, len(weights), widest)
    ]
    return np.concatenate(parts)[:, inverse]


def _find_kinds(cluster: Cluster, tables: HubTables) -> tuple[np.ndarray, np.ndarray]:
    """Find the root states that differ in this cluster: first of each kind, and each state's kind."""
    columns = np.concatenate([tables.p_hidden[list(cluster.order)], *(gate.closing for gate in cluster.gates)])
    rows = np.ascontiguousarray(columns.T)
    keys = rows.view(np.dtype((np.void, rows.dtype.itemsize * rows.shape[1]))).ravel()
    _, first, inverse = np.unique(keys, return_index=True, return_inverse=True)
    return first, inverse.ravel()


def _sum_rows(cluster: Cluster, tables: HubTables, weights: FloatArray, kinds: np.ndarray) -> FloatArray:
    """Sum out the hidden variables in order, for some rows, over the kinds of root states."""
    running = np.ones((len(weights), kinds.size))
    axes: list[int] = []
    left = [set(gate.hidden) for gate in cluster.gates]
    for h in cluster.order:
        touched = [i for i, gate in enumerate(cluster.gates) if h in gate.hidden]
        for i in touched:
            if i not in axes:
                running = _open_axis(running, cluster.gates[i].closing.shape[0])
                axes.insert(0, i)
        present = running
        for i in touched:
            gate = cluster.gates[i]
            parent = gate.hidden.index(h)
            present = _set_off(present, axes.index(i), gate.steps[parent], gate.cumulated[parent])
        p = tables.p_hidden[h, kinds]
        running = running * (1 - p) + present * (p * weights[:, h, None])
        for i in touched:
            left[i].discard(h)
            if not left[i]:
                running = _close_axis(running, axes.index(i), cluster.gates[i].closing[:, kinds])
                axes.remove(i)
    return running


def _open_axis(running: FloatArray, n_levels: int) -> FloatArray:
    """Add a gate in front, not set off so far."""
    opened = np.zeros((n_levels, *running.shape))
    opened[0] = running
    return opened


def _set_off(running: FloatArray, axis: int, steps: FloatArray, cumulated: FloatArray) -> FloatArray:
    """Join one contribution to the levels of a gate: the stronger of the two stays."""
    moved = np.moveaxis(running, axis, 0)
    joined = np.empty_like(moved)
    joined[0] = moved[0] * cumulated[0]
    below = moved[0]
    for level in range(1, len(steps)):
        joined[level] = moved[level] * cumulated[level] + below * steps[level]
        below = below + moved[level]
    return np.moveaxis(joined, 0, axis)


def _close_axis(running: FloatArray, axis: int, closing: FloatArray) -> FloatArray:
    """Weigh the levels of a gate that nothing more can set off."""
    moved = np.moveaxis(running, axis, 0)
    closed = moved[0] * closing[0]
    for level in range(1, len(closing)):
        closed = closed + moved[level] * closing[level]
    return closed


def add_weights(weights: FloatArray, gate: GateTable, answer: int) -> None:
    """Multiply the weights of a gate's hidden parents by a sound answer (answer 0), in place."""
    for h, cumulated in zip(gate.hidden, gate.cum_hidden[:, answer], strict=True):
        weights[..., h] *= cumulated


def split_answers(
    tables: HubTables, evidence: Mapping[str, int | FloatArray]
) -> tuple[list[str], dict[str, int | FloatArray]]:
    """Separate sound answers, which are products, from telling ones."""
    sound, telling = [], {}
    for finding, answer in evidence.items():
        if isinstance(answer, (int, np.integer)) and int(answer) == 0:
            sound.append(finding)
        else:
            telling[finding] = answer
    return sound, telling
