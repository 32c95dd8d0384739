"""Draws of the rules' numbers from their spreads."""

from dataclasses import replace

import numpy as np
import pytest
from support.trade import compiled_of, small_case

from shiftlore.compiling import draw_posteriors

ANSWERS = {"gear_slips_2": "yes", "fluid_colour": "dark"}


def draws(n: int, seed: int = 1, **more: object) -> np.ndarray:
    """Draw from the small knowledge, shape (n, n_causes)."""
    return np.array(list(draw_posteriors(small_case(ANSWERS, **more), np.random.default_rng(seed), n)))


def test_draw_posteriors__the_same_seed_draws_the_same() -> None:
    assert draws(3) == pytest.approx(draws(3), abs=0)


def test_draw_posteriors__are_probabilities() -> None:
    drawn = draws(30)
    assert (30, 6) == drawn.shape
    assert ((drawn >= 0) & (drawn <= 1)).all()
    assert (drawn.sum(axis=1) <= 2).all(), "at most two causes at once"


def test_draw_posteriors__lie_around_the_ranking() -> None:
    drawn, now = draws(300), small_case(ANSWERS).p_causes
    assert now == pytest.approx(drawn.mean(axis=0), abs=0.12)
    low, high = np.percentile(drawn, [5, 95], axis=0)
    assert ((low <= now) & (now <= high)).all()


def test_draw_posteriors__sure_numbers_do_not_move() -> None:
    """With spreads of next to nothing every draw is the ranking itself."""
    compiled = small_case(ANSWERS)
    expansion = compiled.expansion

    def surely(nodes: dict) -> dict:
        return {
            key: replace(node, leak_weight=1e12, links=tuple(replace(link, weight=1e12) for link in node.links))
            for key, node in nodes.items()
        }

    causes = {key: replace(cause, share_weight=1e12) for key, cause in expansion.causes.items()}
    sure = replace(expansion, causes=causes, states=surely(expansion.states), findings=surely(expansion.findings))
    drawn = np.array(list(draw_posteriors(replace(compiled, unit=replace(compiled.unit, expansion=sure)),
                                          np.random.default_rng(3), 4)))
    assert np.repeat(compiled.p_causes[None], 4, axis=0) == pytest.approx(drawn, abs=1e-4)


def test_draw_posteriors__without_answers_only_base_rates_are_drawn() -> None:
    drawn = np.array(list(draw_posteriors(compiled_of(), np.random.default_rng(5), 20)))
    assert (drawn.std(axis=0) > 0).all()
    assert compiled_of().p_causes == pytest.approx(drawn.mean(axis=0), abs=0.05)
