"""How sure the ranking is of itself: percentiles under the spreads of the rules' numbers."""

import numpy as np

from shiftlore.compiling import CompiledCase, draw_faults

N_DRAWS = 40
"""Draws from the spreads; enough to place the 5th and 95th percentile to about a third of a standard deviation."""
DRAW_SEED = 20_110_706
LOW_PERCENT, HIGH_PERCENT = 5, 95


def draw_spread(compiled: CompiledCase, n_draws: int = N_DRAWS) -> tuple[np.ndarray, np.ndarray]:
    """Give the 5th and 95th percentile of each cause's probability, shape (n_causes,) each.

    The draws are always the same, so that a case is always ranked the same.
    """
    rng = np.random.default_rng(DRAW_SEED)
    drawn = compiled.judge_now(draw_faults(compiled, rng, n_draws))
    low, high = np.percentile(drawn, [LOW_PERCENT, HIGH_PERCENT], axis=0)
    return low, high
