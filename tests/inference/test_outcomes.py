"""Outcomes: conditioning, and the order in which joint outcomes are listed."""

import itertools

import numpy as np
import pytest

from shiftlore.inference.outcomes import _likely_first, condition


def test_condition__impossible_outcome_changes_nothing():
    found = condition(np.array([0.5, 0.0]), np.array([[0.1], [0.0]]), np.array([0.3]))
    assert np.array([[0.2], [0.3]]) == pytest.approx(found, abs=1e-15)


def test_condition__rounding_never_leaves_the_unit_interval():
    found = condition(np.array([0.5]), np.array([[-1e-18, 0.5 + 1e-16]]), np.array([0.3, 0.3]))
    assert found.min() >= 0 and found.max() <= 1


def test_likely_first__lists_all_in_falling_order():
    marginals = {"f": np.array([0.9, 0.1]), "g": np.array([0.2, 0.5, 0.3]), "h": np.array([0.6, 0.4])}
    listed = list(_likely_first(marginals))
    p = [np.prod([marginals[name][state] for name, state in assignment.items()]) for assignment in listed]
    assert len(listed) == 12
    assert all(first >= second - 1e-15 for first, second in itertools.pairwise(p))
    assert listed[0] == {"f": 0, "g": 1, "h": 0}
