"""How cheap it could be at best: certificates to print beside a plan."""

import numpy as np

from shiftlore.planning.costs import Situation
from shiftlore.planning.ordering import carry_out_inside, order_by_access


def bound_known_fault(situation: Situation, belief: np.ndarray) -> float:
    """Expected cost if every fault were known beforehand: no plan, with or without checks, is cheaper.

    Per fault the jobs that help are tried in the order of probability over cost; opening, closing and test
    are charged once, at their cheapest.

    Args:
        belief: weights, shape (n_hypotheses,).
    Source: Vomlelova and Vomlel 2003 (admissible).
    """
    per_cause = np.array([_bound_cause(situation, cause) for cause in range(len(situation.hypotheses.causes))])
    per_hypothesis = np.array([max(per_cause[list(member)]) for member in situation.hypotheses.members])
    return float(belief @ per_hypothesis)


def _bound_cause(situation: Situation, cause: int) -> float:
    """Lower bound on the cost of a vehicle known to have one cause."""
    ending = _ending_now(situation)
    helps = [job for job in situation.ordinary if situation.cures[job, cause] > 0.0]
    if not helps:
        return ending
    access = [situation.access_cost(int(situation.job_masks[job]), situation.opened) for job in helps]
    spent, rest, best = min(access) + situation.test_cost, 1.0, ending
    key = [situation.job_costs[job] / situation.cures[job, cause] for job in helps]
    for place in np.argsort(key, kind="stable"):
        job = helps[int(place)]
        spent += situation.job_costs[job] * rest
        rest *= 1.0 - situation.cures[job, cause]
        best = min(best, spent + rest * _ending_closed(situation))
    return float(best)


def bound_inside(situation: Situation, belief: np.ndarray) -> float | None:
    """Cost of the best order if each job could be judged with things open, and one test.

    Holds for plans of jobs alone (a check may do better), for one cause at a time and jobs that do not
    overlap; otherwise there is no such bound and None comes back.
    """
    jobs = situation.ordinary
    helped = (situation.cures[list(jobs)] > 0.0).sum(axis=0) if jobs else np.zeros(1)
    if not situation.hypotheses.is_single or helped.max(initial=0) > 1:
        return None
    if not jobs:
        return float(belief.sum()) * _ending_now(situation)
    tree, opened, whole = situation.access, situation.opened, float(belief.sum())
    p = situation.cures[list(jobs)] @ situation.hypotheses.cause_probabilities(belief)
    costs = situation.job_costs[list(jobs)]
    levels = [tree.index[situation.jobs[job].access] for job in jobs]
    order = [job for block in order_by_access(p, costs, levels, tree, opened) for job in block.jobs]
    steps = carry_out_inside(order, p, costs, levels, tree, opened, whole)
    start = whole * (situation.test_cost + float(tree.close_costs[opened]))
    stops = [start + spent + rest * _ending_closed(situation) for spent, rest in steps]
    return float(min(whole * _ending_now(situation), *stops))


def _ending_now(situation: Situation) -> float:
    """Least cost of ending the plan at once, closing what is open included."""
    leaving = situation.uncured_cost + float(situation.access.close_costs[situation.opened])
    return min([leaving, *(situation.batch_cost((job,), situation.opened) for job in situation.last_resorts)])


def _ending_closed(situation: Situation) -> float:
    """Least cost of ending the plan later, when everything is closed again."""
    return min([situation.uncured_cost, *(situation.batch_cost((job,)) for job in situation.last_resorts)])
