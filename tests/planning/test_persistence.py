"""Repaired, and it persists."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from support.situations import flat_jobs, one_job_per_cause

from shiftlore.basics import ImpossibleEvidence
from shiftlore.planning import Hypotheses, believe_after_failure, carry_over

SINGLES = Hypotheses.of_single_causes("abc")


@given(st.lists(st.floats(0.01, 1), min_size=3, max_size=3))
def test_carry_over__b21_repaired_is_sound_and_the_others_keep_their_odds(weights):
    # repair and watch: Breese and Heckerman 1996
    belief = np.array(weights) / sum(weights)
    after = carry_over(SINGLES, belief, np.array([0.0, 1.0, 1.0]))
    assert 0.0 == after[0]
    assert belief[1] / belief[2] == pytest.approx(after[1] / after[2], rel=1e-9)


def test_carry_over__b21_old_evidence_stays_with_the_old_slice():
    # weighing the old symptom before the repair or deleting it are not the same
    prior, p_old = np.array([0.5, 0.3, 0.2]), np.array([0.9, 0.1, 0.6])
    kept = carry_over(SINGLES, prior * p_old / (prior @ p_old), np.array([0.0, 1.0, 1.0]))
    deleted = carry_over(SINGLES, prior, np.array([0.0, 1.0, 1.0]))
    assert [0.0, 0.2, 0.8] == pytest.approx(kept, abs=1e-12)
    assert kept[1] != pytest.approx(deleted[1], abs=0.1)


def test_carry_over__symptom_in_the_new_slice_is_new_evidence():
    after = carry_over(SINGLES, np.array([0.5, 0.3, 0.2]), np.array([0.0, 1.0, 1.0]), np.array([0.9, 0.2, 0.9]))
    assert [0.0, 0.25, 0.75] == pytest.approx(after, abs=1e-12)


def test_carry_over__imperfect_work_leaves_some_weight():
    after = carry_over(SINGLES, np.array([0.5, 0.3, 0.2]), np.array([0.1, 1.0, 1.0]))
    assert pytest.approx(0.05 / 0.55, abs=1e-12) == after[0]


def test_carry_over__one_of_a_pair_put_right_leaves_the_other():
    pair = Hypotheses(("a", "b"), ((0,), (1,), (0, 1)))
    after = carry_over(pair, np.array([0.4, 0.0, 0.6]), np.array([0.0, 1.0]))
    assert [0.0, 1.0, 0.0] == pytest.approx(after, abs=1e-12)


def test_carry_over__nothing_left_names_the_repair():
    with pytest.raises(ImpossibleEvidence, match="overhaul"):
        carry_over(SINGLES, np.array([1.0, 0.0, 0.0]), np.zeros(3), evidence=("overhaul",))


def test_believe_after_failure__by_the_ids_of_the_jobs():
    situation, belief = one_job_per_cause(flat_jobs([0.5, 0.3, 0.2], [1, 1, 1]))
    assert [0.0, 0.0, 1.0] == pytest.approx(believe_after_failure(situation, belief, ("job0", "job1")), abs=1e-12)
