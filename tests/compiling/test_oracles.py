"""Whole cases of the five-speed against a general library of another make.

Source: pyAgrum, lazy propagation in a junction tree, on the same rules written as small tables. Cases whose junction
tree would be too large for a short test are passed over; `tests/benchmarks/bench_agreement.py` does those too.
"""

from functools import cache

import pytest
from trade import compiled_of, draw_answers

pytest.importorskip("pyagrum")
from agreement import ask_pyagrum, largest_clique, prepare_pyagrum

CASES = 20
MOST_CELLS = 4_000_000
LIVES = [{"odometer_km": 40_000.0 + 20_000 * i} for i in range(3)]


@cache
def seeds() -> tuple[int, ...]:
    """List the first cases that lazy propagation does in a second."""
    found: list[int] = []
    for seed in range(8 * CASES):
        compiled = compiled_of(**LIVES[seed % 3])
        if largest_clique(prepare_pyagrum(compiled.network, draw_answers(compiled, seed))) <= MOST_CELLS:
            found.append(seed)
        if len(found) == CASES:
            break
    return tuple(found)


@pytest.mark.parametrize("place", range(CASES))
def test_posterior__equals_lazy_propagation_on_a_complete_case(place: int) -> None:
    seed = seeds()[place]
    compiled = compiled_of(**LIVES[seed % 3])
    evidence = draw_answers(compiled, seed)
    ours, _ = compiled.engine.posterior(evidence)
    assert ask_pyagrum(compiled.network, evidence) == pytest.approx(ours, abs=1e-9)


def test_draw_answers__makes_forty_answers_of_which_twelve_tell() -> None:
    for seed in range(CASES):
        evidence = draw_answers(compiled_of(), seed)
        assert (40, 12) == (len(evidence), sum(state > 0 for state in evidence.values()))
