"""Two hundred complete cases against pyAgrum, some of them against pgmpy too.

Run as `python tests/benchmarks/bench_agreement.py [cases] [pgmpy cases]` with `src` and `tests` on the path. A case is 40
answers of which 12 tell, with the sets of faults that they open; in every fourth, some are doubted. Where lazy
propagation's largest clique would not fit, the case gets fewer telling answers.
"""

import statistics
import sys
import time
import warnings

import numpy as np
from support.oracles import finish_pyagrum, largest_clique, prepare_case
from support.trade import compiled_of, draw_answers, unit_of

from shiftlore.cases import Answer, Case
from shiftlore.compiling import CompiledCase, CompiledUnit, compile_case, query_with_pgmpy

MOST_CELLS = 2_000_000
TELLING = (12, 10, 8, 6, 4, 2)


def draw_case(unit: CompiledUnit, seed: int, telling: int) -> CompiledCase:
    """Draw a case with its own sets of faults opened; in every fourth case every third answer is doubted."""
    odometer_km = 30_000.0 + 40_000 * (seed % 8)
    drawn = draw_answers(compiled_of(odometer_km=odometer_km), seed, telling, 40 - telling)
    findings = {
        key: Answer(
            key, unit.expansion.findings[key].grades[state], "think_so" if seed % 4 == 3 and i % 3 == 0 else None
        )
        for i, (key, state) in enumerate(drawn.items())
    }
    return compile_case(unit, Case("long5", odometer_km, findings=findings))


def ask_both(unit: CompiledUnit, seed: int) -> tuple[int, CompiledCase, float, float] | None:
    """Ask ours and pyAgrum: telling answers, the case, largest difference, log10 P(answers); None if it cannot."""
    for telling in TELLING:
        compiled = draw_case(unit, seed, telling)
        engine = prepare_case(compiled)
        if largest_clique(engine) <= MOST_CELLS and compiled.engine.stand(compiled.evidence).exact:
            ours, log_p = compiled.engine.posterior(compiled.evidence)
            return telling, compiled, float(np.abs(ours - finish_pyagrum(engine)).max()), log_p / np.log(10)
    return None


def main(cases: int = 200, pgmpy_cases: int = 10) -> None:
    """Compare, and tell the largest differences."""
    warnings.simplefilter("ignore")
    worst, worst_pgmpy, done, telling_counts, logs = 0.0, 0.0, 0, [], []
    unit = unit_of("long5")
    started, seed = time.perf_counter(), -1
    while len(logs) < cases:
        seed += 1
        asked = ask_both(unit, seed)
        if asked is None:
            continue
        telling, compiled, difference, log10_p = asked
        worst = max(worst, difference)
        telling_counts.append(telling)
        logs.append(log10_p)
        if done < pgmpy_cases:
            done += 1
            worst_pgmpy = max(worst_pgmpy, float(np.abs(query_with_pgmpy(compiled) - compiled.p_faults).max()))
    spread = {count: telling_counts.count(count) for count in TELLING}
    print(f"{cases} cases against pyAgrum's lazy propagation: largest difference {worst:.1e}")
    print(f"{seed + 1 - cases} more were too large for it even with {TELLING[-1]} telling answers")
    print(f"cases by number of telling answers: {spread}")
    print(f"log10 P(answers): median {statistics.median(logs):.1f}, least {min(logs):.1f}")
    print(f"{done} of them against pgmpy's variable elimination: largest difference {worst_pgmpy:.1e}")
    print(f"{time.perf_counter() - started:.0f} s")


if __name__ == "__main__":
    main(*map(int, sys.argv[1:]))
