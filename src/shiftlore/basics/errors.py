"""The errors that leave a room; everything smaller is a `Problem`."""

from collections.abc import Sequence

from shiftlore.basics.problems import Problem, render_problem


class ShiftloreError(ValueError):
    """Something that the person at the bench can put right."""


class _ProblemsError(ShiftloreError):
    """An error that carries every problem found, not only the first."""

    def __init__(self, problems: Sequence[Problem]):
        self.problems = tuple(problems)
        super().__init__("\n".join(render_problem(problem) for problem in self.problems))


class KnowledgeError(_ProblemsError):
    """The knowledge or a unit sheet has problems; `problems` holds all of them."""


class CaseError(_ProblemsError):
    """A case has problems; `problems` holds all of them."""


class UnknownId(ShiftloreError):
    """An id that nothing in the knowledge carries."""


class UsageProblem(ShiftloreError):
    """A command was asked for something that it cannot do as written."""


class ImpossibleEvidence(ShiftloreError):
    """The answers have probability zero together.

    Args:
        clash: ids of a smallest set of findings found that cannot all be true.
    """

    def __init__(self, clash: Sequence[str]):
        self.clash = tuple(clash)
        super().__init__(
            "These answers cannot all be true together: " + ", ".join(self.clash)
            + ". Take one of them back, or enter it with doubt."
        )
