"""Whole cases of the five-speed against a general library of another make.

Source: pyAgrum, lazy propagation in a junction tree, on the same rules written as small tables.
"""

import pytest
from trade import compiled_of, draw_answers

pytest.importorskip("pyagrum")
from agreement import ask_pyagrum  # noqa: E402

SEEDS = range(20)


@pytest.mark.parametrize("seed", SEEDS)
def test_posterior__equals_lazy_propagation_on_a_complete_case(seed: int) -> None:
    compiled = compiled_of(odometer_km=40_000.0 + 20_000 * seed)
    evidence = draw_answers(compiled, seed)
    ours, _ = compiled.engine.posterior(evidence)
    assert ask_pyagrum(compiled.network, evidence) == pytest.approx(ours, abs=1e-9)


def test_draw_answers__makes_forty_answers_of_which_twelve_tell() -> None:
    for seed in SEEDS:
        evidence = draw_answers(compiled_of(), seed)
        assert (40, 12) == (len(evidence), sum(state > 0 for state in evidence.values()))
