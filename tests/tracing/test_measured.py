import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.signal import medfilt
from scipy.stats import bootstrap

from shiftlore.tracing.measured import (
    MOST_SAMPLES,
    each_run,
    estimate_median,
    find_runs,
    gather,
    run_starts,
    smooth_median,
    take_blocks,
)

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


@pytest.mark.parametrize("count", [2, 3, 6, 31, 40])
def test_estimate_median__draws_as_drawing_all_samples_again_does(count: int) -> None:
    """Source: the bootstrap as it is defined, 40,000 draws of all samples; to a fifteenth of the samples' spread."""
    samples = np.random.default_rng(count).normal(0, 1, count)
    drawn = samples[np.random.default_rng(1).integers(0, count, (40_000, count))]
    low, high = np.quantile(np.median(drawn, axis=1), [0.025, 0.975])
    ours = estimate_median(samples)
    assert [pytest.approx(low, abs=0.15), pytest.approx(high, abs=0.15)] == [ours.low, ours.high]


def test_estimate_median__agrees_with_the_bootstrap_of_a_general_library() -> None:
    """Source: scipy.stats.bootstrap, method percentile; both draw by chance, so within a tenth of the width."""
    samples = np.random.default_rng(3).normal(50, 10, 60)
    ours = estimate_median(samples)
    theirs = bootstrap(
        (samples,), np.median, method="percentile", n_resamples=5000, rng=np.random.default_rng(1)
    ).confidence_interval
    width = theirs.high - theirs.low
    assert pytest.approx(theirs.low, abs=0.1 * width) == ours.low
    assert pytest.approx(theirs.high, abs=0.1 * width) == ours.high
    assert float(np.median(samples)) == ours.value


def test_estimate_median__covers_the_true_middle_in_about_95_of_100_logs() -> None:
    generator = np.random.default_rng(5)
    inside = 0
    for _ in range(200):
        one = estimate_median(generator.normal(100, 15, 25))
        inside += one.low <= 100 <= one.high
    assert 0.90 <= inside / 200 <= 0.99


def test_estimate_median__one_sample_has_no_width_and_says_so_by_its_count() -> None:
    one = estimate_median(np.array([4.0]))
    assert (4.0, 4.0, 4.0, 1) == (one.value, one.low, one.high, one.count)


def test_estimate_median__many_samples_are_thinned_and_counted_in_full() -> None:
    samples = np.random.default_rng(2).normal(0, 1, 50_000)
    one = estimate_median(samples)
    assert 50_000 == one.count and 50_000 > MOST_SAMPLES
    assert one.low < 0.05 and one.high > -0.05


def test_estimate_median__is_the_same_each_time() -> None:
    samples = np.random.default_rng(2).normal(0, 1, 40)
    assert estimate_median(samples) == estimate_median(samples)


def test_gather__leaves_out_what_has_no_sample() -> None:
    (only,) = gather("gear_slip", {"2": [(1.0, 5), (2.0, 9)], "3": []})
    assert ("2", [1.0, 2.0], [5, 9]) == (only.instance, only.samples.tolist(), only.rows.tolist())
