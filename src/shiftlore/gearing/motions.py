"""Turn a gear train into small matrices, and say for any set of closed elements how everything moves.

All speeds that the meshes allow are `basis @ q`; every element is one row over q. With closed rows C
the motions left are the null space of C; input and output seen through it tell neutral, gear or tie-up.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from shiftlore.gearing.trains import CASE, OUTPUT, CouplingKind, Train

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]

TIED_UP = 0
DRIVEN = 1
NEUTRAL = 2
OUTPUT_HELD = 3
INPUT_HELD = 4
STATE_WORDS = ("tied_up", "driven", "neutral", "tied_up", "tied_up")

# Relative size below which a length counts as zero: far above rounding (1e-15), far below any gear geometry.
ZERO = 1e-9


@dataclass(frozen=True, slots=True)
class Motion:
    """The matrices of one train.

    Args:
        nodes: node name -> row of `basis`; nodes fixed to the case are missing.
        basis: speeds of nodes per independent motion, shape (n_nodes, d).
        rows: one row per coupling, shape (n_couplings, d).
        b_in, b_out: rows of input and output, shape (d,).
        places: coupling id -> its row.
        one_way: rows of one-way clutches whose direction is known.
        lets: their directions, as in `Coupling.lets`.
    """

    nodes: Mapping[str, int]
    basis: Array
    rows: Array
    b_in: Array
    b_out: Array
    places: Mapping[str, int]
    one_way: tuple[int, ...]
    lets: tuple[int, ...]

    def mask(self, ids: Iterable[str]) -> Flags:
        """Mark these couplings in an array of flags, shape (n_couplings,)."""
        flags = np.zeros(len(self.rows), dtype=bool)
        flags[[self.places[item] for item in ids]] = True
        return flags


@dataclass(frozen=True, slots=True)
class States:
    """How the train moves in n states of its elements.

    Args:
        kind: TIED_UP, DRIVEN, NEUTRAL, OUTPUT_HELD or INPUT_HELD, shape (n,).
        out: output speed at input speed 1, shape (n,); 0 unless driven.
        q: the motion at input speed 1, shape (n, d); the smallest one where members float.
        free: projector onto the motions left over at given input speed, shape (n, d, d).
    """

    kind: NDArray[np.int64]
    out: Array
    q: Array
    free: Array


def number_nodes(train: Train) -> tuple[dict[str, int], int]:
    """Number what turns by itself: node name -> number, -1 for what is fast to the case; and how many there are."""
    root = _join_nodes(train)
    fixed = root.get(CASE, CASE)
    order: dict[str, int] = {}
    for top in root.values():
        if top != fixed:
            order.setdefault(top, len(order))
    return {name: order.get(top, -1) for name, top in root.items()}, len(order)


def compile_motion(train: Train) -> Motion:
    """Make the matrices of a train whose mesh ratios are all known."""
    numbers, count = number_nodes(train)
    basis = _null_basis(_mesh_matrix(train, numbers, count), count)
    full = np.vstack([basis, np.zeros((1, basis.shape[1]))])
    rows = np.array([full[numbers[c.first]] - c.factor * full[numbers[c.second]] for c in train.couplings])
    known = [(place, c.lets) for place, c in enumerate(train.couplings) if c.kind == CouplingKind.ONE_WAY and c.lets]
    return Motion(
        {name: number for name, number in numbers.items() if number >= 0},
        basis,
        rows.reshape(len(train.couplings), basis.shape[1]),
        full[numbers[train.driven_at]],
        train.output_sign * full[numbers[OUTPUT]],
        {c.id: place for place, c in enumerate(train.couplings)},
        tuple(place for place, _ in known),
        tuple(lets for _, lets in known),
    )


def _join_nodes(train: Train) -> dict[str, str]:
    """Name for every node the first node of the group that it turns with."""
    parent: dict[str, str] = {}

    def find(name: str) -> str:
        parent.setdefault(name, name)
        while parent[name] != name:
            name = parent[name]
        return name

    for group in train.joined:
        for name in group:
            parent[find(name)] = find(group[0])
    for mesh in train.meshes:
        for name in (mesh.member, mesh.base, mesh.carrier):
            find(name)
    for coupling in train.couplings:
        find(coupling.first)
        find(coupling.second)
    for name in (train.driven_at, OUTPUT):
        find(name)
    return {name: find(name) for name in list(parent)}


def _mesh_matrix(train: Train, numbers: Mapping[str, int], width: int) -> Array:
    matrix = np.zeros((len(train.meshes), width + 1))
    for line, mesh in enumerate(train.meshes):
        if mesh.ratio is None:
            raise ValueError(f"the ratio of set {mesh.set_id} is not known")
        step = mesh.sign * mesh.ratio
        for name, weight in ((mesh.member, 1.0), (mesh.base, -step), (mesh.carrier, step - 1.0)):
            matrix[line, numbers[name]] += weight
    return matrix[:, :width]


def _null_basis(matrix: Array, width: int) -> Array:
    if not len(matrix):
        return np.eye(width)
    _, sizes, right = np.linalg.svd(matrix)
    rank = int((sizes > ZERO * max(1.0, sizes[0])).sum())
    return right[rank:].T


def project_out(projector: Array, rows: Array, closed: Flags) -> Array:
    """Narrow projectors onto null spaces by the closed rows, one row at a time.

    Args:
        projector: start, shape (n, d, d).
        rows: shape (n_couplings, d).
        closed: which rows are closed in each state, shape (n, n_couplings).
    Returns: projectors onto the motions that keep every closed row at zero, shape (n, d, d).
    """
    left = projector.copy()
    for place, row in enumerate(rows):
        now = np.flatnonzero(closed[:, place])
        if not len(now):
            continue
        part = left[now]
        across = part @ row
        size = np.einsum("nd,nd->n", across, across)
        real = size > ZERO * max(float(row @ row), ZERO)
        if real.any():
            across = across[real] / np.sqrt(size[real])[:, None]
            left[now[real]] = part[real] - across[:, :, None] * across[:, None, :]
    return left


def analyse_states(motion: Motion, closed: Flags) -> States:
    """Say for each state whether it is neutral, a gear or tied up, and how it moves.

    Args:
        closed: which couplings hold, shape (n, n_couplings).
    """
    count, size = len(closed), motion.basis.shape[1]
    left = project_out(np.broadcast_to(np.eye(size), (count, size, size)), motion.rows, closed)
    to_in = left @ motion.b_in
    in_in = to_in @ motion.b_in
    in_out = to_in @ motion.b_out
    out_out = (left @ motion.b_out) @ motion.b_out
    moves_in = in_in > ZERO * float(motion.b_in @ motion.b_in)
    moves_out = out_out > ZERO * max(float(motion.b_out @ motion.b_out), ZERO)
    apart = in_in * out_out - in_out**2 > ZERO * np.maximum(in_in * out_out, ZERO)
    kind = np.select(
        [~moves_in & ~moves_out, ~moves_in, ~moves_out, apart], [TIED_UP, INPUT_HELD, OUTPUT_HELD, NEUTRAL], DRIVEN
    )
    safe = np.where(moves_in, in_in, 1.0)
    q = np.where(moves_in[:, None], to_in / safe[:, None], 0.0)
    free = left - np.where(moves_in[:, None, None], to_in[:, :, None] * to_in[:, None, :] / safe[:, None, None], 0.0)
    return States(kind, np.where(kind == DRIVEN, in_out / safe, 0.0), q, free)


def solve_torques(motion: Motion, closed: Flags) -> tuple[Array, Array]:
    """Balance every driven state: torque that each closed coupling puts on its first member, and on the output.

    Where several couplings could share the load, the smallest sum of squares is given: equal ones share equally.

    Args:
        closed: driven states only, shape (n, n_couplings).
    Returns: torques per coupling, shape (n, n_couplings), and the load's torque on the output, shape (n,), all in
        multiples of the input torque; open couplings carry 0.
    """
    count, size = len(closed), motion.basis.shape[1]
    rows = np.vstack([motion.rows, motion.b_out[None, :]])
    flags = np.hstack([closed, np.ones((count, 1), dtype=bool)])
    weights = flags[:, :, None] * rows[None, :, :]
    floating = project_out(np.broadcast_to(np.eye(size), (count, size, size)), rows, flags)
    gram = np.einsum("nkd,nke->nde", weights, weights) + floating
    load = np.linalg.solve(gram, np.broadcast_to(-motion.b_in[:, None], (count, size, 1)))[:, :, 0]
    torque = np.einsum("nkd,nd->nk", weights, load)
    return torque[:, :-1], torque[:, -1]
