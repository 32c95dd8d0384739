"""Repaired, and the problem persists: what is believed in the time slice after a repair.

Evidence seen before the repair stays with the slice before it; it is never deleted, and the repaired cause
is never simply set to absent in the old slice. In the new slice the repaired cause is sound (or, where the
work may have failed, present with what is left of its weight), every other cause is as it was, and the
symptom that is still there is new evidence (Breese and Heckerman 1996).
"""

import numpy as np

from shiftlore.basics import ImpossibleEvidence
from shiftlore.planning.beliefs import Hypotheses
from shiftlore.planning.costs import Situation


def believe_after_failure(situation: Situation, belief: np.ndarray, jobs: tuple[str, ...]) -> np.ndarray:
    """Belief about the vehicle now, after jobs were done and the problem persists.

    Args:
        belief: weights before the jobs, given all evidence until then, shape (n_hypotheses,).
        jobs: ids of the jobs done.
    Returns: shape (n_hypotheses,), sum 1.
    Raises: ImpossibleEvidence: the jobs would have cured everything that was possible.
    """
    batch = tuple(situation.job_index(job) for job in jobs)
    return carry_over(situation.hypotheses, belief, situation.missed_by(batch), evidence=jobs)


def carry_over(
    hypotheses: Hypotheses,
    belief: np.ndarray,
    missed: np.ndarray,
    p_symptom: np.ndarray | None = None,
    evidence: tuple[str, ...] = (),
) -> np.ndarray:
    """Carry a belief into the slice after a repair, and weigh it with the symptom seen there.

    Args:
        belief: weights in the old slice, shape (n_hypotheses,).
        missed: p that each cause survives the repair, shape (n_causes,).
        p_symptom: p of the symptom seen afterwards under what is left, shape (n_hypotheses,); None counts
            any fault that is left as showing the problem.
        evidence: ids to name if all this is impossible together.
    Returns: belief in the new slice, shape (n_hypotheses,), sum 1.
    Raises: ImpossibleEvidence: nothing is left that could be wrong.
    """
    weights = hypotheses.persist(belief, missed)
    if p_symptom is not None:
        weights = weights * p_symptom
    total = weights.sum()
    if total <= 0.0:
        raise ImpossibleEvidence(evidence or ("repair", "symptom"))
    return weights / total
