"""Find set ratios that a manual does not print from the gear ratios that it does, and prove them on the rest."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from shiftlore.gearing.motions import DRIVEN, Array, analyse_states, compile_motion
from shiftlore.gearing.trains import CASE, GearState, Train

# Fractions of the allowed range (logarithmic) from which the search starts: the middle first, then spread out.
STARTS = (0.45, 0.25, 0.65, 0.1, 0.85)
STEPS = 40
NUDGE = 1e-6
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
    """Residuals of the stated ratios as a function of the logarithms of the unknown mesh ratios."""

    def __init__(self, train: Train, gears: Sequence[GearState]):
        self.train = train
        self.places = train.unknown()
        self.gears = [gear for gear in gears if gear.ratio is not None]
        self.stated = np.array([gear.ratio for gear in self.gears], dtype=float)
        self.low = np.log([train.meshes[place].low for place in self.places])
        self.high = np.log([train.meshes[place].high for place in self.places])
        order = {coupling.id: row for row, coupling in enumerate(train.couplings)}
        self.closed = np.zeros((len(self.gears), len(train.couplings)), dtype=bool)
        for row, gear in enumerate(self.gears):
            self.closed[row, [order[item] for item in gear.closed]] = True

    def filled(self, x: Array) -> Train:
        """Put the ratios in."""
        return self.train.with_ratios(dict(zip(self.places, np.exp(x).tolist(), strict=True)))

    def residuals(self, x: Array) -> Array:
        """Give per gear: output speed times stated ratio, less 1; 1 where the state is no gear."""
        states = analyse_states(compile_motion(self.filled(x)), self.closed)
        return np.where(states.kind == DRIVEN, states.out * self.stated - 1.0, 1.0)

    def jacobian(self, x: Array, at: Array) -> Array:
        """Differentiate the residuals numerically, shape (n_gears, n_unknown)."""
        columns = []
        for place in range(len(x)):
            moved = x.copy()
            moved[place] += NUDGE
            columns.append((self.residuals(moved) - at) / NUDGE)
        return np.array(columns).T

    def descend(self, x: Array, use: Sequence[int]) -> tuple[Array, Array]:
        """Run damped Gauss-Newton from x over the gears in `use`; give the point and all residuals there."""
        now = self.residuals(x)
        damping = 1e-3
        for _ in range(STEPS):
            slope = self.jacobian(x, now)[list(use)]
            gradient = slope.T @ now[list(use)]
            normal = slope.T @ slope
            moved, step = False, 0.0
            while damping < 1e6:
                move = np.linalg.solve(normal + damping * (np.diag(np.diag(normal)) + 1e-9 * np.eye(len(x))), -gradient)
                trial = np.clip(x + np.clip(move, -0.5, 0.5), self.low, self.high)
                then = self.residuals(trial)
                if (then[list(use)] ** 2).sum() < (now[list(use)] ** 2).sum():
                    step = float(np.abs(trial - x).max())
                    x, now, moved = trial, then, True
                    damping = max(damping / 10, 1e-12)
                    break
                damping *= 10
            if not moved or step < 1e-10:
                break
        return x, now


def solve_ratios(train: Train, gears: Sequence[GearState]) -> Solution:
    """Find the unknown mesh ratios of a train by least squares over the stated gear ratios.

    Args:
        train: at least one mesh ratio unknown.
        gears: the chart; gears without a stated ratio do not count.
    Source: Levenberg 1944, Marquardt 1963 for the damping; Willis 1841 for the gear ratios.
    """
    sure = _Search(train, gears)
    found = _search_best(sure)
    if found[0] > GOOD_FIT and any(mesh.carrier == CASE for mesh in train.meshes):
        turned = _Search(replace(train, output_sign=-train.output_sign), gears)
        other = _search_best(turned)
        if other[0] < found[0]:
            sure, found = turned, other
    return _prove(sure, found[1], found[2])


def _search_best(search: _Search) -> tuple[float, Array, Array]:
    """Descend from start to start until the fit is good, or a passable one has been found twice."""
    best: tuple[float, Array, Array] | None = None
    for start in _starts(search):
        x, error = search.descend(start, range(len(search.gears)))
        worst = float(np.abs(error).max()) if len(error) else 0.0
        again = best is not None and abs(worst - best[0]) < SAME_FIT and worst < PASSABLE_FIT
        if best is None or worst < best[0]:
            best = (worst, x, error)
        if worst < GOOD_FIT or again:
            break
    assert best is not None
    return best


def _starts(search: _Search) -> list[Array]:
    span = search.high - search.low
    plain = [search.low + share * span for share in STARTS]
    generator = np.random.default_rng(12)
    spread = [search.low + generator.random(len(span)) * span for _ in range(3 + 3 * len(span))]
    return plain + spread


def _prove(search: _Search, x: Array, error: Array) -> Solution:
    """Choose the gears that fix the unknowns best, solve from those alone, and measure the others."""
    slope = search.jacobian(x, error) if len(search.gears) else np.zeros((0, len(x)))
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
