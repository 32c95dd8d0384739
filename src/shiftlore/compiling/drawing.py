"""Draw the numbers of the rules from their spreads, to see how far a ranking depends on them.

Only what bears on the answers is drawn: base rates, and the gates of the answered findings and their states.
"""

from dataclasses import replace

import numpy as np

from shiftlore.compiling.compiled import CompiledCase
from shiftlore.compiling.gates import SMALLEST_SHAPE, draw_tables, gather_gates
from shiftlore.compiling.opening import join_faults
from shiftlore.exact import HubEngine, lay_beside

TINY = 1e-300


def draw_faults(compiled: CompiledCase, rng: np.random.Generator, n_draws: int) -> np.ndarray:
    """Give P(root state | answers) under each of `n_draws` draws of the rules' numbers, shape (n_draws, n_states)."""
    unit, faults = compiled.unit, compiled.faults
    arrays = gather_gates(compiled.expansion, tuple(compiled.evidence))
    single = compiled.prepared.single.tables.root_states
    drawn = draw_tables(arrays, dict(compiled.case.background), unit.knowledge.backgrounds, single, rng, n_draws)
    priors = _draw_priors(compiled, rng, n_draws)
    joined = [join_faults(tables, replace(faults, prior=prior)) for tables, prior in zip(drawn, priors, strict=True)]
    log_p = np.log(np.maximum(priors, TINY)) + HubEngine(lay_beside(joined)).weigh(compiled.evidence).reshape(n_draws, -1)
    p = np.exp(log_p - log_p.max(axis=1, keepdims=True))
    return p / p.sum(axis=1, keepdims=True)


def _draw_priors(compiled: CompiledCase, rng: np.random.Generator, n_draws: int) -> np.ndarray:
    """Draw base rates as gamma variables around their means; sets follow their causes, shape (n_draws, n_states)."""
    hits = np.array([max(compiled.expansion.causes[cause].share_weight, SMALLEST_SHAPE) for cause in compiled.causes])
    factors = rng.gamma(hits, 1 / hits, size=(n_draws, len(hits)))
    priors = compiled.faults.prior * compiled.faults.spread_over_states(factors)
    return priors / priors.sum(axis=1, keepdims=True)
