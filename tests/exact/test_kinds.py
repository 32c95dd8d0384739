"""Columns that are alike, and sets of them, are found again."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shiftlore.exact.kinds import find_kinds, gather_sets

law = settings(max_examples=60, deadline=None, derandomize=True)


@given(st.lists(st.lists(st.sampled_from([0.0, 0.5, 1.0]), min_size=2, max_size=2), min_size=1, max_size=8))
@law
def test_find_kinds__columns_of_one_kind_are_equal_and_kinds_differ(columns: list[list[float]]) -> None:
    rows = np.array(columns).T
    first, inverse = find_kinds(rows)
    assert np.array_equal(rows, rows[:, first][:, inverse])
    assert len(first) == len({tuple(column) for column in columns})


def test_find_kinds__of_draws_keeps_each_draw_apart() -> None:
    rows = np.array([[1.0, 1.0, 2.0, 7.0, 7.0, 8.0]])
    first, inverse = find_kinds(rows, 2)
    assert np.array_equal(rows, rows[:, first][:, inverse])
    assert 4 == len(first)


def test_find_kinds__equal_in_one_draw_but_not_in_another_are_two() -> None:
    rows = np.array([[1.0, 1.0, 7.0, 8.0]])
    first, inverse = find_kinds(rows, 2)
    assert np.array_equal(rows, rows[:, first][:, inverse])


def test_find_kinds__what_differs_in_the_last_digit_is_one_and_little_more_is_not() -> None:
    """0.1 + 0.2 is 0.3 but for the last digit; the third is told from the others only column by column."""
    first, inverse = find_kinds(np.array([[0.3, 0.1 + 0.2, 0.3 + 2e-14], [0.5, 0.5, 0.5]]))
    assert inverse[0] == inverse[1] or 3 == len(first)
    assert inverse[2] not in (inverse[0], inverse[1])
    assert 2 == len(find_kinds(np.array([[0.3, 0.1 + 0.2, 0.7]]))[0])


def test_find_kinds__no_rows_make_all_columns_one() -> None:
    first, inverse = find_kinds(np.zeros((0, 4)))
    assert ([0], [0, 0, 0, 0]) == (first.tolist(), inverse.tolist())


def test_find_kinds__changed_places_are_other_columns() -> None:
    assert 2 == len(find_kinds(np.array([[0.1, 0.2], [0.2, 0.1]]))[0])


@pytest.mark.parametrize("size", [1, 2, 3])
def test_gather_sets__every_set_is_found_again(size: int) -> None:
    kinds = np.random.default_rng(1).integers(0, 7, (size, 200))
    found, back = gather_sets(kinds, 7)
    assert np.sort(kinds, axis=0).tolist() == np.sort(found[:, back], axis=0).tolist()
    assert found.shape[1] == len({tuple(column) for column in np.sort(kinds, axis=0).T.tolist()})
