"""What may be wrong with the vehicle now, as weights over hypotheses, and what jobs do to them."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from shiftlore.basics import UsageProblem
from shiftlore.network import Survival


@dataclass(frozen=True)
class Hypotheses:
    """The ways in which the vehicle may be faulty: one cause, several together, or something unknown.

    "Something unknown" is a cause like the rest, which no job (or only the exchange) cures.

    Args:
        causes: ids of the causes.
        members: per hypothesis the positions of the causes that are at work in it, at least one.
    Raises: UsageProblem: a hypothesis without a cause, or one cause's position out of range.
    """

    causes: tuple[str, ...]
    members: tuple[tuple[int, ...], ...]

    def __post_init__(self) -> None:
        for member in self.members:
            if not member or min(member) < 0 or max(member) >= len(self.causes):
                raise UsageProblem("Each hypothesis names at least one known cause.")

    @cached_property
    def survival(self) -> Survival:
        """What work leaves of each hypothesis."""
        return Survival(self.members, len(self.causes))

    @property
    def is_single(self) -> bool:
        """Whether exactly one cause is at work in every hypothesis."""
        return self.survival.is_single

    @cached_property
    def incidence(self) -> np.ndarray:
        """1 where a cause is at work in a hypothesis, shape (n_hypotheses, n_causes)."""
        table = np.zeros((len(self.members), len(self.causes)))
        for row, member in enumerate(self.members):
            table[row, list(member)] = 1.0
        return table

    def cause_probabilities(self, belief: np.ndarray) -> np.ndarray:
        """Probability that each cause is at work, shape (..., n_causes)."""
        return belief @ self.incidence

    def uncured(self, missed: np.ndarray) -> np.ndarray:
        """Probability that the problem persists, when each cause escapes with `missed` (see `Survival`).

        Args:
            missed: p that a cause survives the jobs, shape (..., n_causes).
        Returns: shape (..., n_hypotheses).
        """
        return self.survival.persists(missed)

    def persist(self, weights: np.ndarray, missed: np.ndarray) -> np.ndarray:
        """Weights of what is wrong *now*, after jobs after which the problem persists (see `Survival`).

        Args:
            weights: shape (..., n_hypotheses); the sum of a row falls by the probability of a cure.
            missed: p that a cause survives the jobs, shape (n_causes,).
        Raises: UsageProblem: what is left of a hypothesis is not itself among the hypotheses.
        """
        return self.survival.carry_over(weights, missed)
