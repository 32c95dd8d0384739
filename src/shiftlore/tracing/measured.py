"""What was measured in a log: runs of rows, medians over windows, samples; and the middle of these with an interval."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from shiftlore.tracing.recordings import Flags, Floats, Whole


def find_runs(flags: Flags) -> list[tuple[int, int]]:
    """List the runs of rows that are marked, each as its first row and the one behind its last.

    Example:
        >>> find_runs(np.array([True, True, False, True]))
        [(0, 2), (3, 4)]
    """
    edges = np.flatnonzero(np.diff(np.concatenate(([False], flags, [False])).astype(np.int8)))
    return list(zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True))


def each_run(values: NDArray) -> Iterator[tuple[int, int]]:
    """Give the runs of equal values, each as its first row and the one behind its last."""
    if len(values):
        edges = np.concatenate(([0], np.flatnonzero(values[1:] != values[:-1]) + 1, [len(values)]))
        yield from zip(edges[:-1].tolist(), edges[1:].tolist(), strict=True)


def run_starts(values: NDArray) -> Whole:
    """Give for each row the first row of its run of equal values."""
    changed = np.concatenate(([True], values[1:] != values[:-1])) if len(values) else np.zeros(0, bool)
    return np.maximum.accumulate(np.where(changed, np.arange(len(values)), 0)) if len(values) else np.zeros(0, np.int64)


def smooth_median(values: Floats, width: int) -> Floats:
    """Take the median over a window of rows, an odd number of them; the ends are repeated.

    A single wild value is passed over, and a step stays where it is. A window with a gap in it has no median.
    """
    half = width // 2
    if half < 1 or len(values) < width:
        return values
    padded = np.pad(values, half, mode="edge")
    ranked = [padded[shift : shift + len(values)] for shift in range(2 * half + 1)]
    for place in range(half + 1):  # the lower half of each window is sorted, whole columns at a time
        for other in range(place + 1, 2 * half + 1):
            lower = np.minimum(ranked[place], ranked[other])
            ranked[place], ranked[other] = lower, np.maximum(ranked[place], ranked[other])
    return ranked[half]


def take_blocks(values: Floats, times: Floats, flags: Flags, seconds: float) -> tuple[Floats, Whole]:
    """Take the median of each block of so many seconds within the runs that are marked; shorter ends are left out.

    Neighbouring rows of a log say nearly the same, so a block is one sample, and not each row.
    Returns: the medians, and the first row of each block.
    """
    runs = np.array(find_runs(flags & np.isfinite(values)), np.int64).reshape(-1, 2)
    begun = times[runs[:, 0]]
    counts = ((times[runs[:, 1] - 1] - begun) / seconds + 1e-6).astype(np.int64)
    number = np.arange(counts.sum()) - np.repeat(np.cumsum(counts) - counts, counts)
    begun = np.repeat(begun, counts)
    starts = np.searchsorted(times, begun + seconds * number)
    sizes = np.searchsorted(times, begun + seconds * (number + 1)) - starts
    medians = np.full(len(starts), np.nan)
    for size in np.unique(sizes[sizes > 0]).tolist():
        alike = sizes == size
        medians[alike] = np.median(values[starts[alike, None] + np.arange(size)], axis=1)
    return medians[sizes > 0], starts[sizes > 0]


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
        name: one of `LOG_MEASURES`; instance: gear, shift or sensor, or "".
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
