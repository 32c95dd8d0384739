"""Find set ratios that a manual does not print from the gear ratios that it does, and prove them on the rest."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from shiftlore.gearing.motions import Array, number_nodes
from shiftlore.gearing.trains import CASE, OUTPUT, GearState, Train

# Fractions of the allowed range (logarithmic) from which the search starts: the middle first, then spread out.
STARTS = (0.45, 0.25, 0.65, 0.1, 0.85)
STEPS = 40
SMALLEST_STEP = 1e-9
MOST_DAMPING = 1e6
# Small against any mesh (1) and large against rounding (1e-16): keeps members that float from making S singular.
SOFT = 1e-10
GOOD_FIT = 0.004
PASSABLE_FIT = 0.01
SAME_FIT = 1e-5
# A direction in which no stated ratio moves by more than this share is not determined by them.
BLIND = 1e-5


@dataclass(frozen=True, slots=True)
class Solution:
    """Set ratios found from stated gear ratios.

    Args:
        train: the train with every mesh ratio filled in.
        solved_from: gears that fix the unknown ratios.
        proved_on: gears left over, with the error of each in percent when only the former are used.
        open_sets: sets that the stated ratios do not determine; a usual value stands in.
        worst_percent: largest error over all stated gears of the final fit.
    """

    train: Train
    solved_from: tuple[str, ...]
    proved_on: dict[str, float]
    open_sets: tuple[str, ...]
    worst_percent: float


class _Search:
    """Errors of the stated ratios as a function of the logarithms of the unknown mesh ratios.

    Per gear all speeds w solve `S w = e_in`, with S the sum of squares of every mesh and closed element, the input's
    speed set to 1 and a trace of `SOFT` that keeps floating members still; the slope follows from the same S.
    """

    def __init__(self, train: Train, gears: Sequence[GearState]):
        self.train = train
        self.places = np.array(train.unknown(), dtype=int)
        self.gears = [gear for gear in gears if gear.ratio is not None]
        self.stated = np.array([gear.ratio for gear in self.gears], dtype=float)
        self.low = np.log([train.meshes[place].low for place in self.places])
        self.high = np.log([train.meshes[place].high for place in self.places])
        numbers, count = number_nodes(train)
        eye = np.vstack([np.eye(count), np.zeros((1, count))])
        self.signs = np.array([mesh.sign for mesh in train.meshes], dtype=float)
        self.fixed = np.array([eye[numbers[mesh.member]] - eye[numbers[mesh.carrier]] for mesh in train.meshes])
        self.rolling = np.array([eye[numbers[mesh.carrier]] - eye[numbers[mesh.base]] for mesh in train.meshes])
        self.ratios = np.array([mesh.ratio or 0.0 for mesh in train.meshes], dtype=float)
        rows = {c.id: eye[numbers[c.first]] - c.factor * eye[numbers[c.second]] for c in train.couplings}
        self.e_in, self.e_out = eye[numbers[train.driven_at]], train.output_sign * eye[numbers[OUTPUT]]
        base = SOFT * np.eye(count) + np.outer(self.e_in, self.e_in)
        closed = [[np.outer(rows[item], rows[item]) for item in gear.closed] for gear in self.gears]
        self.holding = np.array([base + sum(parts, np.zeros((count, count))) for parts in closed])

    def filled(self, x: Array) -> Train:
        """Put the ratios in."""
        return self.train.with_ratios(dict(zip(self.places.tolist(), np.exp(x).tolist(), strict=True)))

    def measure(self, x: Array) -> tuple[Array, Array]:
        """Give the error per gear (output speed times stated ratio, less 1) and its slope per unknown."""
        ratios = self.ratios.copy()
        ratios[self.places] = np.exp(x)
        mesh = self.fixed + (self.signs * ratios)[:, None] * self.rolling
        ends = np.broadcast_to(np.stack([self.e_in, self.e_out], axis=1), (len(self.gears), len(self.e_in), 2))
        found = np.linalg.solve(self.holding + mesh.T @ mesh, ends)
        speeds, reach = found[:, :, 0], found[:, :, 1]
        push = (speeds @ self.rolling[self.places].T) * (reach @ mesh[self.places].T)
        slope = -push * (self.signs * ratios)[self.places] * self.stated[:, None]
        return (speeds @ self.e_out) * self.stated - 1.0, slope

    def descend(self, x: Array, use: Sequence[int]) -> tuple[Array, Array, Array]:
        """Run damped Gauss-Newton from x over the gears in `use`; give the point, and all errors and slopes there."""
        chosen = list(use)
        now, slope = self.measure(x)
        damping = 1e-3
        for _ in range(STEPS):
            gradient = slope[chosen].T @ now[chosen]
            normal = slope[chosen].T @ slope[chosen]
            step = 0.0
            while damping < MOST_DAMPING:
                blunt = damping * np.diag(np.diag(normal) + 1e-9)
                move = np.clip(np.linalg.solve(normal + blunt, -gradient), -0.5, 0.5)
                trial = np.clip(x + move, self.low, self.high)
                then, there = self.measure(trial)
                if (then[chosen] ** 2).sum() < (now[chosen] ** 2).sum():
                    step = float(np.abs(trial - x).max())
                    x, now, slope = trial, then, there
                    damping = max(damping / 10, 1e-12)
                    break
                damping *= 10
            if step < SMALLEST_STEP:
                break
        return x, now, slope


def solve_ratios(train: Train, gears: Sequence[GearState], quick: bool = False) -> Solution:
    """Find the unknown mesh ratios of a train by least squares over the stated gear ratios.

    Args:
        train: at least one mesh ratio unknown.
        gears: the chart; gears without a stated ratio do not count.
        quick: give up after a few starting points.
    Source: Levenberg 1944, Marquardt 1963 for the damping; Willis 1841 for the gear ratios.
    """
    sure = _Search(train, gears)
    found = _search_best(sure, quick)
    if found[0] > GOOD_FIT and any(mesh.carrier == CASE for mesh in train.meshes):
        turned = _Search(replace(train, output_sign=-train.output_sign), gears)
        other = _search_best(turned, quick)
        if other[0] < found[0]:
            sure, found = turned, other
    return _prove(sure, *found[1:])


def _search_best(search: _Search, quick: bool) -> tuple[float, Array, Array, Array]:
    """Descend from start to start until the fit is good, or a passable one has been found twice."""
    best: tuple[float, Array, Array, Array] | None = None
    for start in _starts(search, quick):
        x, error, slope = search.descend(start, range(len(search.gears)))
        worst = float(np.abs(error).max()) if len(error) else 0.0
        again = best is not None and abs(worst - best[0]) < SAME_FIT and worst < PASSABLE_FIT
        if best is None or worst < best[0]:
            best = (worst, x, error, slope)
        if worst < GOOD_FIT or again:
            break
    assert best is not None
    return best


def _starts(search: _Search, quick: bool) -> list[Array]:
    span = search.high - search.low
    plain = [search.low + share * span for share in STARTS]
    if quick:
        return plain[:3]
    generator = np.random.default_rng(12)
    return plain + [search.low + generator.random(len(span)) * span for _ in range(3 + 2 * len(span))]


def _prove(search: _Search, x: Array, error: Array, slope: Array) -> Solution:
    """Choose the gears that fix the unknowns best, solve from those alone, and measure the others."""
    used = _choose_rows(slope, len(x))
    after = search.descend(x, used)[1] if used else error
    proved = {
        gear.name: float(100 * abs(1 / (1 + after[row]) - 1)) if after[row] > -1 else 100.0
        for row, gear in enumerate(search.gears)
        if row not in used
    }
    return Solution(
        search.filled(x),
        tuple(search.gears[row].name for row in used),
        proved,
        _blind_sets(search, slope),
        float(100 * np.abs(error).max()) if len(error) else 0.0,
    )


def _choose_rows(slope: Array, count: int) -> list[int]:
    """Pick rows that span the columns best (pivoted Gram-Schmidt)."""
    left = slope.copy()
    chosen: list[int] = []
    for _ in range(min(count, len(slope))):
        sizes = (left**2).sum(axis=1)
        row = int(sizes.argmax())
        if sizes[row] < BLIND**2:
            break
        chosen.append(row)
        along = left[row] / np.sqrt(sizes[row])
        left = left - (left @ along)[:, None] * along[None, :]
    return sorted(chosen)


def _blind_sets(search: _Search, slope: Array) -> tuple[str, ...]:
    """Name the sets whose ratio could change without any stated ratio noticing."""
    size = len(search.places)
    _, sizes, right = np.linalg.svd(slope) if len(slope) else (None, np.zeros(0), np.eye(size))
    rank = int((sizes > BLIND).sum())
    loose = (right[rank:] ** 2).sum(axis=0) > 1e-3 if rank < size else np.zeros(size, dtype=bool)
    names = [search.train.meshes[place].set_id for item, place in enumerate(search.places) if loose[item]]
    return tuple(dict.fromkeys(names))
