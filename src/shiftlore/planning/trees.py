"""The whole order of checks as a tree: what to do after every answer, down to where checking stops."""

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from shiftlore.planning.choosing import Decision, LookAhead, Step, choose_step, start_bench
from shiftlore.planning.costs import Situation
from shiftlore.planning.readings import Oracle, Outcomes

SURELY_NOT = 1e-12
"""Branches less probable than this are impossible but for rounding."""

MOST_SUSPECTS = 6
"""Causes kept per place, likeliest first; a wall has room for fewer."""


@dataclass(frozen=True, slots=True)
class Branch:
    """What happens with one answer.

    Args:
        labels: the answers that lead here; several where rare ones are folded or all lead to the same jobs.
        p: probability of them, given that the node above is reached.
        node: what to do then; None where rare answers are folded, to be planned when they come.
        answers: per label what it says, finding -> grade; empty where outcomes are only numbered.
    """

    labels: tuple[str, ...]
    p: float
    node: "TreeNode | None"
    answers: tuple[Mapping[str, str], ...] = ()


@dataclass(frozen=True, slots=True)
class TreeNode:
    """One thing to do, or a place to stop.

    Args:
        kind: ``check``, ``job`` (branches: persists), ``stop`` (checking ends: do the batches in order) or
            ``deep`` (the tree is cut off at its depth; the batches are the plan by jobs alone).
        ids: what to do now; for ``stop`` and ``deep`` the jobs of the first batch.
        p_reach: probability of coming here.
        cost: of this step alone; 0 for ``stop`` and ``deep``.
        labour_minutes: of this step alone.
        expected_total: from here on, this step included.
        p_cured: for jobs and stops, that they end the problem.
        batches: the plan of jobs, for ``stop`` and ``deep``; empty means that leaving it costs less.
        branches: most probable first.
        suspects: likeliest causes on coming here, each with its probability, likeliest first.
        reason: of a ``stop``, why checking ends, as of `Stop`.
    """

    kind: str
    ids: tuple[str, ...]
    p_reach: float
    cost: float
    labour_minutes: float
    expected_total: float
    p_cured: float = 0.0
    batches: tuple[tuple[str, ...], ...] = ()
    branches: tuple[Branch, ...] = ()
    suspects: tuple[tuple[str, float], ...] = ()
    reason: str = ""


def grow_tree(
    situation: Situation,
    oracle: Oracle,
    max_depth: int = 4,
    p_fold: float = 0.02,
    look: LookAhead | None = None,
    *,
    first: Decision | None = None,
) -> TreeNode:
    """Grow the tree of what to do after every answer, small enough to hang on a wall.

    Args:
        max_depth: at most so many steps on any way through the tree.
        p_fold: answers that make a place less probable than this, seen from the top, are folded together.
        look: how far the planner thinks at each place; two steps by default.
        first: what was chosen for the top already, so that the tree begins as the list of steps does.
    """
    return _Grower(p_fold, look or LookAhead()).grow(situation, oracle, max_depth, 1.0, first)


def count_nodes(node: TreeNode) -> int:
    """How many boxes the tree has."""
    return 1 + sum(count_nodes(branch.node) for branch in node.branches if branch.node is not None)


@dataclass(frozen=True, slots=True)
class _Grower:
    """Grows places of a tree; what is reached more rarely than `p_fold` is folded."""

    p_fold: float
    look: LookAhead

    def grow(
        self, situation: Situation, oracle: Oracle, depth: int, p_reach: float, chosen: Decision | None = None
    ) -> TreeNode:
        """Grow the place that is reached with `p_reach`, at most `depth` steps on."""
        p_causes = situation.hypotheses.cause_probabilities(np.asarray(oracle.belief))
        suspects = sorted(zip(situation.hypotheses.causes, p_causes.tolist(), strict=True), key=lambda one: -one[1])
        place = self._grow_place(situation, oracle, depth, p_reach, chosen)
        return replace(place, suspects=tuple(suspects[:MOST_SUSPECTS]))

    def _grow_place(
        self, situation: Situation, oracle: Oracle, depth: int, p_reach: float, chosen: Decision | None
    ) -> TreeNode:
        choice = chosen or choose_step(situation, oracle, self.look)
        leaving = situation.uncured_cost + float(situation.access.close_costs[situation.opened])
        step = choice.steps[0] if choice.steps else None
        if step is None or step.expected_total >= leaving:
            return _leaf("stop", choice, p_reach)
        if step.kind == "job":  # is there a check that could follow its failure?
            gives_up = situation.jobs[situation.job_index(step.ids[0])].gives_up
            if gives_up or not situation.checks or step.p_cured > 1.0 - SURELY_NOT:
                return _leaf("stop", choice, p_reach)
        if depth <= 0:
            return _leaf("deep", choice, p_reach)
        if step.kind == "job":
            return self._grow_job(situation, oracle, choice, depth, p_reach)
        return self._grow_check(situation, oracle, step, depth, p_reach)

    def _grow_job(self, situation: Situation, oracle: Oracle, choice: Decision, depth: int, p_reach: float) -> TreeNode:
        step = choice.steps[0]
        batch = tuple(situation.job_index(job) for job in step.ids)
        p_left = 1.0 - step.p_cured
        following, total = None, step.expected_total
        if p_reach * p_left >= self.p_fold:
            later = replace(
                situation.without(jobs=batch), opened=0, budget=start_bench(situation).spend(step.cost.total)
            )
            after = oracle.persists(situation.missed_by(batch))
            following = self.grow(later, after, depth - 1, p_reach * p_left)
            total = step.cost.total + p_left * (situation.comeback_cost + following.expected_total)
            if following.kind == "stop" and choice.stop.advised and total >= choice.plan.expected_total:
                return _leaf("stop", choice, p_reach)
        return TreeNode(
            kind="job",
            ids=step.ids,
            p_reach=p_reach,
            cost=step.cost.total,
            labour_minutes=step.cost.labour_minutes,
            expected_total=total,
            p_cured=step.p_cured,
            branches=(Branch(("persists",), p_left, following),),
        )

    def _grow_check(self, situation: Situation, oracle: Oracle, step: Step, depth: int, p_reach: float) -> TreeNode:
        check = step.ids[0]
        place = situation.check_index(check)
        cost, minutes, opened = situation.reach_check(place, situation.opened)
        later = replace(situation.without(checks=(place,)), opened=opened, budget=start_bench(situation).spend(cost))
        outcomes = oracle.outcomes(check)
        p = outcomes.likelihoods @ np.asarray(oracle.belief)
        branches, folded = [], []
        for outcome in np.argsort(-p, kind="stable"):
            share = float(p[outcome])
            if share * p_reach < self.p_fold:
                folded += [int(outcome)] if share > SURELY_NOT else []
                continue
            node = self.grow(later, oracle.after(check, int(outcome)), depth - 1, p_reach * share)
            branches.append(_branch_on(outcomes, [int(outcome)], share, node))
        branches = _merge_leaves(branches)
        p_folded = float(p[folded].sum())
        total = cost + sum(branch.p * branch.node.expected_total for branch in branches if branch.node)
        total += p_folded * step.expected_total_after
        if folded:
            branches.append(_branch_on(outcomes, folded, p_folded, None))
        return TreeNode(
            kind="check",
            ids=(check,),
            p_reach=p_reach,
            cost=cost,
            labour_minutes=minutes,
            expected_total=total,
            branches=tuple(branches),
        )


def _leaf(kind: str, choice: Decision, p_reach: float) -> TreeNode:
    plan = choice.plan
    return TreeNode(
        kind=kind,
        ids=plan.batches[0] if plan.batches else (),
        p_reach=p_reach,
        cost=0.0,
        labour_minutes=0.0,
        expected_total=plan.expected_total,
        p_cured=plan.p_cured,
        batches=plan.batches,
        reason=choice.stop.reason if kind == "stop" else "",
    )


def _branch_on(outcomes: Outcomes, chosen: list[int], p: float, node: TreeNode | None) -> Branch:
    labels = tuple(outcomes.labels[outcome] for outcome in chosen)
    answers = tuple(outcomes.answers[outcome] for outcome in chosen) if outcomes.answers else ()
    return Branch(labels, p, node, answers)


def _mix_suspects(
    some: tuple[tuple[str, float], ...], share: float, others: tuple[tuple[str, float], ...]
) -> tuple[tuple[str, float], ...]:
    """Weigh the suspects of two places; who is not listed at one counts as not suspected there."""
    mixed = {cause: share * p for cause, p in some}
    for cause, p in others:
        mixed[cause] = mixed.get(cause, 0.0) + (1.0 - share) * p
    return tuple(sorted(mixed.items(), key=lambda one: -one[1])[:MOST_SUSPECTS])


def _merge_leaves(branches: list[Branch]) -> list[Branch]:
    """Put answers together after which exactly the same jobs are done in the same order."""
    merged: dict[object, Branch] = {}
    for place, branch in enumerate(branches):
        node = branch.node
        key = (node.kind, node.batches) if node is not None and not node.branches else place
        first = merged.get(key)
        if first is not None and first.node is not None and node is not None:
            one, p = first.node, first.p + branch.p
            joined = replace(
                one,
                p_reach=one.p_reach + node.p_reach,
                expected_total=(first.p * one.expected_total + branch.p * node.expected_total) / p,
                p_cured=(first.p * one.p_cured + branch.p * node.p_cured) / p,
                suspects=_mix_suspects(one.suspects, first.p / p, node.suspects),
            )
            branch = Branch(first.labels + branch.labels, p, joined, first.answers + branch.answers)
        merged[key] = branch
    return list(merged.values())
