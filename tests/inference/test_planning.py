"""Plans of structures, run against plain sums over all states."""

import numpy as np
import pytest

from shiftlore.inference.planning import make_plan
from shiftlore.inference.plans import Factor, Structure, run_plan


def run_once(structure: Structure, unary: list, constants: list):
    """Run a plan on a single row."""
    arrays = [np.asarray(array, float)[:, None] for array in unary]
    tables = [np.asarray(array, float)[..., None] for array in constants]
    return run_plan(make_plan(structure), arrays, tables, 1, True, {})


def test_make_plan__two_variables_and_a_table():
    unary, table = [[0.3, 0.7], [1.0, 0.5]], np.array([[0.9, 0.1], [0.2, 0.8]])
    log_p, gradients = run_once(Structure((2, 2), 2, (Factor((0, 1)),)), unary, [table])
    total = np.einsum("a,b,ab->", *map(np.array, unary), table)
    assert np.log(total) == pytest.approx(log_p[0], abs=1e-14)
    assert table @ unary[1] / total == pytest.approx(gradients[0][:, 0], abs=1e-14)


def test_make_plan__gate_of_two_causes():
    """Two causes of .3 and .2 with links .9 and .5, no leak; the gate has fired (hand formula of the noisy-OR)."""
    factors = (Factor((2,), frozenset({2})), Factor((0, 2)), Factor((1, 2)))
    links = [[[1, 0], [0.1, 0.9]], [[1, 0], [0.5, 0.5]]]
    log_p, _ = run_once(Structure((2, 2, 2), 2, factors), [[0.7, 0.3], [0.8, 0.2]], [[0, 1], *links])
    assert pytest.approx(np.exp(log_p[0]), abs=1e-14) == 1 - (0.7 + 0.3 * 0.1) * (0.8 + 0.2 * 0.5)


def test_make_plan__separate_parts_have_separate_ends():
    plan = make_plan(Structure((2, 2, 2, 2), 4, (Factor((0, 1)), Factor((2, 3)))))
    assert len(plan.ends) == 2
    assert plan.touched == {0, 1, 2, 3}


def test_make_plan__equal_leaves_are_stacked():
    """Twelve causes of one gate make one stacked operation, not twelve."""
    factors = (Factor((12,), frozenset({12})), *(Factor((node, 12)) for node in range(12)))
    plan = make_plan(Structure((2,) * 13, 12, factors))
    assert len(plan.operations) <= 4


def test_make_plan__chain_of_tables_stays_narrow():
    factors = tuple(Factor((node, node + 1)) for node in range(30))
    assert make_plan(Structure((3,) * 31, 31, factors)).largest <= 9
