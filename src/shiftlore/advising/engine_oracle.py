"""The exact engine as the planner's oracle: outcomes of checks given all answers so far."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from shiftlore.basics import ImpossibleEvidence
from shiftlore.compiling import CompiledCase
from shiftlore.exact import Doubted
from shiftlore.planning import (
    FindingTable,
    Layout,
    Outcomes,
    Weighing,
    join_independently,
    lay_out,
    tabulate_check,
    tabulate_finding,
)

EXACT_CHECKS = 3
"""Checks whose findings are joined exactly; the others take them as independent given what is at work."""

NO_OUTCOME = "nothing_new"


@dataclass(frozen=True, eq=False)
class EngineOracle:
    """Beliefs and outcomes from the engine.

    Args:
        reveals: findings of each check that are not known yet.
        evidence: all answers so far.
        missed: p that each cause of the hypotheses has survived the jobs done, shape (n_kept + 2,).
        exact_checks: of how many of the most telling checks the findings are joined exactly.
        exact_later: the same once something more has been answered.
    """

    compiled: CompiledCase
    weighing: Weighing
    reveals: Mapping[str, tuple[str, ...]]
    evidence: Mapping[str, int | Doubted]
    missed: np.ndarray
    exact_checks: int = EXACT_CHECKS
    exact_later: int = 0

    @cached_property
    def belief(self) -> np.ndarray:
        """Weight of each hypothesis now, shape (n_hypotheses,), sum 1.

        Answers given before a failed repair are weighed before it; what is left is carried over.
        """
        before = self.weighing.gather(self.compiled.engine.posterior(self.evidence)[0])
        weights = self.weighing.hypotheses.persist(before, self.missed) if (self.missed < 1.0).any() else before
        if weights.sum() <= 0.0:
            raise ImpossibleEvidence(("repair",))
        return weights / weights.sum()

    @cached_property
    def findings(self) -> dict[str, FindingTable]:
        """Tables of all open findings that a check could reveal."""
        names = sorted({name for group in self.reveals.values() for name in group if name not in self.evidence})
        seen = self.compiled.engine.predict(self.evidence, names)
        nodes = self.compiled.expansion.findings
        return {
            name: tabulate_finding(name, nodes[name].grades, self.weighing.average(seen[name]), self.belief)
            for name in names
        }

    @cached_property
    def tables(self) -> dict[str, Outcomes]:
        """Joint outcomes of every check that can tell anything."""
        layouts = {key: self._lay_out(group) for key, group in self.reveals.items()}
        telling = {key: layout for key, layout in layouts.items() if layout is not None}
        several = [key for key, layout in telling.items() if len(layout.combined) + len(layout.in_turn) > 1]
        several.sort(key=lambda key: -sum(table.nats for table in telling[key].combined))
        exact = set(several[: self.exact_checks])
        return {
            key: tabulate_check(layout, self._join_exactly if key in exact else join_independently(layout))
            for key, layout in telling.items()
        }

    def outcomes(self, check_id: str) -> Outcomes:
        """All joint outcomes of one check; a single empty one where it can tell nothing new."""
        if check_id in self.tables:
            return self.tables[check_id]
        return Outcomes((NO_OUTCOME,), np.ones((1, len(self.belief))), ({},))

    def after(self, check_id: str, outcome: int) -> "EngineOracle":
        """The oracle once the check has shown that outcome."""
        return self.answered(self.outcomes(check_id).answers[outcome])

    def answered(self, answers: Mapping[str, str]) -> "EngineOracle":
        """The oracle once findings have been answered: finding -> grade."""
        nodes = self.compiled.expansion.findings
        more = {finding: nodes[finding].grades.index(grade) for finding, grade in answers.items()}
        return replace(self, evidence={**self.evidence, **more}, exact_checks=self.exact_later)

    def persists(self, missed: np.ndarray) -> "EngineOracle":
        """The oracle once jobs were done and the problem persists."""
        return replace(self, missed=self.missed * missed)

    def _lay_out(self, group: Sequence[str]) -> Layout | None:
        return lay_out([self.findings[name] for name in group if name in self.findings])

    def _join_exactly(self, assignments: Sequence[Mapping[str, int]]) -> np.ndarray:
        return self.weighing.average(self.compiled.engine.predict_jointly(self.evidence, assignments))
