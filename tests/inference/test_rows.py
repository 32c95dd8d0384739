"""Rows of changed unary factors."""

import numpy as np
import pytest

from shiftlore.inference.rows import UNCHANGED, multiply_vectors


def test_multiply_vectors__common_variables_are_multiplied_others_kept():
    first, second = {"a": np.array([1, 0.5]), "b": np.array([1, 0.2])}, {"a": np.array([1, 0.1])}
    product = multiply_vectors(first, second)
    assert pytest.approx(product["a"], abs=1e-15) == [1, 0.05]
    assert pytest.approx(product["b"], abs=1e-15) == [1, 0.2]
    assert pytest.approx(first["a"], abs=0) == [1, 0.5]


def test_unchanged__is_one_row_without_changes():
    assert UNCHANGED.n_rows == 1
    assert not UNCHANGED.vectors and not UNCHANGED.watched and not UNCHANGED.released
