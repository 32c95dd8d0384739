"""The numbers of a network with a last axis of rows: 1 for the means, or one per draw."""

from functools import cache

import numpy as np

from shiftlore.network import FloatArray, Network, Parameters, mean_parameters


class Numbers:
    """Reads leaks, links and tables with the axis of rows last, as the kernels want them.

    Args:
        network: the network.
        parameters: draws with a leading axis; None takes the means.
    """

    def __init__(self, network: Network, parameters: Parameters | None = None) -> None:
        drawn = parameters or mean_parameters(network)
        self.n_rows = drawn.n_draws
        self._drawn = drawn
        self.leak = cache(self._leak)
        self.link = cache(self._link)
        self.below = cache(self._below)
        self.table = cache(self._table)

    def _leak(self, child: str) -> FloatArray:
        """Read a leak, shape (child states, rows)."""
        return np.moveaxis(self._drawn.leaks[child], 0, -1)

    def _link(self, child: str, parent: str) -> FloatArray:
        """Read a link, shape (parent states, child states, rows)."""
        return np.moveaxis(self._drawn.links[child, parent], 0, -1)

    def _below(self, child: str, parent: str) -> FloatArray:
        """Cumulate a link over the child's states, shape (parent states, child states, rows); the last is exactly 1."""
        below = np.cumsum(self.link(child, parent), axis=1)
        below[:, -1] = 1.0
        return below

    def _table(self, child: str) -> FloatArray:
        """Read a table, shape (parent states ..., child states, rows)."""
        return np.moveaxis(self._drawn.tables[child], 0, -1)
