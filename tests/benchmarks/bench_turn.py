"""One full turn on the five-speed: a new answer, all posteriors, and every open finding's outcomes.

Run as `python tests/benchmarks/bench_turn.py` with `src` and `tests` on the path. The other libraries answer the same
sets of evidence one by one: pyAgrum a sample of them, pgmpy three; both are extrapolated to the whole turn, and the
lines say so. Times are processor time on one core.
"""

import os
import resource
import statistics
import subprocess
import sys
import time
import warnings
from collections.abc import Callable

import numpy as np
import pyagrum
from support.oracles import largest_clique, prepare_pyagrum, write_pyagrum
from support.trade import ROOT, compiled_of, draw_answers

from shiftlore.compiling import CompiledCase
from shiftlore.compiling.assembling import ROOT as FAULT

CASES = 9
SAMPLE = 12
MOST_CELLS = 5_000_000


def measure(action: Callable[[], object]) -> float:
    """Run an action once and give its processor time in milliseconds."""
    start = time.process_time()
    action()
    return 1e3 * (time.process_time() - start)


def turn(compiled: CompiledCase, evidence: dict[str, int]) -> None:
    """Do what a turn does: posteriors, and what every outcome of every open finding would make of them."""
    compiled.engine._standings.clear()
    p, _ = compiled.engine.posterior(evidence)
    open_findings = [key for key in compiled.engine.tables.gates if key not in evidence]
    joint = np.concatenate(list(compiled.engine.predict(evidence, open_findings).values())) * p
    compiled.faults.sum_over_causes(joint / np.maximum(joint.sum(axis=1, keepdims=True), 1e-300))


def list_sets(compiled: CompiledCase, evidence: dict[str, int]) -> list[dict[str, int]]:
    """List the sets of evidence of a turn: the answers, and each outcome of each open finding."""
    gates = compiled.engine.tables.gates
    more = [{**evidence, key: state} for key, gate in gates.items() if key not in evidence for state in range(gate.n_states)]
    return [evidence, *more]


def easy_case(compiled: CompiledCase) -> tuple[dict[str, int], int]:
    """Find a case of 40 answers, 12 telling, that lazy propagation can hold; gives its largest clique too."""
    for seed in range(100):
        evidence = draw_answers(compiled, seed)
        cells = largest_clique(prepare_pyagrum(compiled.network, evidence))
        if cells <= MOST_CELLS // 20:
            return evidence, cells
    raise RuntimeError("no case is small enough for the other libraries")


def bench_ours(compiled: CompiledCase) -> None:
    """Measure turns of ordinary cases, and of cases with 20 telling answers."""
    for telling, total in ((12, 40), (20, 40)):
        times, logs, widths = [], [], []
        for seed in range(CASES):
            evidence = draw_answers(compiled, seed, telling, total - telling)
            turn(compiled, evidence)
            times.append(measure(lambda evidence=evidence: turn(compiled, evidence)))
            logs.append(compiled.engine.posterior(evidence)[1] / np.log(10))
            widths.append(max((len(c.hidden) for c in compiled.engine._stand(evidence).clusters), default=0))
        print(f"turn, {total} answers of which {telling} telling: median {statistics.median(times):.1f} ms, worst "
              f"{max(times):.1f} ms; log10 P(answers) {min(logs):.1f} to {max(logs):.1f}; up to {max(widths)} states joined")


def bench_others(compiled: CompiledCase) -> None:
    """Measure the same turn in the other libraries, from samples."""
    evidence, cells = easy_case(compiled)
    turn(compiled, evidence)
    ours = statistics.median(measure(lambda: turn(compiled, evidence)) for _ in range(9))
    sets = list_sets(compiled, evidence)
    rng = np.random.default_rng(1)
    sample = [sets[i] for i in rng.choice(len(sets), SAMPLE, replace=False)]
    whole = {key: 0 for one in sample for key in one}
    engine = pyagrum.LazyPropagation(write_pyagrum(compiled.network, whole))
    pyagrum.setNumberOfThreads(1)

    def lazily(one: dict[str, int]) -> None:
        engine.setEvidence(one)
        engine.setTargets({FAULT})
        engine.makeInference()
        engine.posterior(FAULT)

    theirs = statistics.mean(measure(lambda one=one: lazily(one)) for one in sample)
    pgmpy = statistics.mean(measure(lambda one=one: ask_pgmpy_sparingly(compiled, one)) for one in sample[:3])
    n = len(sets)
    print(f"one turn = {n} sets of evidence; a case that the others can hold (largest clique {cells:,} cells)")
    print(f"  ours                       {ours:10.1f} ms measured")
    print(f"  pyAgrum, lazy propagation  {theirs * n:10.0f} ms extrapolated from {SAMPLE} sets of {theirs:.1f} ms; "
          f"ratio {theirs * n / ours:,.0f}")
    print(f"  pgmpy, elimination         {pgmpy * n:10.0f} ms extrapolated from 3 sets of {pgmpy:.0f} ms; "
          f"ratio {pgmpy * n / ours:,.0f}")


def ask_pgmpy_sparingly(compiled: CompiledCase, evidence: dict[str, int]) -> None:
    """Ask pgmpy with a good order of elimination; its own order runs out of memory on these networks."""
    from shiftlore.compiling import query_with_pgmpy

    names = {key: compiled.expansion.findings[key].grades[state] for key, state in evidence.items()}
    query_with_pgmpy(compiled_of(names, odometer_km=compiled.case.odometer_km))


def bench_tiny(compiled: CompiledCase) -> None:
    """Find answers of probability near 1e-20 and compare with lazy propagation."""
    for seed in range(300):
        evidence = draw_answers(compiled, seed, 24, 40)
        ours, log_p = compiled.engine.posterior(evidence)
        engine = prepare_pyagrum(compiled.network, evidence)
        if log_p / np.log(10) < -19 and largest_clique(engine) <= MOST_CELLS:
            engine.makeInference()
            difference = np.abs(np.array(engine.posterior(FAULT).tolist()) - ours).max()
            print(f"P(answers) = 1e{log_p / np.log(10):.1f}: largest difference from pyAgrum {difference:.1e}")
            return
    print("no case near 1e-20 was small enough for pyAgrum; ask fewer telling answers")


def bench_processes() -> None:
    """Measure whole processes: time from start to end, and peak memory."""
    environment = {**os.environ, "PYTHONPATH": str(ROOT / "src")}
    for arguments in (["--help"], ["--version"], ["rank", "examples/parcel_van.yaml"], ["rank", "examples/family_car.yaml"]):
        command = [sys.executable, "-m", "shiftlore", *arguments]
        times = []
        for _ in range(5):
            started = time.perf_counter()
            subprocess.run(command, cwd=ROOT, env=environment, capture_output=True, check=True)
            times.append(time.perf_counter() - started)
        code = ("import resource, subprocess, sys; subprocess.run(sys.argv[1:], capture_output=True); "
                "print(resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss)")
        peak = subprocess.run([sys.executable, "-c", code, *command], cwd=ROOT, env=environment, capture_output=True, text=True)
        print(f"shiftlore {' '.join(arguments)}: median {1e3 * statistics.median(times):.0f} ms, "
              f"best {1e3 * min(times):.0f} ms, peak {int(peak.stdout) / 1024:.0f} MB")


def main() -> None:
    """Measure everything."""
    warnings.simplefilter("ignore")
    compiled = compiled_of(odometer_km=220_000.0)
    tables = compiled.engine.tables
    print(f"five-speed: {len(compiled.causes)} causes, {tables.n_root} root states, {len(tables.hidden)} hidden states, "
          f"{len(tables.gates)} findings")
    bench_ours(compiled)
    bench_tiny(compiled)
    bench_processes()
    bench_others(compiled)
    print(f"peak memory of this benchmark: {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:.0f} MB")


if __name__ == "__main__":
    main()
