"""Whole cases of the five-speed against two general libraries of other make.

Source: pyAgrum, lazy propagation in a junction tree, and pgmpy, variable elimination, on the same rules written as small
tables; both share no code with the engine. Cases whose junction tree would be too large for a short test are passed
over; `tests/benchmarks/bench_agreement.py` does those too.
"""

import numpy as np
import pytest
from support.trade import compiled_of, draw_answers, unit_of

from shiftlore.cases import Answer, Case
from shiftlore.compiling import CompiledCase, compile_case, query_with_pgmpy
from shiftlore.exact import Doubted

pytest.importorskip("pyagrum")
from support.oracles import finish_pyagrum, largest_clique, prepare_case

CASES = 12
MOST_CELLS = 2_000_000


def draw_case(seed: int, n_telling: int = 8, n_sound: int = 28, doubted: int = 0) -> CompiledCase:
    """Draw a complete case; every `doubted`-th answer is only thought to be so."""
    life = {"odometer_km": 40_000.0 + 20_000 * (seed % 3)}
    drawn = draw_answers(compiled_of(**life), seed, n_telling, n_sound)
    findings = unit_of().expansion.findings
    answers = {
        key: Answer(key, findings[key].grades[state], "think_so" if doubted and i % doubted == 0 else None)
        for i, (key, state) in enumerate(drawn.items())
    }
    return compile_case(unit_of(), Case("long5", findings=answers, **life))


def compare(n_cases: int, **kind: int) -> int:
    """Compare cases with lazy propagation until enough were small enough for it; gives how many."""
    compared = 0
    for seed in range(12 * n_cases):
        compiled = draw_case(seed, **kind)
        engine = prepare_case(compiled)
        if largest_clique(engine) > MOST_CELLS or not compiled.engine.stand(compiled.evidence).exact:
            continue
        assert finish_pyagrum(engine) == pytest.approx(compiled.p_faults, abs=1e-9), f"seed {seed}"
        compared += 1
        if compared == n_cases:
            break
    return compared


def test_p_faults__equals_lazy_propagation_on_complete_cases() -> None:
    assert CASES == compare(CASES)


def test_p_faults__equals_lazy_propagation_with_doubted_answers() -> None:
    """Every third answer is doubted; the library sees two signs for each."""
    assert CASES // 2 == compare(CASES // 2, n_telling=6, n_sound=14, doubted=3)


def test_p_faults__equals_lazy_propagation_where_two_faults_were_opened() -> None:
    compiled = compiled_of({"code_solenoid_circuit_sol_a": "yes", "leak_outside": "yes", "fluid_smell_burnt": "yes"})
    assert 3 < len(compiled.faults.sets)
    assert finish_pyagrum(prepare_case(compiled)) == pytest.approx(compiled.p_faults, abs=1e-9)


@pytest.mark.filterwarnings("ignore")
@pytest.mark.parametrize(("seed", "doubted"), [(1, 0), (2, 3)])
def test_p_faults__equals_variable_elimination(seed: int, doubted: int) -> None:
    compiled = draw_case(seed, 3, 9, doubted)
    assert query_with_pgmpy(compiled) == pytest.approx(compiled.p_faults, abs=1e-9)


def test_draw_case__doubts_what_it_is_told_to() -> None:
    compiled = draw_case(1, 6, 14, 3)
    doubted = {key for key, answer in compiled.case.findings.items() if answer.doubt} & compiled.evidence.keys()
    held = {key for key, answer in compiled.evidence.items() if isinstance(answer, Doubted)}
    assert doubted == held & compiled.case.findings.keys()
    assert 5 <= len(doubted)  # of seven; what another answer implies is left out


def test_draw_answers__makes_forty_answers_of_which_twelve_tell() -> None:
    for seed in range(CASES):
        evidence = draw_answers(compiled_of(), seed)
        assert (40, 12) == (len(evidence), sum(state > 0 for state in evidence.values()))
        assert np.isfinite(compiled_of().engine.weigh(evidence)).any()
