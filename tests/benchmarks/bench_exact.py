"""The engine by itself: one case's posterior, what every open finding would show, and every answer taken back.

Run as `python tests/benchmarks/bench_exact.py [unit]` with `src` and `tests` on the path. Cases are drawn from the unit
with more and more telling answers. Times are milliseconds of processor time on one core; drawn vehicles at the end.
"""

import statistics
import sys
import time
from collections.abc import Callable

import numpy as np
from support.trade import compiled_of, draw_answers

from shiftlore.compiling import CompiledCase
from shiftlore.exact import HubEngine
from shiftlore.network import sample_network

CASES = 9
TELLING = (4, 8, 12, 16, 20, 30)


def measure(action: Callable[[], object]) -> float:
    """Run an action once and give its processor time in milliseconds."""
    started = time.process_time()
    action()
    return 1e3 * (time.process_time() - started)


def bench_cases(compiled: CompiledCase, n_telling: int) -> None:
    """Measure cases of so many telling answers."""
    times: dict[str, list[float]] = {}
    exact, gaps, work = 0, [], []
    for seed in range(CASES):
        evidence = draw_answers(compiled, seed, n_telling, 28)
        engine = HubEngine(compiled.engine.tables)
        asked = [key for key in engine.tables.gates if key not in evidence]
        groups = [[key] for key in evidence]
        for label, action in {
            "posterior": lambda e=engine, v=evidence: e.posterior(v),
            "predict all open": lambda e=engine, v=evidence, f=asked: e.predict(v, f),
            "retract each": lambda e=engine, v=evidence, g=groups: e.retract(v, g),
            "bounds": lambda e=engine, v=evidence: e.bound_posterior(v),
        }.items():
            times.setdefault(label, []).append(measure(action))
        standing = engine.stand(evidence)
        exact += standing.exact
        work.append(sum(part.cluster.work for part in standing.sums))
        low, high = engine.bound_posterior(evidence)
        gaps.append(float((high - low).max()))
    print(
        f"{n_telling} of {n_telling + 28} answers telling: {exact} of {CASES} exact, work up to {max(work)}, "
        f"widest bounds {max(gaps):.3f}"
    )
    for label, values in times.items():
        print(f"  {label:18s} median {statistics.median(values):7.1f} ms, worst {max(values):7.1f} ms")


def bench_samples(compiled: CompiledCase) -> None:
    """Measure how many vehicles a second are drawn."""
    network = compiled.network
    took = measure(lambda: sample_network(network, np.random.default_rng(1), 10_000))
    print(f"{len(network.variables)} variables: {1e7 / took:.0f} vehicles a second")


def main(unit: str = "long5") -> None:
    """Measure everything."""
    compiled = compiled_of({"slips": "yes", "fluid_colour": "dark"}, unit=unit, odometer_km=220_000.0)
    tables = compiled.engine.tables
    print(f"{unit}: {tables.n_root} root states, {len(tables.hidden)} hidden states, {len(tables.gates)} findings")
    for n_telling in TELLING:
        bench_cases(compiled, n_telling)
    bench_samples(compiled)


if __name__ == "__main__":
    main(*sys.argv[1:])
