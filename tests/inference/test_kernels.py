"""Joins of gate axes, against the definition of a maximum written out as loops (Diez 1993)."""

import itertools

import numpy as np
import pytest

from shiftlore.inference.kernels import GRADIENT_FIRST, GRADIENT_SECOND, join, join_gradient


def join_by_loops(first: np.ndarray, second: np.ndarray, kinds: str, size: int) -> np.ndarray:
    """Join two arrays of equal gate axes entry by entry; the last axis holds rows."""
    n = len(kinds) // 2
    joined = np.zeros((size,) * n + first.shape[-1:])
    for a in itertools.product(range(size), repeat=n):
        for b in itertools.product(range(size), repeat=n):
            out = []
            source_a, source_b = list(a), list(b)
            for axis in range(n):
                kind = kinds[2 * axis : 2 * axis + 2]
                top = max(a[axis], b[axis])
                if kind == "FF":
                    out.append(top)
                elif kind == "RF":
                    out.append(a[axis])
                    source_a[axis] = top
                else:
                    out.append(b[axis])
                    source_b[axis] = top
            joined[tuple(out)] += first[tuple(source_a)] * second[tuple(source_b)]
    return joined


@pytest.mark.parametrize("size", [2, 3])
@pytest.mark.parametrize("kinds", ["FF", "RF", "FR", "FFFF", "RFFF", "FRRF", "FFFFFF"])
def test_join__equals_the_maximum_written_out(kinds, size):
    rng = np.random.default_rng(len(kinds) + size)
    n = len(kinds) // 2
    first, second = rng.random((2, *(size,) * n, 4))
    axes = tuple((axis, kinds[2 * axis : 2 * axis + 2]) for axis in range(n))
    assert join_by_loops(first, second, kinds, size) == pytest.approx(join(first, second, axes), abs=1e-12)


def test_join__large_arrays_go_slice_by_slice():
    rng = np.random.default_rng(1)
    first, second = rng.random((2, 2, 2, 2, 3000))
    axes = ((0, "FF"), (1, "RF"), (2, "FR"))
    small = [join(first[..., [row]], second[..., [row]], axes) for row in range(5)]
    assert np.concatenate(small, axis=-1) == pytest.approx(join(first, second, axes)[..., :5], abs=1e-12)


def test_join__plain_axes_are_multiplied():
    first, second = np.array([[1.0, 2.0]]), np.array([[3.0], [5.0]])
    assert np.array([[3.0, 6.0], [5.0, 10.0]]) == pytest.approx(join(first, second, ()), abs=1e-15)


@pytest.mark.parametrize("kind", ["FF", "RF", "FR"])
@pytest.mark.parametrize("size", [2, 4])
def test_join_gradient__equals_the_difference_quotient(kind, size):
    """A join is linear in each array, so a unit step gives the derivative exactly."""
    rng = np.random.default_rng(size)
    first, second, weight = rng.random((3, size, 1))
    axes = ((0, kind),)
    base = (join(first, second, axes) * weight).sum()
    by_first = join_gradient(weight, second, axes, GRADIENT_FIRST, ())
    by_second = join_gradient(weight, first, axes, GRADIENT_SECOND, ())
    for state in range(size):
        step = np.eye(size)[:, [state]]
        assert (join(first + step, second, axes) * weight).sum() - base == pytest.approx(by_first[state, 0], abs=1e-12)
        assert (join(first, second + step, axes) * weight).sum() - base == pytest.approx(by_second[state, 0], abs=1e-12)


def test_join_gradient__adds_up_axes_that_the_array_lacks():
    gradient, other = np.ones((2, 3, 1)), np.arange(6.0).reshape(2, 3, 1)
    assert np.array([[[3.0], [12.0]]]).reshape(2, 1, 1) == pytest.approx(
        join_gradient(gradient, other, (), GRADIENT_FIRST, (1,)), abs=1e-15
    )
