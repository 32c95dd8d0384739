"""Clusters: answers that share hidden variables must be summed over together; everything else is a product.

Within a cluster the telling answers (gates) are closed one after another. To close a gate, all that bears on it is
joined: hidden variables not yet summed out, and what earlier gates have left. What is left of a set of hidden variables
is how strongly each gate that is still open has been set off by them, so an array carries one axis per open gate. All
numbers stay non-negative, so no digits are lost however improbable the answers are.
Source: parent divorcing, Olesen et al. 1989; summation in a good order, Dechter 1999 (bucket elimination).
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from shiftlore.inference.hub_tables import GateTable, HubTables
from shiftlore.inference.kernels import join
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
    """Gates that share hidden variables, and the order in which they are closed.

    Args:
        gates: the open gates.
        hidden: positions of the hidden variables.
        order: positions of the gates, first closed first.
        width: most open gates at a time.
    """

    gates: tuple[OpenGate, ...]
    hidden: tuple[int, ...]
    order: tuple[int, ...]
    width: int


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
    return [_make_cluster(hidden, members) for hidden, members in groups]


def _make_cluster(hidden: set[int], gates: Sequence[OpenGate]) -> Cluster:
    order, width = _choose_order(list_touched(hidden, gates).values(), len(gates))
    return Cluster(tuple(gates), tuple(sorted(hidden)), order, width)


def list_touched(hidden: Iterable[int], gates: Sequence[OpenGate]) -> dict[int, frozenset[int]]:
    """List the gates that each hidden variable bears on."""
    return {h: frozenset(i for i, gate in enumerate(gates) if h in gate.hidden) for h in sorted(hidden)}


def _choose_order(scopes: Iterable[frozenset[int]], n_gates: int) -> tuple[tuple[int, ...], int]:
    """Close next the gate that needs the fewest gates open (greedy minimum size).

    Returns: the order, and the most gates open at a time.
    """
    waiting, open_gates = set(scopes), set(range(n_gates))
    order, width = [], 0
    while open_gates:
        needed = {g: frozenset().union(*(scope for scope in waiting if g in scope), {g}) for g in open_gates}
        chosen = min(open_gates, key=lambda g: (len(needed[g]), g))
        width = max(width, len(needed[chosen]))
        waiting = {scope for scope in waiting if chosen not in scope} | {needed[chosen] - {chosen}}
        open_gates.remove(chosen)
        order.append(chosen)
    return tuple(order), width


def sum_cluster(
    cluster: Cluster, tables: HubTables, base: FloatArray, variants: Sequence[Mapping[int, float]] = ()
) -> FloatArray:
    """Sum a cluster out, for the answers as they are and for variants of them.

    Args:
        base: factor of each hidden variable when present (from sound answers), shape (n_hidden,).
        variants: per variant the hidden variables whose factor differs, and the other factor.
    Returns: shape (1 + n_variants, n_root); the first row is the base.
    """
    kinds, inverse = _find_kinds(cluster, tables)
    widest = max(1, (CELLS_PER_PASS // kinds.size) >> cluster.width)
    parts = [
        _sum_variants(cluster, tables, base, variants[start : start + widest], kinds)
        for start in range(0, max(len(variants), 1), widest)
    ]
    return np.concatenate([parts[0], *(part[1:] for part in parts[1:])])[:, inverse]


def _find_kinds(cluster: Cluster, tables: HubTables) -> tuple[np.ndarray, np.ndarray]:
    """Find the root states that differ in this cluster: first of each kind, and each state's kind."""
    columns = np.concatenate([tables.p_hidden[list(cluster.hidden)], *(gate.closing for gate in cluster.gates)])
    rows = np.ascontiguousarray(columns.T)
    keys = rows.view(np.dtype((np.void, rows.dtype.itemsize * rows.shape[1]))).ravel()
    _, first, inverse = np.unique(keys, return_index=True, return_inverse=True)
    return first, inverse.ravel()


@dataclass(frozen=True, eq=False)
class _Left:
    """What is left of summed variables.

    Args:
        axes: gates still open, one axis each.
        rows: variants that differ from the base here.
        array: shape (levels ..., 1 + n_rows, n_kinds); the first row is the base.
    """

    axes: tuple[int, ...]
    rows: tuple[int, ...]
    array: FloatArray


def _sum_variants(
    cluster: Cluster,
    tables: HubTables,
    base: FloatArray,
    variants: Sequence[Mapping[int, float]],
    kinds: np.ndarray,
) -> FloatArray:
    """Close the gates in order; a variant is carried along only from where it begins to differ."""
    touched = list_touched(cluster.hidden, cluster.gates)
    left: list[_Left] = []
    result = _Left((), (), np.ones((1, kinds.size)))
    for g in cluster.order:
        running = _join_left([item for item in left if g in item.axes], kinds.size)
        left = [item for item in left if g not in item.axes]
        for h in [h for h, gates in touched.items() if g in gates]:
            running = _sum_hidden(cluster, tables, running, (h, touched.pop(h)), (base, variants), kinds)
        if g in running.axes:
            position = running.axes.index(g)
            array = _close_axis(running.array, position, cluster.gates[g].closing[:, kinds])
            running = _Left(running.axes[:position] + running.axes[position + 1 :], running.rows, array)
        if running.axes:
            left.append(running)
        else:
            result = _join_left([result, running], kinds.size)
    return _with_rows(result, tuple(range(len(variants)))).array


def _sum_hidden(
    cluster: Cluster,
    tables: HubTables,
    running: _Left,
    hidden: tuple[int, frozenset[int]],
    weights: tuple[FloatArray, Sequence[Mapping[int, float]]],
    kinds: np.ndarray,
) -> _Left:
    """Sum one hidden variable into what is left: absent it does nothing, present it sets its gates off."""
    (h, gates), (base, variants) = hidden, weights
    differing = tuple(v for v, changes in enumerate(variants) if h in changes)
    rows = tuple(sorted({*running.rows, *differing}))
    axes, array = running.axes, _with_rows(running, rows).array
    for g in sorted(gates - set(axes)):
        array = _open_axis(array, cluster.gates[g].closing.shape[0])
        axes = (g, *axes)
    present = array.copy()
    for g in gates:
        gate = cluster.gates[g]
        parent = gate.hidden.index(h)
        _set_off(present, axes.index(g), gate.steps[parent], gate.cumulated[parent])
    p = tables.p_hidden[h, kinds]
    factors = np.array([base[h], *(variants[v].get(h, base[h]) for v in rows)])
    present *= p * factors[:, None]
    summed = array * (1 - p)
    summed += present
    return _Left(axes, rows, summed)


def _with_rows(left: _Left, rows: tuple[int, ...]) -> _Left:
    """Give an array rows for more variants; where a variant does not differ its row is the base."""
    if rows == left.rows:
        return left
    place = {v: i + 1 for i, v in enumerate(left.rows)}
    return _Left(left.axes, rows, left.array[..., [0, *(place.get(v, 0) for v in rows)], :])


def _join_left(parts: Sequence[_Left], n_kinds: int) -> _Left:
    """Join what several sets of variables have left: of two contributions to a gate the stronger stays."""
    if not parts:
        return _Left((), (), np.ones((1, n_kinds)))
    joined = parts[0]
    for other in parts[1:]:
        rows = tuple(sorted({*joined.rows, *other.rows}))
        axes = tuple(sorted({*joined.axes, *other.axes}))
        both = tuple((axes.index(g), "FF") for g in joined.axes if g in other.axes)
        first, second = (_spread_axes(_with_rows(item, rows), axes) for item in (joined, other))
        joined = _Left(axes, rows, join(first, second, both))
    return joined


def _spread_axes(left: _Left, axes: tuple[int, ...]) -> FloatArray:
    """Lay an array out over more axes, those that it does not carry of size 1."""
    order = [left.axes.index(g) for g in axes if g in left.axes]
    turned = left.array.transpose(*order, left.array.ndim - 2, left.array.ndim - 1)
    shape = iter(turned.shape)
    full = [next(shape) if g in left.axes else 1 for g in axes]
    return turned.reshape(*full, *turned.shape[-2:])


def _open_axis(running: FloatArray, n_levels: int) -> FloatArray:
    """Add a gate in front, not set off so far."""
    opened = np.zeros((n_levels, *running.shape))
    opened[0] = running
    return opened


def _set_off(running: FloatArray, axis: int, steps: FloatArray, cumulated: FloatArray) -> None:
    """Join one contribution to the levels of a gate, in place: the stronger of the two stays."""
    levels = np.moveaxis(running, axis, 0)
    for level in range(len(steps) - 1, 0, -1):
        below = levels[0] if level == 1 else levels[:level].sum(axis=0)
        levels[level] *= cumulated[level]
        levels[level] += below * steps[level]
    levels[0] *= cumulated[0]


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
