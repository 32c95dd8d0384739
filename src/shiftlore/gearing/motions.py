"""Turn a gear train into small matrices, and say for any set of closed elements how everything moves.

All speeds that the meshes allow are `basis @ q`; every element is one row over q. With closed rows C
the motions left are the null space of C; input and output seen through it tell neutral, gear or tie-up.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from itertools import combinations, cycle, islice

import numpy as np
from numpy.typing import NDArray

from shiftlore.gearing.trains import CASE, OUTPUT, CouplingKind, GearState, Train

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]

TIED_UP, DRIVEN, NEUTRAL, OUTPUT_HELD, INPUT_HELD = range(5)
STATE_WORDS = ("tied_up", "driven", "neutral", "tied_up", "tied_up")

# Relative size below which a length counts as zero: far above rounding (1e-15), far below any gear geometry.
ZERO = 1e-9
# Unlike ratios, so that no coincidence hides whether a chart line is a gear at all.
GENERIC = (1.83, 2.41, 2.07, 2.89, 1.67, 2.23, 3.11, 1.97)
# Torque and speed smaller than this (in multiples of the input's) count as none: rounding is 1e-12 at most.
NOTHING = 1e-7


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

    def applied(self, state: GearState) -> Flags:
        """Mark what is applied in a line: all but the one-way clutches that decide for themselves."""
        mask = self.mask(state.closed)
        mask[list(self.one_way)] = False
        return mask

    def masks(self, states: Iterable[GearState]) -> Flags:
        """Mark what holds in each of some lines, one-way clutches included, shape (n, n_couplings)."""
        return np.array([self.mask(state.closed) for state in states])

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


@dataclass(frozen=True, slots=True)
class Driven:
    """What a set of applied elements makes of the input under drive.

    Args:
        state: `driven`, `neutral` or `tied_up`.
        ratio: input over output speed, negative in reverse, or None.
        holding: ids of one-way clutches that hold.
        brakes_engine: whether the same ratio stays when the vehicle drives the engine.
    """

    state: str
    ratio: float | None = None
    holding: tuple[str, ...] = ()
    brakes_engine: bool = False


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
        basis=basis,
        rows=rows.reshape(len(train.couplings), basis.shape[1]),
        b_in=full[numbers[train.driven_at]],
        b_out=train.output_sign * full[numbers[OUTPUT]],
        places={c.id: place for place, c in enumerate(train.couplings)},
        one_way=tuple(place for place, _ in known),
        lets=tuple(lets for _, lets in known),
    )


def generic_motion(train: Train, shift: int = 0) -> Motion:
    """Compile the train with stand-in ratios where they are unknown: enough to tell gears from tie-ups.

    Args:
        shift: which of the stand-ins comes first; what another one changes depends on the ratios.
    """
    stand_ins = islice(cycle(GENERIC), shift, None)
    return compile_motion(train.with_ratios(dict(zip(train.unknown(), stand_ins, strict=False))))


def turn_forward(train: Train, states: list[GearState], motion: Motion) -> Train:
    """Count the output's direction so that forward gears come out positive (parallel shafts reverse it)."""
    forward = [state for state in states if not state.reverse]
    if not forward:
        return train
    result = analyse_states(motion, motion.masks(forward))
    if (result.out < 0).sum() * 2 <= (result.kind == DRIVEN).sum():
        return train
    return replace(train, output_sign=-train.output_sign)


def _join_nodes(train: Train) -> dict[str, str]:
    """Name for every node the first node of the group that it turns with."""
    tops: dict[str, str] = {}
    alone = [name for mesh in train.meshes for name in (mesh.member, mesh.base, mesh.carrier)]
    alone += [name for coupling in train.couplings for name in (coupling.first, coupling.second)]
    for group in (*train.joined, *((name,) for name in (*alone, train.driven_at, OUTPUT))):
        met = {tops.setdefault(name, name) for name in group}
        tops |= {name: tops[group[0]] for name, top in tops.items() if top in met}
    return tops


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


def load_couplings(motion: Motion, closed: Flags, states: States) -> Array:
    """Give the torque on each coupling as `solve_torques` does, shape (n, n_couplings); 0 where nothing is driven."""
    torque = np.zeros(closed.shape)
    driven = states.kind == DRIVEN
    if driven.any():
        torque[driven] = solve_torques(motion, closed[driven])[0]
    return torque


def resolve_drive(motion: Motion, closed: Flags, lost: Flags) -> list[Driven]:
    """Find for each set of applied elements which one-way clutches hold under drive, and the gear that results.

    A one-way clutch holds if the torque on it pushes the way it locks, and else overruns; a set in which no
    choice fits is neutral where the applied elements alone leave it free, and tied up otherwise.

    Args:
        closed: couplings applied or seized, shape (n, n_couplings); free one-way clutches are not among them.
        lost: couplings that can never hold, shape (n, n_couplings).
    """
    count = len(closed)
    bare = analyse_states(motion, closed)
    found: list[Driven | None] = [None] * count
    waiting = np.arange(count)
    for size in range(len(motion.one_way) + 1):
        for chosen in combinations(range(len(motion.one_way)), size):
            places = [motion.one_way[item] for item in chosen]
            usable = waiting[~(lost[waiting][:, places] | closed[waiting][:, places]).any(axis=1)]
            if not len(usable):
                continue
            held = closed[usable].copy()
            held[:, places] = True
            fits, out = _fits(motion, held, lost[usable], chosen)
            names = tuple(name for name, place in motion.places.items() if place in places)
            for place in np.flatnonzero(fits):
                case = int(usable[place])
                brakes = bare.kind[case] == DRIVEN and abs(bare.out[case] - out[place]) < NOTHING
                found[case] = Driven("driven", 1.0 / float(out[place]), names, bool(brakes))
            waiting = np.array([case for case in waiting if found[case] is None], dtype=int)
            if not len(waiting):
                return [item for item in found if item is not None]
    left = {int(case): Driven(STATE_WORDS[bare.kind[case] if bare.kind[case] != DRIVEN else 0]) for case in waiting}
    return [left[case] if item is None else item for case, item in enumerate(found)]


def _fits(motion: Motion, held: Flags, lost: Flags, chosen: tuple[int, ...]) -> tuple[Flags, Array]:
    """Tell in which states the chosen one-way clutches carry load the right way and the others overrun."""
    states = analyse_states(motion, held)
    fits = (states.kind == DRIVEN) & (np.abs(states.out) > NOTHING)
    for item, place in enumerate(motion.one_way):
        if item in chosen:
            continue
        row = motion.rows[place]
        speed = states.q @ row * motion.lets[item]
        floats = np.einsum("nij,i,j->n", states.free, row, row) > NOTHING
        fits &= (speed > -NOTHING) | floats | lost[:, place] | held[:, place]
    driven = np.flatnonzero(fits)
    if chosen and len(driven):
        torque, _ = solve_torques(motion, held[driven])
        for item in chosen:
            fits[driven] &= torque[:, motion.one_way[item]] * motion.lets[item] > NOTHING
    return fits, states.out


def find_directions(motion: Motion, chart: Flags, free: tuple[int, ...]) -> tuple[dict[int, int], dict[int, list[int]]]:
    """Read off the chart which way each one-way clutch must lock: the way in which its gears load it.

    Args:
        chart: couplings closed in each gear of the chart, one-way clutches included, shape (n, n_couplings).
        free: rows of the one-way clutches asked about.
    Returns: row -> direction as in `Coupling.lets` (missing where no gear loads it), and row -> the states that
        load it the other way.
    """
    states = analyse_states(motion, chart)
    driven = np.flatnonzero(states.kind == DRIVEN)
    torque = load_couplings(motion, chart, states)
    found: dict[int, int] = {}
    against: dict[int, list[int]] = {}
    for place in free:
        loaded = [state for state in driven if chart[state, place] and abs(torque[state, place]) > NOTHING]
        sure = [state for state in loaded if not _is_shared(motion, chart[state], place)] or loaded
        if not sure:
            continue
        found[place] = 1 if torque[sure[0], place] > 0 else -1
        against[place] = [int(state) for state in sure if torque[state, place] * found[place] < 0]
    return found, against


def _is_shared(motion: Motion, closed: Flags, place: int) -> bool:
    """Tell whether the gear would stand without this coupling, so that its load is a guess."""
    without = closed.copy()
    without[place] = False
    return bool(analyse_states(motion, without[None, :]).kind[0] != NEUTRAL)
