"""Hypotheses of one or several causes, and what jobs leave of them."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from support.situations import single_causes

from shiftlore.basics import UsageProblem
from shiftlore.planning import Hypotheses

PAIR = Hypotheses(("a", "b"), ((0,), (1,), (0, 1)))


def test_uncured__a_pair_is_cured_only_when_both_are_put_right():
    assert [0.0, 1.0, 1.0] == pytest.approx(PAIR.uncured(np.array([0.0, 1.0])), abs=1e-12)
    assert [0.0, 0.0, 0.0] == pytest.approx(PAIR.uncured(np.array([0.0, 0.0])), abs=1e-12)


def test_uncured__imperfect_jobs_on_a_pair():
    # 1 - (1 - .1)(1 - .2), by hand
    assert pytest.approx(0.28, abs=1e-12) == PAIR.uncured(np.array([0.1, 0.2]))[2]


def test_persist__half_cured_pair_becomes_the_other_cause():
    assert [0.0, 0.8, 0.0] == pytest.approx(PAIR.persist(np.array([0.2, 0.3, 0.5]), np.array([0.0, 1.0])), abs=1e-12)


@given(st.lists(st.floats(0, 1), min_size=2, max_size=2), st.lists(st.floats(0.01, 1), min_size=3, max_size=3))
def test_persist__law_what_is_lost_is_the_probability_of_a_cure(missed, weights):
    missed, weights = np.array(missed), np.array(weights)
    assert weights @ PAIR.uncured(missed) == pytest.approx(PAIR.persist(weights, missed).sum(), abs=1e-12)


def test_persist__remainder_must_be_a_hypothesis():
    lonely_pair = Hypotheses(("a", "b"), ((0, 1),))
    with pytest.raises(UsageProblem, match="must be a hypothesis"):
        lonely_pair.persist(np.ones(1), np.array([0.0, 1.0]))


def test_cause_probabilities__a_pair_counts_for_both():
    assert [0.7, 0.8] == pytest.approx(PAIR.cause_probabilities(np.array([0.2, 0.3, 0.5])), abs=1e-12)


def test_is_single__only_without_pairs():
    assert single_causes(["a", "b"]).is_single
    assert not PAIR.is_single


@pytest.mark.parametrize("member", [(), (2,), (-1,)])
def test_hypotheses__member_out_of_range(member):
    with pytest.raises(UsageProblem):
        Hypotheses(("a", "b"), (member,))
