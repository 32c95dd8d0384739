"""What was measured in a log: samples with their rows; and the middle of them with an interval."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from shiftlore.tracing.recordings import Floats, Whole

RESAMPLES, SEED = 1000, 20_01
MOST_SAMPLES = 200
"""Of more samples so many are drawn from, spread over the drive: neighbours are alike, and all would feign a finer interval."""
COVERED = 0.95
FEWEST_FOR_INTERVAL = 3
"""With fewer samples no interval says how sure the middle is, so the answer is doubted."""


@dataclass(frozen=True, slots=True, eq=False)
class Figures:
    """One measure of a log, for one instance of it or for the whole.

    Args:
        name: one of `knowledge.log_measures.LOG_MEASURES`; instance: gear, shift or sensor, or "".
        samples: one figure for each stretch or event; rows: where in the recording each was taken.
        exact: whether the figure is a count that nothing leaves in doubt.
        hertz: of swings, how often a second each swings.
    """

    name: str
    instance: str
    samples: Floats
    rows: Whole
    exact: bool = False
    hertz: Floats | None = None


@dataclass(frozen=True, slots=True)
class Estimate:
    """The median of samples, and the interval in which it lies in 95 of 100 such logs."""

    value: float
    low: float
    high: float
    count: int


def estimate_median(samples: Floats) -> Estimate:
    """Give the median with its interval, by drawing the samples again and again.

    Which sample stands in the middle of a draw is an order statistic of uniform numbers, so it is drawn straight away.
    Source: Efron and Tibshirani 1993, "An introduction to the bootstrap", percentile interval, chapter 13; David and
        Nagaraja 2003, "Order statistics", chapter 2.
    Example:
        >>> estimate_median(np.array([1.0, 2.0, 3.0])).value
        2.0
    """
    middle, count = float(np.median(samples)), min(len(samples), MOST_SAMPLES)
    ordered = np.sort(samples[np.linspace(0, len(samples) - 1, count).astype(int)])
    if count < 2:
        return Estimate(middle, middle, middle, count)
    generator, half = np.random.default_rng(SEED), (count + 1) // 2
    lower = generator.beta(half, count + 1 - half, RESAMPLES)
    medians = ordered[(count * lower).astype(int)]
    if count % 2 == 0:  # the one above it is the least of those that are left
        upper = 1 - (1 - lower) * (1 - generator.random(RESAMPLES)) ** (1 / (count - half))
        medians = (medians + ordered[np.minimum(count * upper, count - 1).astype(int)]) / 2
    low, high = np.quantile(medians, [(1 - COVERED) / 2, (1 + COVERED) / 2])
    return Estimate(middle, float(low), float(high), len(samples))


def gather(name: str, found: Mapping[str, Sequence[tuple[float, int]]]) -> list[Figures]:
    """Make figures of samples and their rows, by instance."""
    return [
        Figures(
            name, key, np.array([value for value, _ in some], np.float64), np.array([row for _, row in some], np.int64)
        )
        for key, some in found.items()
        if some
    ]
