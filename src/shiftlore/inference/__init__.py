"""Exact posteriors on a network, fast enough to think ahead; knows nothing of the trade."""

from shiftlore.inference.engine import Engine, Evidence, prepare
from shiftlore.inference.results import (
    Hypotheses,
    JointOutcome,
    Outcomes,
    Posterior,
    Retractions,
    Turn,
)

__all__ = [
    "Engine",
    "Evidence",
    "Hypotheses",
    "JointOutcome",
    "Outcomes",
    "Posterior",
    "Retractions",
    "Turn",
    "prepare",
]
