"""Places in files, problems found there, and the error classes that every room shares."""

from shiftlore.basics.errors import (
    CaseError,
    ImpossibleEvidence,
    KnowledgeError,
    ShiftloreError,
    UnknownId,
    UsageProblem,
)
from shiftlore.basics.problems import Mark, Problem, nearest, render_problem

__all__ = [
    "CaseError",
    "ImpossibleEvidence",
    "KnowledgeError",
    "Mark",
    "Problem",
    "ShiftloreError",
    "UnknownId",
    "UsageProblem",
    "nearest",
    "render_problem",
]
