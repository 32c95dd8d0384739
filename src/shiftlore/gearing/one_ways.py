"""Let one-way clutches decide for themselves, and say what every lost or stuck element leaves of a gear."""

from dataclasses import dataclass
from itertools import combinations

import numpy as np

from shiftlore.gearing.motions import (
    DRIVEN,
    NEUTRAL,
    STATE_WORDS,
    Array,
    Flags,
    Motion,
    analyse_states,
    solve_torques,
)

# Torque and speed smaller than this (in multiples of the input's) count as none: rounding is 1e-12 at most.
NOTHING = 1e-7


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
    torque = np.zeros(chart.shape)
    if len(driven):
        torque[driven] = solve_torques(motion, chart[driven])[0]
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
