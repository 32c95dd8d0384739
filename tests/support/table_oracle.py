"""An oracle from plain tables, for models small enough to be solved by brute force."""

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from shiftlore.basics import ImpossibleEvidence, UnknownId
from shiftlore.planning import Hypotheses, Outcomes


@dataclass(frozen=True, eq=False)
class TableOracle:
    """An oracle from plain tables: checks are independent given the hypothesis.

    Args:
        belief: shape (n_hypotheses,), sum 1.
        tables: per check its outcomes.
    """

    hypotheses: Hypotheses
    belief: np.ndarray
    tables: Mapping[str, Outcomes]

    def outcomes(self, check_id: str) -> Outcomes:
        """All outcomes of one check under each hypothesis."""
        if check_id not in self.tables:
            raise UnknownId(f"No check is called {check_id}.")
        return self.tables[check_id]

    def likelihoods(self, check_id: str) -> np.ndarray:
        """The same without their names."""
        return self.outcomes(check_id).likelihoods

    def after(self, check_id: str, outcome: int) -> "TableOracle":
        """The oracle once the check has shown that outcome."""
        return self._weighing(self.belief * self.outcomes(check_id).likelihoods[outcome], check_id)

    def persists(self, missed: np.ndarray) -> "TableOracle":
        """The oracle once jobs were done and the problem persists."""
        return self._weighing(self.hypotheses.persist(self.belief, missed), "repair")

    def _weighing(self, weights: np.ndarray, source: str) -> "TableOracle":
        total = weights.sum()
        if total <= 0.0:
            raise ImpossibleEvidence([source])
        return replace(self, belief=weights / total)
