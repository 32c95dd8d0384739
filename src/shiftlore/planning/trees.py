"""The whole order of checks as a tree: what to do after every answer, down to where checking stops."""

from collections.abc import Callable, Mapping

import numpy as np
from msgspec import Struct

from shiftlore.basics.structs import Value
from shiftlore.planning.budgets import leaves_for_budget, list_steps, look_beyond
from shiftlore.planning.choosing import Decision, LookAhead, Step, choose_step
from shiftlore.planning.costs import Situation
from shiftlore.planning.outlook import start_bench
from shiftlore.planning.readings import Oracle, Outcomes

SURELY_NOT = 1e-12
"""Branches less probable than this are impossible but for rounding."""

MOST_LEFT, LEAST_LEFT = 3, 0.05
"""Causes named as what an answer leaves, and how probable they must be."""

Fail = Callable[[Situation, Oracle, tuple[str, ...]], tuple[Situation, Oracle]]
"""Gives what can be planned, with nothing open, and what is believed once jobs, by id, were done in one go and in vain."""

RULED_OUT, WAS_LIKELY = 0.01, 0.04
"""A cause is ruled out when it falls below the one from above the other (judgement)."""

DEPTH, LEAVING, BUDGET = "depth", "leaving_costs_less", "budget"
"""Reasons for a place to be the last: the tree is cut off here; any work costs more than it helps; the money does not
pay what would."""


class Chance(Value, frozen=True):
    """A cause and how probable it is."""

    cause: str
    probability: float


class Branch(Value, frozen=True):
    """What happens with one answer.

    Args:
        labels: the answers that lead here; several where rare ones are folded or all lead to the same jobs.
        p: probability of them, given that the node above is reached.
        node: what to do then; None where rare answers are folded, to be planned when they come.
        answers: per label what it says, finding -> grade; empty where outcomes are only numbered.
        leaves: the likeliest causes then, most probable first.
        rules_out: causes that were likely and hardly are any more, the likeliest before first.
    """

    labels: tuple[str, ...]
    p: float
    node: "TreeNode | None"
    answers: tuple[Mapping[str, str], ...] = ()
    leaves: tuple[Chance, ...] = ()
    rules_out: tuple[str, ...] = ()


class TreeNode(Value, frozen=True):
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
        why: for ``stop`` and ``deep``, why it ends here: a reason of `Stop`, `DEPTH`, `LEAVING` or `BUDGET`; else "".
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
    why: str = ""


def grow_tree(
    situation: Situation,
    oracle: Oracle,
    max_depth: int = 4,
    p_fold: float = 0.02,
    look: LookAhead | None = None,
    *,
    first: Decision | None = None,
    fail: Fail | None = None,
    tell_done: Callable[[float], None] | None = None,
) -> TreeNode:
    """Grow the tree of what to do after every answer, small enough to hang on a wall.

    Args:
        max_depth: at most so many steps on any way through the tree.
        p_fold: answers that make a place less probable than this, seen from the top, are folded together.
        look: how far the planner thinks at each place; two steps by default.
        first: what was chosen for the top already, so that the tree begins as the list of steps does.
        fail: what comes after jobs in vain; by default what they may have missed.
        tell_done: called as the tree grows, with how much of all probability has been followed to its end, 0 to 1.
    """
    grower = _Grower(p_fold, look or LookAhead(), _Progress(tell_done), fail or leave_missed)
    return grower.grow(situation, oracle, max_depth, 1.0, first)


def leave_missed(situation: Situation, oracle: Oracle, jobs: tuple[str, ...]) -> tuple[Situation, Oracle]:
    """Give what is left once jobs were in vain where nothing is known but what they may have missed."""
    batch = tuple(map(situation.job_index, jobs))
    return situation.without(jobs=batch).vary(opened=0), oracle.persists(situation.missed_by(batch))


def count_nodes(node: TreeNode) -> int:
    """How many boxes the tree has."""
    return 1 + sum(count_nodes(branch.node) for branch in node.branches if branch.node is not None)


class _Progress(Struct):
    """Adds up what has been followed to its end."""

    tell: Callable[[float], None] | None
    done: float = 0.0

    def add(self, p: float) -> None:
        """Count a place that is finished and reached with `p`."""
        self.done += p
        if self.tell is not None:
            self.tell(min(self.done, 1.0))


class _Grower(Value, frozen=True):
    """Grows places of a tree; what is reached more rarely than `p_fold` is folded."""

    p_fold: float
    look: LookAhead
    progress: _Progress
    fail: Fail

    def grow(
        self, situation: Situation, oracle: Oracle, depth: int, p_reach: float, chosen: Decision | None = None
    ) -> TreeNode:
        """Grow the place that is reached with `p_reach`, at most `depth` steps on."""
        choice = chosen or choose_step(situation, oracle, self.look)
        leaving = situation.uncured_cost + float(situation.access.close_costs[situation.opened])
        beyond, why = None, LEAVING
        if situation.budget is not None:
            free = choose_step(situation.vary(budget=None), oracle, self.look)
            beyond = look_beyond(choice, free, oracle.belief)
            why = BUDGET if leaves_for_budget(choice, beyond) else LEAVING
        step = next((step for _, step in list_steps(choice, beyond, oracle.belief)), None)
        if step is None or (beyond is None and step.expected_total >= leaving):
            return self._end("stop", choice, p_reach, choice.stop.reason if choice.plan.batches else why)
        # Is there a check that could follow a job's failure?
        if step.kind == "job" and (not situation.checks or step.p_cured > 1.0 - SURELY_NOT):
            return self._end("stop", choice, p_reach)
        if depth <= 0:
            return self._end("deep", choice, p_reach, DEPTH)
        if step.kind == "job":
            return self._grow_job(situation, oracle, choice, depth, p_reach)
        same = (it for it in choice.steps if it.ids == step.ids)
        return self._grow_check(situation, oracle, next(same, step), depth, p_reach)

    def _end(self, kind: str, choice: Decision, p_reach: float, why: str = "") -> TreeNode:
        """Give a place where the tree ends; `why` is the planner's own reason unless another is given."""
        self.progress.add(p_reach)
        return _leaf(kind, choice, p_reach, why)

    def _grow_job(self, situation: Situation, oracle: Oracle, choice: Decision, depth: int, p_reach: float) -> TreeNode:
        step, total = choice.steps[0], choice.steps[0].expected_total
        p_left = 1.0 - step.p_cured
        later, after = self.fail(situation, oracle, step.ids) if p_left > SURELY_NOT else (situation, oracle)
        branch = Branch(("persists",), p_left, None)
        if p_reach * p_left >= self.p_fold:
            self.progress.add(p_reach * step.p_cured)
            later = later.vary(budget=start_bench(situation).spend(step.cost.total))
            following = self.grow(later, after, depth - 1, p_reach * p_left)
            total = step.cost.total + p_left * (situation.comeback_cost + following.expected_total)
            if following.kind == "stop" and choice.stop.advised and total >= choice.plan.expected_total:
                return _leaf("stop", choice, p_reach)
            branch = branch.vary(node=following)
        else:
            self.progress.add(p_reach)
        if p_left > SURELY_NOT:
            branch = _teach(branch.vary(leaves=_chances(later, after.belief)), situation, oracle.belief)
        return TreeNode(
            kind="job",
            ids=step.ids,
            p_reach=p_reach,
            cost=step.cost.total,
            labour_minutes=step.cost.labour_minutes,
            expected_total=total,
            p_cured=step.p_cured,
            branches=(branch,),
        )

    def _grow_check(self, situation: Situation, oracle: Oracle, step: Step, depth: int, p_reach: float) -> TreeNode:
        check = step.ids[0]
        place = situation.check_index(check)
        cost, minutes, opened = situation.reach_check(place, situation.opened)
        later = situation.without(checks=(place,)).vary(opened=opened, budget=start_bench(situation).spend(cost))
        outcomes = oracle.outcomes(check)
        p = outcomes.likelihoods @ np.asarray(oracle.belief)
        branches, folded = [], []
        for outcome in np.argsort(-p, kind="stable"):
            share = float(p[outcome])
            if share * p_reach < self.p_fold:
                folded += [int(outcome)] if share > SURELY_NOT else []
                continue
            after = oracle.after(check, int(outcome))
            node = self.grow(later, after, depth - 1, p_reach * share)
            branches.append(_branch_on(outcomes, [int(outcome)], share, node, _chances(situation, after.belief)))
        branches = _merge_leaves(branches)
        p_folded = float(p[folded].sum())
        total = cost + sum(branch.p * branch.node.expected_total for branch in branches if branch.node)
        total += p_folded * step.expected_total_after
        if folded:
            self.progress.add(p_reach * p_folded)
            rest = outcomes.likelihoods[folded].sum(axis=0) * np.asarray(oracle.belief)
            branches.append(_branch_on(outcomes, folded, p_folded, None, _chances(situation, rest / p_folded)))
        return TreeNode(
            kind="check",
            ids=(check,),
            p_reach=p_reach,
            cost=cost,
            labour_minutes=minutes,
            expected_total=total,
            branches=tuple(_teach(branch, situation, oracle.belief) for branch in branches),
        )


def _leaf(kind: str, choice: Decision, p_reach: float, why: str = "") -> TreeNode:
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
        why=why or choice.stop.reason,
    )


def _chances(situation: Situation, belief: np.ndarray) -> tuple[Chance, ...]:
    """Give every cause with its probability, in the order of the hypotheses."""
    p = situation.hypotheses.told_probabilities(np.asarray(belief))
    return tuple(Chance(cause, float(each)) for cause, each in zip(situation.hypotheses.causes, p, strict=True))


def _teach(branch: Branch, situation: Situation, belief: np.ndarray) -> Branch:
    """Keep of all causes those that an answer leaves likely, and those that it rules out."""
    likely = [one for one in branch.leaves if one.probability >= LEAST_LEFT]
    leaves = sorted(likely, key=lambda one: -one.probability)[:MOST_LEFT]
    now = {one.cause: one.probability for one in branch.leaves}
    before = sorted(_chances(situation, belief), key=lambda one: -one.probability)
    gone = (one for one in before if one.probability >= WAS_LIKELY and now.get(one.cause, 0.0) < RULED_OUT)
    return branch.vary(leaves=tuple(leaves), rules_out=tuple(one.cause for one in gone))


def _branch_on(
    outcomes: Outcomes, chosen: list[int], p: float, node: TreeNode | None, chances: tuple[Chance, ...]
) -> Branch:
    labels = tuple(outcomes.labels[outcome] for outcome in chosen)
    answers = tuple(outcomes.answers[outcome] for outcome in chosen) if outcomes.answers else ()
    return Branch(labels, p, node, answers, chances)


def _merge_leaves(branches: list[Branch]) -> list[Branch]:
    """Put answers together after which exactly the same jobs are done in the same order."""
    merged: dict[object, Branch] = {}
    for place, branch in enumerate(branches):
        node = branch.node
        key = (node.kind, node.batches or node.why) if node is not None and not node.branches else place
        first = merged.get(key)
        if first is not None and first.node is not None and node is not None:
            kept, p = first.node, first.p + branch.p
            joined = kept.vary(
                p_reach=kept.p_reach + node.p_reach,
                expected_total=(first.p * kept.expected_total + branch.p * node.expected_total) / p,
                p_cured=(first.p * kept.p_cured + branch.p * node.p_cured) / p,
            )
            chances = tuple(
                Chance(one.cause, (first.p * one.probability + branch.p * other.probability) / p)
                for one, other in zip(first.leaves, branch.leaves, strict=True)
            )
            branch = Branch(first.labels + branch.labels, p, joined, first.answers + branch.answers, chances)
        merged[key] = branch
    return list(merged.values())
