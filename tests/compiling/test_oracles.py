"""Whole cases of the five-speed against a general library of another make.

Source: pyAgrum, lazy propagation in a junction tree, on the same rules written as small tables. Cases whose junction
tree would be too large for a short test are passed over; `tests/benchmarks/bench_agreement.py` does those too.
"""

import pytest
from support.trade import compiled_of, draw_answers

pytest.importorskip("pyagrum")
from support.oracles import finish_pyagrum, largest_clique, prepare_pyagrum

CASES = 20
MOST_CELLS = 1_000_000
LIVES = [{"odometer_km": 40_000.0 + 20_000 * i} for i in range(3)]


def test_posterior__equals_lazy_propagation_on_twenty_complete_cases() -> None:
    compared = 0
    for seed in range(8 * CASES):
        compiled = compiled_of(**LIVES[seed % 3])
        evidence = draw_answers(compiled, seed)
        engine = prepare_pyagrum(compiled.network, evidence)
        if largest_clique(engine) > MOST_CELLS:
            continue
        ours, _ = compiled.engine.posterior(evidence)
        assert finish_pyagrum(engine) == pytest.approx(ours, abs=1e-9), f"seed {seed}"
        compared += 1
        if compared == CASES:
            break
    assert CASES == compared


def test_draw_answers__makes_forty_answers_of_which_twelve_tell() -> None:
    for seed in range(CASES):
        evidence = draw_answers(compiled_of(), seed)
        assert (40, 12) == (len(evidence), sum(state > 0 for state in evidence.values()))
