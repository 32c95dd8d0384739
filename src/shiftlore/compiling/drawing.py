"""Draw the numbers of the rules from their spreads, to see how far a ranking depends on them.

Only what bears on the answers is drawn: base rates, and the gates of the answered findings and their states.
"""

import numpy as np

from shiftlore.compiling.compiled import CompiledCase
from shiftlore.compiling.gates import SMALLEST_SHAPE, build_tables, draw_tables, gather_gates
from shiftlore.compiling.priors import list_lived
from shiftlore.exact import HubEngine, lay_beside, pad_sets, take_sets

MOST_DRAWN, FEWEST_DRAWN = 96, 8
"""Root states, the likeliest first, of which the likelihoods are drawn; of the others only the base rates are."""
DRAWN_NUMBERS = 3000
"""Answers times root states that are drawn at most: with very many answers, or in a hard case, fewer states are."""
DRAW_WORK = 1 << 8
"""Work of the answers up to which draws are summed exactly; beyond, telling answers are bounded as in a hard case."""
TINY = 1e-300


def draw_faults(compiled: CompiledCase, rng: np.random.Generator, n_draws: int) -> np.ndarray:
    """Give P(root state | answers) under each of `n_draws` draws of the rules' numbers, shape (n_draws, n_states).

    A draw moves the exact likelihood by as much as it moves the one that is worked out with less work.
    """
    unit, faults, evidence = compiled.unit, compiled.faults, compiled.evidence
    priors = _draw_priors(compiled, rng, n_draws)
    log_p = np.log(np.maximum(priors, TINY)) + compiled.engine.weigh(evidence)
    if evidence:
        hard = not compiled.engine.stand(evidence).exact
        n_drawn = FEWEST_DRAWN if hard else min(MOST_DRAWN, max(FEWEST_DRAWN, DRAWN_NUMBERS // len(evidence)))
        columns = np.sort(np.argsort(-compiled.p_faults, kind="stable")[:n_drawn])
        members = [faults.members[i] for i in columns.tolist()]
        causes = sorted({cause for member in members for cause in member})
        place = {cause: i + 1 for i, cause in enumerate(causes)}
        names = ("", *(faults.causes[cause] for cause in causes))
        arrays = gather_gates(compiled.expansion, tuple(evidence), names[1:])
        sets = pad_sets([tuple(place[cause] for cause in member) for member in members])
        lived, backgrounds = list_lived(unit.knowledge, compiled.case), unit.knowledge.backgrounds
        drawn = draw_tables(arrays, lived, backgrounds, names, rng=rng, n_draws=n_draws)
        means = build_tables(arrays, lived, backgrounds, np.full(len(names), 1 / len(names)), names)
        log_mean = HubEngine(take_sets(means, sets, evidence), DRAW_WORK * len(columns), 0).weigh(evidence)
        joined = lay_beside([take_sets(tables, sets, evidence) for tables in drawn])
        beside = HubEngine(joined, DRAW_WORK * len(columns) * n_draws, 0)
        log_p[:, columns] += beside.weigh(evidence).reshape(n_draws, -1) - log_mean
    log_p = np.nan_to_num(log_p, nan=-np.inf)
    p = np.exp(log_p - log_p.max(axis=1, keepdims=True))
    return p / p.sum(axis=1, keepdims=True)


def _draw_priors(compiled: CompiledCase, rng: np.random.Generator, n_draws: int) -> np.ndarray:
    """Draw base rates as gamma variables around their means; sets follow their causes, shape (n_draws, n_states)."""
    hits = np.array([max(compiled.expansion.causes[cause].share_weight, SMALLEST_SHAPE) for cause in compiled.causes])
    factors = rng.gamma(hits, 1 / hits, size=(n_draws, len(hits)))
    priors = compiled.faults.prior * compiled.faults.spread_over_states(factors)
    return priors / priors.sum(axis=1, keepdims=True)
