"""One full turn on the five-speed: a new answer, the faults that it opens, all posteriors, every open finding's outcomes.

Run as `python tests/benchmarks/bench_turn.py` with `src` and `tests` on the path. The other libraries answer the same
sets of evidence one by one: pyAgrum a sample of them, pgmpy three; both are extrapolated to the whole turn, and the
lines say so. Times are processor time on one core.
"""

import os
import resource
import statistics
import subprocess
import sys
import tempfile
import time
import warnings
from collections.abc import Callable

os.environ.setdefault(
    "OPENBLAS_NUM_THREADS", "1"
)  # as the command line does: on arrays this small two threads only wait

import numpy as np
import pyagrum
from support.oracles import finish_pyagrum, largest_clique, prepare_case, write_pyagrum
from support.trade import ROOT, compiled_of, draw_answers, unit_of

from shiftlore.cases import Answer, Case
from shiftlore.compiling import CompiledCase, CompiledUnit, compile_case, query_with_pgmpy
from shiftlore.compiling.gates import ROOT as FAULT

CASES = 9
SAMPLE = 12
ROUNDS = 9
EXAMPLES = tuple(f"examples/{name}.yaml" for name in ("touring_camper", "family_car", "mountain_minibus"))
MOST_CELLS = 5_000_000
DISTANCE_KM = 220_000.0


def measure(action: Callable[[], object]) -> float:
    """Run an action once and give its processor time in milliseconds."""
    start = time.process_time()
    action()
    return 1e3 * (time.process_time() - start)


def take_turn(unit: CompiledUnit, case: Case) -> CompiledCase:
    """Do what a turn does: open faults, posteriors, and what every outcome of every open finding would make of them."""
    compiled = compile_case(unit, case)
    joint = np.concatenate(list(compiled.engine.predict(compiled.evidence, compiled.open_findings()).values()))
    joint *= compiled.p_faults
    causes = compiled.faults.sum_over_causes(joint)
    causes /= np.maximum(joint.sum(axis=1, keepdims=True), 1e-300)
    return compiled


def draw_case(seed: int, telling: int = 12, sound: int = 28) -> Case:
    """Draw a case of the five-speed; the unit's tables for its distance are made already, as in an interview."""
    blank = compiled_of(odometer_km=DISTANCE_KM)
    findings = blank.expansion.findings
    drawn = draw_answers(blank, seed, telling, sound)
    return Case("long5", DISTANCE_KM, findings={key: Answer(key, findings[key].grades[i]) for key, i in drawn.items()})


def forget(unit: CompiledUnit) -> None:
    """Forget what was worked out for other answers; the tables of the distance stay."""
    for prepared in unit.prepared.values():
        prepared.single._standings.clear()
        prepared.ground.forget()


def list_sets(compiled: CompiledCase) -> list[dict[str, int]]:
    """List the sets of evidence of a turn: the answers, and each outcome of each open finding."""
    gates, evidence = compiled.engine.tables.gates, dict(compiled.evidence)
    return [evidence, *({**evidence, key: i} for key in compiled.open_findings() for i in range(gates[key].n_states))]


def with_sure_alone(compiled: CompiledCase) -> CompiledCase:
    """Leave out what was filled in with doubt: the other libraries take no such answer."""
    return compiled.vary(evidence={key: said for key, said in compiled.evidence.items() if isinstance(said, int)})


def easy_case(unit: CompiledUnit) -> tuple[CompiledCase, int]:
    """Find a case of 40 answers, 12 telling, that lazy propagation can hold; gives its largest clique too."""
    for seed in range(200):
        compiled = with_sure_alone(compile_case(unit, draw_case(seed)))
        cells = largest_clique(prepare_case(compiled))
        if cells <= MOST_CELLS // 5:
            return compiled, cells
    raise RuntimeError("no case is small enough for the other libraries")


def bench_ours(unit: CompiledUnit) -> None:
    """Measure turns of ordinary cases, and of cases with 20 telling answers."""
    for telling, total in ((12, 40), (20, 40)):
        times, sets, logs, exact = [], [], [], 0
        for seed in range(CASES):
            case = draw_case(seed, telling, total - telling)
            take_turn(unit, case)
            forget(unit)
            times.append(measure(lambda case=case: take_turn(unit, case)))
            compiled = compile_case(unit, case)
            sets.append(len(compiled.faults.sets))
            logs.append(compiled.engine.posterior(compiled.evidence)[1] / np.log(10))
            exact += compiled.engine.stand(compiled.evidence).exact
        print(
            f"turn, {total} answers of which {telling} telling: median {statistics.median(times):.1f} ms, worst "
            f"{max(times):.1f} ms; {exact} of {CASES} exact; up to {max(sets)} sets of faults opened; "
            f"log10 P(answers) {min(logs):.1f} to {max(logs):.1f}"
        )


def bench_others(unit: CompiledUnit) -> None:
    """Measure the same turn in the other libraries, from samples."""
    compiled, cells = easy_case(unit)
    times = []
    for _ in range(9):
        forget(unit)
        times.append(measure(lambda: take_turn(unit, compiled.case)))
    ours = statistics.median(times)
    sets = list_sets(compiled)
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
    pgmpy = statistics.mean(
        measure(lambda one=one: query_with_pgmpy(compiled.vary(evidence=one))) for one in sample[:3]
    )
    n = len(sets)
    print(
        f"one turn = {n} sets of evidence; a case that the others can hold (largest clique {cells:,} cells, "
        f"{len(compiled.faults.sets)} sets of faults opened)"
    )
    print(f"  ours                       {ours:10.1f} ms measured, opening of faults included")
    print(
        f"  pyAgrum, lazy propagation  {theirs * n:10.0f} ms extrapolated from {SAMPLE} sets of {theirs:.1f} ms; "
        f"ratio {theirs * n / ours:,.0f}"
    )
    print(
        f"  pgmpy, elimination         {pgmpy * n:10.0f} ms extrapolated from 3 sets of {pgmpy:.0f} ms; "
        f"ratio {pgmpy * n / ours:,.0f}"
    )


def bench_tiny(unit: CompiledUnit) -> None:
    """Find answers of probability near 1e-20 and compare with lazy propagation."""
    for seed in range(300):
        compiled = with_sure_alone(compile_case(unit, draw_case(seed, 24, 40)))
        standing, log_p = compiled.engine.stand(compiled.evidence), compiled.engine.posterior(compiled.evidence)[1]
        if not standing.exact or log_p / np.log(10) > -19:
            continue
        engine = prepare_case(compiled)
        if largest_clique(engine) <= MOST_CELLS:
            difference = np.abs(finish_pyagrum(engine) - compiled.engine.posterior(compiled.evidence)[0]).max()
            print(f"P(answers) = 1e{log_p / np.log(10):.1f}: largest difference from pyAgrum {difference:.1e}")
            return
    print("no case near 1e-20 was small enough for pyAgrum; ask fewer telling answers")


def run_child(command: list[str], environment: dict[str, str]) -> float:
    """Run a process; gives its processor time in seconds."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    subprocess.run(command, cwd=ROOT, env=environment, capture_output=True, check=True)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def bench_processes() -> None:
    """Measure whole processes in turn with one that only imports pgmpy: processor time, and peak memory.

    All find their modules compiled, as an installed program does, and the knowledge and the unit in the cache.
    """
    kept = {key: value for key, value in os.environ.items() if key != "PYTHONDONTWRITEBYTECODE"}
    with tempfile.TemporaryDirectory() as compiled:
        environment = {**kept, "PYTHONPATH": str(ROOT / "src"), "PYTHONPYCACHEPREFIX": compiled}
        commands = {"import pgmpy.models": [sys.executable, "-c", "import pgmpy.models"]}
        for words in ("--help", *(f"{command} {case}" for command in ("rank", "next") for case in EXAMPLES)):
            commands[f"shiftlore {words}"] = [sys.executable, "-m", "shiftlore", *words.split()]
        times: dict[str, list[float]] = {name: [] for name in commands}
        for count in range(ROUNDS + 1):
            for name, command in commands.items():
                seconds = run_child(command, environment)
                if count:  # the first compiles and fills the cache
                    times[name].append(seconds)
        code = (
            "import resource, subprocess, sys; subprocess.run(sys.argv[1:], capture_output=True); "
            "print(resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss)"
        )
        whole = statistics.median(times["import pgmpy.models"])
        for name, command in commands.items():
            peak = subprocess.run(
                [sys.executable, "-c", code, *command], cwd=ROOT, env=environment, capture_output=True, text=True
            )
            median = statistics.median(times[name])
            print(
                f"{name}: median {1e3 * median:.0f} ms of a core, {median / whole:.2f} of importing pgmpy, "
                f"best {1e3 * min(times[name]):.0f} ms, peak {int(peak.stdout) / 1024:.0f} MB"
            )


def main() -> None:
    """Measure everything."""
    warnings.simplefilter("ignore")
    unit, compiled = unit_of("long5"), compiled_of(odometer_km=DISTANCE_KM)
    tables = compiled.engine.tables
    print(
        f"five-speed: {len(compiled.causes)} causes, {len(tables.hidden)} hidden states, {len(tables.gates)} findings"
    )
    bench_ours(unit)
    bench_others(unit)
    bench_tiny(unit)
    bench_processes()
    print(f"peak memory of this benchmark: {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:.0f} MB")


if __name__ == "__main__":
    main()
