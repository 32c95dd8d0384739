"""How sure the ranking is of itself."""

import numpy as np
import pytest
from support.trade import compiled_of, small_case

from shiftlore.ranking.spreading import draw_spread

ANSWERS = {"gear_slips_2": "yes", "fluid_colour": "dark"}


def test_draw_spread__low_below_high_and_both_probabilities() -> None:
    low, high = draw_spread(small_case(ANSWERS))
    assert ((low >= 0) & (low <= high) & (high <= 1)).all()


def test_draw_spread__repeats_itself() -> None:
    first, second = draw_spread(small_case(ANSWERS)), draw_spread(small_case(ANSWERS))
    assert first[0] == pytest.approx(second[0], abs=0)
    assert first[1] == pytest.approx(second[1], abs=0)


def test_draw_spread__forty_draws_place_the_percentiles_roughly() -> None:
    """Against 800 draws; to within a third of the width."""
    few, many = draw_spread(small_case(ANSWERS)), draw_spread(small_case(ANSWERS), 800)
    width = float(np.max(many[1] - many[0]))
    assert many[0] == pytest.approx(few[0], abs=width / 3)
    assert many[1] == pytest.approx(few[1], abs=width / 3)


def test_draw_spread__holds_nearly_all_probabilities_of_a_real_case() -> None:
    compiled = compiled_of({"P0732": "yes", "fluid_smell_burnt": "no"})
    low, high = draw_spread(compiled)
    assert np.mean((low <= compiled.p_causes) & (compiled.p_causes <= high)) > 0.8
