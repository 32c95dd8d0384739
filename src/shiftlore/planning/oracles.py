"""Where the planner learns what a check may show."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Protocol

import numpy as np


@dataclass(frozen=True, slots=True, eq=False)
class Outcomes:
    """What a check may show.

    Args:
        labels: one name per joint outcome.
        likelihoods: p of each outcome under each hypothesis given the answers so far, shape
            (n_outcomes, n_hypotheses); columns sum to 1.
        answers: per outcome what it says, finding -> grade; empty where outcomes are only numbered.
    """

    labels: tuple[str, ...]
    likelihoods: np.ndarray
    answers: tuple[Mapping[str, str], ...] = ()


class Oracle(Protocol):
    """Answers, for the evidence so far, what is believed and what each check would show."""

    @property
    def belief(self) -> np.ndarray:
        """Weight of each hypothesis now, shape (n_hypotheses,), sum 1."""

    def outcomes(self, check_id: str) -> Outcomes:
        """All joint outcomes of one check under each hypothesis."""

    def after(self, check_id: str, outcome: int) -> "Oracle":
        """The oracle once the check has shown that outcome."""

    def persists(self, missed: np.ndarray) -> "Oracle":
        """The oracle once jobs were done (`missed`: p that a cause survives) and the problem persists."""


def join_outcomes(parts: list[Outcomes]) -> Outcomes:
    """Joint outcomes of several checks made in one go, taken as independent given the hypothesis."""
    joint = parts[0]
    for part in parts[1:]:
        labels = tuple(f"{left}; {right}" for left in joint.labels for right in part.labels)
        answers = tuple({**left, **right} for left in joint.answers for right in part.answers)
        table = (joint.likelihoods[:, None, :] * part.likelihoods[None, :, :]).reshape(-1, part.likelihoods.shape[1])
        joint = Outcomes(labels, table, answers)
    return joint
