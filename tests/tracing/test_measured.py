import numpy as np
import pytest
from scipy.stats import bootstrap

from shiftlore.tracing.measured import MOST_SAMPLES, estimate_median, gather


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
