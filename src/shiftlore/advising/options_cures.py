"""The chance that jobs end the complaint, over everything that may be wrong, and its spread.

A complaint is gone when no cause that can bring it about is left. Each cause is put right by a set of jobs with
1 minus the product of what each job leaves; of two causes both must be put right. Where nothing known is wrong there
is nothing to put right, so that part counts as not cured.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from shiftlore.advising.situations import cures_of
from shiftlore.compiling import CompiledCase, Faults, draw_faults
from shiftlore.ranking import DRAW_SEED, HIGH_PERCENT, LOW_PERCENT, N_DRAWS

SMALLEST_SHAPE = 1e-3
"""Shapes of a Beta below this make its draws all 0 or 1; kept just above zero."""


@dataclass(frozen=True, eq=False)
class Cures:
    """What each job puts right on this case, with the spread of the strengths.

    Args:
        p_states: belief over root states now, the failed jobs of this visit counted, shape (n_states,).
        means: job -> p that it puts right each cause, shape (n_causes,).
        drawn_states: belief under draws of the rules' numbers, shape (n_draws, n_states).
        drawn: job -> drawn strengths, shape (n_draws, n_causes).
    """

    faults: Faults
    p_states: np.ndarray
    means: Mapping[str, np.ndarray]
    drawn_states: np.ndarray
    drawn: Mapping[str, np.ndarray]

    def missed_by(self, jobs: Sequence[str]) -> np.ndarray:
        """P that each cause survives the jobs, shape (n_causes,)."""
        return np.prod([1.0 - self.means[job] for job in jobs], axis=0) if jobs else np.ones(len(self.faults.causes))

    def cured_by(self, missed: np.ndarray) -> np.ndarray:
        """Chance of a cure in each root state, shape (..., n_states); 0 where nothing known is wrong.

        Args:
            missed: p that each cause survives the jobs, shape (..., n_causes).
        """
        return 1.0 - self.faults.survival.persists(missed)

    def p_cured(self, jobs: Sequence[str]) -> float:
        """Give the chance that the jobs end the complaint."""
        return float(self.p_states @ self.cured_by(self.missed_by(jobs))) if jobs else 0.0

    def p_reached(self, jobs: Sequence[str]) -> float:
        """Give the chance if each cause were put right by its surest job alone.

        A second job against the same cause adds little at the bench (new seals in a valve body that is exchanged
        anyway), so bundles are grown by this and not by `p_cured`.
        """
        missed = np.min([1.0 - self.means[job] for job in jobs], axis=0)
        return float(self.p_states @ self.cured_by(missed))

    def draw_cured(self, jobs: Sequence[str]) -> np.ndarray:
        """Give the chance of a cure under each draw of the rules' numbers, shape (n_draws,)."""
        if not jobs:
            return np.zeros(len(self.drawn_states))
        missed = np.prod([1.0 - self.drawn[job] for job in jobs], axis=0)
        return np.sum(self.drawn_states * self.cured_by(missed), axis=1)

    def spread(self, jobs: Sequence[str]) -> tuple[float, float]:
        """Give the 5th and 95th percentile of the chance, never on the wrong side of the chance itself."""
        p = self.p_cured(jobs)
        low, high = np.percentile(self.draw_cured(jobs), [LOW_PERCENT, HIGH_PERCENT])
        return min(float(low), p), max(float(high), p)


def prepare_cures(compiled: CompiledCase, jobs: Sequence[str], n_draws: int = N_DRAWS) -> Cures:
    """Tabulate what jobs put right, and draw from every spread that bears on it.

    Args:
        jobs: expanded ids that may be offered.
        n_draws: how many draws; always the same ones, so that a case is always told the same.
    """
    rng = np.random.default_rng(DRAW_SEED)
    drawn_states = compiled.carry_over(draw_faults(compiled, rng, n_draws))
    means = dict(zip(jobs, cures_of(compiled, jobs), strict=True))
    drawn = {job: _draw_strengths(compiled, job, rng, n_draws) for job in jobs}
    return Cures(compiled.faults, compiled.faults_now, means, drawn_states, drawn)


def _draw_strengths(compiled: CompiledCase, job: str, rng: np.random.Generator, n_draws: int) -> np.ndarray:
    """Draw how surely a job puts right each cause, shape (n_draws, n_causes); what it does not touch stays 0.

    One word is one number throughout: causes cured with the same word move together.
    """
    found = np.zeros((n_draws, len(compiled.causes)))
    words: dict[tuple[float, float], np.ndarray] = {}
    for position, cause in enumerate(compiled.causes):
        strength = compiled.expansion.cures[job].get(cause)
        if strength is None:
            continue
        key = (strength.p, strength.weight)
        if key not in words:
            words[key] = _draw_beta(strength.p, strength.weight, rng, n_draws)
        found[:, position] = words[key]
    return found


def _draw_beta(p: float, weight: float, rng: np.random.Generator, n_draws: int) -> np.ndarray:
    """Draw around a mean; an infinite weight keeps the mean."""
    if not np.isfinite(weight):
        return np.full(n_draws, p)
    return rng.beta(max(p * weight, SMALLEST_SHAPE), max((1 - p) * weight, SMALLEST_SHAPE), size=n_draws)
