"""Draws of the rules' numbers from their spreads."""

from dataclasses import replace

import numpy as np
import pytest
from support.trade import compiled_of, small_case

from shiftlore.compiling import CompiledCase, draw_faults
from shiftlore.compiling import drawing as drawing_of_the_room

ANSWERS = {"gear_slips_2": "yes", "fluid_colour": "dark"}


def draws(n: int, seed: int = 1, **more: object) -> np.ndarray:
    """Draw from the small knowledge, shape (n, n_states)."""
    return draw_faults(small_case(ANSWERS, **more), np.random.default_rng(seed), n)


def surely(compiled: CompiledCase, weight: float) -> CompiledCase:
    """Give every number of the rules the same spread."""
    expansion = compiled.expansion

    def nodes(found: dict) -> dict:
        return {
            key: replace(node, leak_weight=weight, links=tuple(replace(link, weight=weight) for link in node.links))
            for key, node in found.items()
        }

    causes = {key: replace(cause, share_weight=min(weight, 1e12)) for key, cause in expansion.causes.items()}
    sure = replace(expansion, causes=causes, states=nodes(expansion.states), findings=nodes(expansion.findings))
    return replace(compiled, unit=replace(compiled.unit, expansion=sure))


def test_draw_faults__the_same_seed_draws_the_same() -> None:
    assert draws(3).tolist() == draws(3).tolist()
    assert draws(3).tolist() != draws(3, seed=2).tolist()


def test_draw_faults__are_probabilities_of_every_state() -> None:
    drawn, compiled = draws(30), small_case(ANSWERS)
    assert (30, len(compiled.faults.members)) == drawn.shape
    assert ((drawn >= 0) & (drawn <= 1)).all()
    assert np.ones(30) == pytest.approx(drawn.sum(axis=1), abs=1e-12)


def test_draw_faults__lie_around_the_ranking() -> None:
    compiled = small_case(ANSWERS)
    drawn = compiled.faults.sum_over_causes(draws(300))
    assert compiled.p_causes == pytest.approx(drawn.mean(axis=0), abs=0.12)
    low, high = np.percentile(drawn, [5, 95], axis=0)
    assert ((low <= compiled.p_causes) & (compiled.p_causes <= high)).all()


@pytest.mark.parametrize("weight", [1e12, np.inf])
def test_draw_faults__sure_numbers_do_not_move(weight: float) -> None:
    """With spreads of next to nothing every draw is the ranking itself."""
    compiled = small_case(ANSWERS)
    drawn = draw_faults(surely(compiled, weight), np.random.default_rng(3), 4)
    assert np.repeat(compiled.p_faults[None], 4, axis=0) == pytest.approx(drawn, abs=1e-4)


def test_draw_faults__surer_numbers_spread_less() -> None:
    compiled = small_case(ANSWERS)
    wide, narrow = (
        draw_faults(surely(compiled, weight), np.random.default_rng(3), 100).std(axis=0).sum()
        for weight in (5.0, 500.0)
    )
    assert narrow < wide / 3


def test_draw_faults__one_draw_alone() -> None:
    drawn = draws(1)
    assert (1, len(small_case(ANSWERS).faults.members)) == drawn.shape
    assert 1 == pytest.approx(drawn.sum(), abs=1e-12)


def test_draw_faults__without_answers_only_base_rates_are_drawn() -> None:
    compiled = compiled_of()
    drawn = compiled.faults.sum_over_causes(draw_faults(compiled, np.random.default_rng(5), 20))
    assert (drawn.std(axis=0) > 0).all()
    assert compiled.p_causes == pytest.approx(drawn.mean(axis=0), abs=0.05)


def test_draw_faults__states_beyond_those_drawn_keep_their_likelihood() -> None:
    """With one state drawn, the others move by their base rates alone; surely known base rates leave their odds."""
    compiled = small_case(ANSWERS)
    steady = {key: replace(cause, share_weight=1e12) for key, cause in compiled.expansion.causes.items()}
    expansion = replace(compiled.expansion, causes=steady)
    compiled = replace(compiled, unit=replace(compiled.unit, expansion=expansion))
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(drawing_of_the_room, "MOST_DRAWN", 1)
        drawn = draw_faults(compiled, np.random.default_rng(1), 5)
    leading = int(np.argmax(compiled.p_faults))
    others = np.arange(len(compiled.p_faults)) != leading
    rest = drawn[:, others] / drawn[:, others].sum(axis=1, keepdims=True)
    expected = compiled.p_faults[others] / compiled.p_faults[others].sum()
    assert np.repeat(expected[None], 5, axis=0) == pytest.approx(rest, abs=1e-4)
    assert 0 < drawn[:, leading].std()


def test_draw_faults__doubted_answers_on_a_shipped_unit() -> None:
    compiled = compiled_of({"slips": "yes", "fluid_colour": "dark", "fluid_smell_burnt": "yes"})
    drawn = compiled.faults.sum_over_causes(draw_faults(compiled, np.random.default_rng(2), 200))
    low, high = np.percentile(drawn, [1, 99], axis=0)
    leading = np.argsort(-compiled.p_causes)[:5]
    assert ((low <= compiled.p_causes) & (compiled.p_causes <= high))[leading].all()
