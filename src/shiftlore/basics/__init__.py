"""Places in files, problems found there, and the error classes that every room shares."""

from shiftlore.basics.later import open_later
from shiftlore.basics.problems import (
    CaseError,
    ImpossibleEvidence,
    KnowledgeError,
    Mark,
    Problem,
    ShiftloreError,
    UnknownId,
    UsageProblem,
    nearest,
    render_problem,
)
