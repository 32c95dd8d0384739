import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.signal import medfilt

from shiftlore.tracing.runs import each_run, find_runs, run_starts, smooth_median, take_blocks

FLAGS = st.lists(st.booleans(), max_size=60).map(lambda some: np.array(some, dtype=bool))


@given(FLAGS)
def test_find_runs__covers_what_is_marked_and_nothing_else(flags: np.ndarray) -> None:
    covered = np.zeros(len(flags), bool)
    for first, end in find_runs(flags):
        assert first < end
        covered[first:end] = True
    assert flags.tolist() == covered.tolist()


@given(st.lists(st.integers(0, 2), max_size=60).map(np.array))
def test_each_run__parts_the_rows_into_runs_of_one_value(values: np.ndarray) -> None:
    runs = list(each_run(values))
    assert len(values) == sum(end - first for first, end in runs)
    assert all(len(set(values[first:end].tolist())) == 1 for first, end in runs)
    assert all(values[a[0]] != values[b[0]] for a, b in zip(runs[:-1], runs[1:], strict=True))


def test_run_starts__names_the_first_row_of_each_run() -> None:
    assert [0, 0, 2, 3, 3, 3] == run_starts(np.array([5, 5, 7, 5, 5, 5])).tolist()
    assert [] == run_starts(np.array([])).tolist()


@pytest.mark.parametrize("width", [3, 5, 7])
def test_smooth_median__is_the_median_filter_of_a_general_library(width: int) -> None:
    """Source: scipy.signal.medfilt, away from the ends."""
    values = np.random.default_rng(1).normal(size=100)
    half = width // 2
    assert medfilt(values, width)[half:-half].tolist() == smooth_median(values, width)[half:-half].tolist()


def test_smooth_median__passes_over_a_wild_value_and_keeps_a_step() -> None:
    values = np.array([1.0] * 5 + [900.0] + [1.0] * 5 + [9.0] * 6)
    assert [1.0] * 11 + [9.0] * 6 == smooth_median(values, 3).tolist()


@given(
    st.lists(st.one_of(st.floats(-9, 9), st.just(np.nan)), min_size=7, max_size=40).map(np.array),
    st.sampled_from([3, 5, 7]),
)
def test_smooth_median__is_the_median_of_each_window_and_none_where_a_value_lacks(
    values: np.ndarray, width: int
) -> None:
    """Source: numpy.median, which gives NaN where one is inside."""
    windows = np.lib.stride_tricks.sliding_window_view(np.pad(values, width // 2, mode="edge"), width)
    assert np.array_equal(np.median(windows, axis=1), smooth_median(values, width), equal_nan=True)


def test_take_blocks__of_several_runs_each_begins_anew() -> None:
    times, flags = np.arange(0, 4.0, 0.1), np.ones(40, bool)
    flags[12:15] = False
    values, rows = take_blocks(np.where(times > 1.4, 5.0, 1.0), times, flags, 0.5)
    assert [(1.0, 0), (1.0, 5), *((5.0, row) for row in (15, 20, 25, 30))] == list(zip(values, rows, strict=True))


def test_take_blocks__rows_that_came_unevenly_count_by_their_times() -> None:
    times = np.array([0.0, 0.1, 0.2, 0.6, 0.9, 1.4, 1.5, 1.6, 2.1])
    values, rows = take_blocks(np.arange(9.0), times, np.ones(9, bool), 0.5)
    assert ([1.0, 3.5, 5.0, 6.5], [0, 3, 5, 6]) == (values.tolist(), rows.tolist())


def test_take_blocks__one_sample_a_block_and_no_short_end() -> None:
    times = np.arange(0, 2.0, 0.1)
    values, rows = take_blocks(times * 10, times, times < 1.55, 0.5)
    assert [2.0, 7.0, 12.0] == pytest.approx(values.tolist(), abs=0.51)
    assert [0, 5, 10] == rows.tolist()


def test_take_blocks__nothing_where_runs_are_too_short() -> None:
    times = np.arange(0, 2.0, 0.1)
    values, rows = take_blocks(times, times, np.arange(20) % 3 > 0, 0.5)
    assert (0, 0) == (len(values), len(rows))
