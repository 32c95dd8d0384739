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

    A single wild value is passed over, and a step stays where it is.
    """
    half = width // 2
    if half < 1 or len(values) < width:
        return values
    padded = np.pad(values, half, mode="edge")
    return np.median(np.lib.stride_tricks.sliding_window_view(padded, 2 * half + 1), axis=1)


def take_blocks(values: Floats, times: Floats, flags: Flags, seconds: float) -> tuple[Floats, Whole]:
    """Take the median of each block of so many seconds within the runs that are marked; shorter ends are left out.

    Neighbouring rows of a log say nearly the same, so a block is one sample, and not each row.
    Returns: the medians, and the first row of each block.
    """
    medians: list[float] = []
    places: list[int] = []
    for first, end in find_runs(flags & np.isfinite(values)):
        count = int((times[end - 1] - times[first]) / seconds + 1e-6) if end > first else 0
        if count < 1:
            continue
        cuts = np.searchsorted(times[first:end], times[first] + seconds * np.arange(count + 1)) + first
        sizes = np.diff(cuts)
        size = int(sizes.min())
        if size < 1:
            continue
        if np.ptp(sizes) <= 2:  # an even raster: all blocks in one go, a last row or two left out
            medians += np.median(values[cuts[:-1, None] + np.arange(size)], axis=1).tolist()
        else:
            medians += [float(np.median(values[a:b])) for a, b in zip(cuts[:-1], cuts[1:], strict=True)]
        places += cuts[:-1].tolist()
    return np.array(medians), np.array(places, dtype=np.int64)
