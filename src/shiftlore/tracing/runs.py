"""Small arithmetic on rows of a log: runs of equal state, medians over windows, what comes before a row."""

from collections.abc import Iterator

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
