"""Running plans over many rows."""

import numpy as np
import pytest

from shiftlore.inference.planning import make_plan
from shiftlore.inference.plans import Factor, Structure, run_plan

STRUCTURE = Structure((2, 3), 2, (Factor((0, 1)),))
TABLE = np.random.default_rng(1).random((2, 3, 1))


def test_run_plan__rows_are_independent():
    rng = np.random.default_rng(2)
    unary = [rng.random((2, 5)), rng.random((3, 5))]
    log_p, _ = run_plan(make_plan(STRUCTURE), unary, [TABLE], 5, True, {})
    for row in range(5):
        single = [array[:, [row]] for array in unary]
        alone, _ = run_plan(make_plan(STRUCTURE), single, [TABLE], 1, True, {})
        assert alone[0] == pytest.approx(log_p[row], abs=1e-14)


def test_run_plan__gradients_weigh_up_to_one():
    """The sum is linear in each unary factor, so factor times derivative of the logarithm adds up to 1."""
    rng = np.random.default_rng(3)
    unary = [rng.random((2, 4)), rng.random((3, 4))]
    _, gradients = run_plan(make_plan(STRUCTURE), unary, [TABLE], 4, True, {})
    for node, gradient in gradients.items():
        assert np.ones(4) == pytest.approx((unary[node] * gradient).sum(axis=0), abs=1e-14)


def test_run_plan__impossible_row_is_minus_infinity_not_nan():
    unary = [np.array([[1.0, 0.0], [1.0, 0.0]]), np.ones((3, 2))]
    log_p, gradients = run_plan(make_plan(STRUCTURE), unary, [TABLE], 2, True, {})
    assert np.isfinite(log_p[0])
    assert log_p[1] == -np.inf
    assert all(np.isfinite(gradient).all() for gradient in gradients.values())


def test_run_plan__forwards_only_gives_no_gradients():
    _, gradients = run_plan(make_plan(STRUCTURE), [np.ones((2, 1)), np.ones((3, 1))], [TABLE], 1, False, {})
    assert gradients == {}


def test_run_plan__keeps_tables_between_runs():
    factors = (Factor((2,), frozenset({2})), Factor((0, 2)), Factor((1, 2)))
    structure, kept = Structure((2, 2, 2), 2, factors), {}
    constants = [np.ones((2, 1)), np.ones((2, 2, 1)), np.ones((2, 2, 1))]
    first, _ = run_plan(make_plan(structure), [np.ones((2, 1))] * 2, constants, 1, True, kept)
    assert kept
    second, _ = run_plan(make_plan(structure), [np.ones((2, 1))] * 2, constants, 1, True, kept)
    assert first == pytest.approx(second, abs=0)
