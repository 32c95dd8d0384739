"""What may be wrong with the vehicle now, as weights over hypotheses, and what jobs do to them."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from shiftlore.basics import UsageProblem


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

    @classmethod
    def of_single_causes(cls, causes: Sequence[str]) -> "Hypotheses":
        """Hypotheses in which exactly one cause is at work."""
        return cls(tuple(causes), tuple((i,) for i in range(len(causes))))

    @cached_property
    def padded(self) -> np.ndarray:
        """Member positions, shape (n_hypotheses, widest); the pad points one behind the last cause."""
        widest = max(len(member) for member in self.members)
        rows = [list(member) + [len(self.causes)] * (widest - len(member)) for member in self.members]
        return np.array(rows, dtype=np.intp)

    @cached_property
    def is_single(self) -> bool:
        """Whether exactly one cause is at work in every hypothesis."""
        return self.padded.shape[1] == 1

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
        """Probability that the problem persists, when each cause at work escapes with `missed`.

        All causes at work must be put right before the problem is gone (Srinivas 1995).

        Args:
            missed: p that a cause survives the jobs, shape (..., n_causes).
        Returns: shape (..., n_hypotheses).
        """
        if self.is_single:
            return missed[..., self.padded[:, 0]]
        padded = np.concatenate([missed, np.zeros((*missed.shape[:-1], 1))], axis=-1)
        return 1.0 - np.prod(1.0 - padded[..., self.padded], axis=-1)

    def persist(self, weights: np.ndarray, missed: np.ndarray) -> np.ndarray:
        """Weights of what is wrong *now*, after jobs after which the problem persists.

        A pair of which one cause was put right becomes the other cause alone; the weight of what was
        cured is dropped, so the sum of a row falls by the probability of a cure.

        Args:
            weights: shape (..., n_hypotheses).
            missed: p that a cause survives the jobs, shape (n_causes,).
        Raises: UsageProblem: what is left of a hypothesis is not itself among the hypotheses.
        """
        if self.is_single:
            return weights * missed[self.padded[:, 0]]
        return weights @ self.transition(missed)

    def transition(self, missed: np.ndarray) -> np.ndarray:
        """p of going from each hypothesis to each that is left after the jobs, shape (n_hyp, n_hyp)."""
        place = {frozenset(member): i for i, member in enumerate(self.members)}
        table = np.zeros((len(self.members), len(self.members)))
        for row, member in enumerate(self.members):
            for left, p in _survivors(member, missed):
                if p > 0.0 and left:
                    if left not in place:
                        raise UsageProblem("What is left after a cure must be a hypothesis too.")
                    table[row, place[left]] += p
        return table


def _survivors(member: tuple[int, ...], missed: np.ndarray) -> list[tuple[frozenset[int], float]]:
    """Every set of causes that may be left of one hypothesis, with its probability."""
    found: list[tuple[frozenset[int], float]] = [(frozenset(), 1.0)]
    for cause in member:
        p_left = float(missed[cause])
        found = [
            entry
            for left, p in found
            for entry in ((left | {cause}, p * p_left), (left, p * (1.0 - p_left)))
        ]
    return found
