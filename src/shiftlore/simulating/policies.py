"""Ways of working to compare the planner with: the fixed habits of shops."""

from collections.abc import Sequence

import numpy as np

from shiftlore.planning import LookAhead, Oracle, Situation, choose_step, touch_probabilities
from shiftlore.simulating.quick import LEAVE, Action, Policy

WORTH_TRYING = 0.1
"""Probability of helping below which no shop tries a job but offers the last resort: judgement."""

SURE_ENOUGH = 0.8
"""Probability from which the habits that follow checks stop checking and do the job: judgement."""


def follow_planner(look: LookAhead | None = None) -> Policy:
    """The planner with all its thinking ahead, as a policy (slow; `QuickPlanner` is the fast one)."""

    def act(situation: Situation, oracle: Oracle) -> Action:
        choice = choose_step(situation, oracle, look)
        leaving = situation.uncured_cost + float(situation.access.close_costs[situation.opened])
        if not choice.steps or choice.steps[0].expected_total >= leaving:
            return LEAVE
        step = choice.steps[0]
        return Action("job", step.ids) if step.kind == "job" else Action("check", step.ids[:1])

    return act


def cheapest_check_first(situation: Situation, oracle: Oracle) -> Action:
    """Make the cheapest check that is left until one job is sure enough, then do the likeliest job."""
    if situation.checks and _surest_job(situation, oracle)[1] < SURE_ENOUGH:
        costs = [situation.reach_check(check, situation.opened)[0] for check in range(len(situation.checks))]
        return Action("check", (situation.checks[int(np.argmin(costs))].id,))
    return likeliest_cause_first(situation, oracle)


def likeliest_cause_first(situation: Situation, oracle: Oracle) -> Action:
    """Check nothing; do the job that most probably helps, then the next, at last the last resort."""
    job, p = _surest_job(situation, oracle)
    if job is not None and p >= WORTH_TRYING:
        return Action("job", (job,))
    return _give_up(situation)


def in_fixed_order(checks: Sequence[str]) -> Policy:
    """Make the checks of a list in its order until one job is sure enough, whatever they cost.

    Args:
        checks: ids, for example fluid, pan, scan, pressure, teardown.
    """

    def act(situation: Situation, oracle: Oracle) -> Action:
        open_checks = {check.id for check in situation.checks}
        following = next((check for check in checks if check in open_checks), None)
        if following is None or _surest_job(situation, oracle)[1] >= SURE_ENOUGH:
            return likeliest_cause_first(situation, oracle)
        return Action("check", (following,))

    return act


def straight_to(job: str) -> Policy:
    """Do one job at once (the overhaul), then what is likeliest."""

    def act(situation: Situation, oracle: Oracle) -> Action:
        if any(open_job.id == job for open_job in situation.jobs):
            return Action("job", (job,))
        return likeliest_cause_first(situation, oracle)

    return act


def _surest_job(situation: Situation, oracle: Oracle) -> tuple[str | None, float]:
    """The ordinary job that most probably puts something right, and that probability."""
    if not situation.ordinary:
        return None, 0.0
    p = touch_probabilities(situation)[list(situation.ordinary)] @ np.asarray(oracle.belief)
    best = int(np.argmax(p))
    return situation.jobs[situation.ordinary[best]].id, float(p[best])


def _give_up(situation: Situation) -> Action:
    """The cheapest last resort, if it costs less than leaving the vehicle uncured."""
    costs = {situation.batch_cost((job,), situation.opened): job for job in situation.last_resorts}
    if not costs or min(costs) >= situation.uncured_cost:
        return LEAVE
    return Action("job", (situation.jobs[costs[min(costs)]].id,))
