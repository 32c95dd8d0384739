"""Measure the engine: a look ahead over all open findings, and the same answers in two general libraries.

Run as `python tests/benchmarks/bench_inference.py` with `src` and `tests` on the path; `--libraries` compares with the
compiled library (lazy propagation) and the pure one (variable elimination) on networks that they can hold. Times are
seconds of processor time.
"""

import statistics
import sys
import time
import warnings
from types import SimpleNamespace

import numpy as np
from support.strategies import realistic_evidence, realistic_network

from shiftlore.inference import prepare
from shiftlore.inference.reduction import find_relevant
from shiftlore.network import Network, divorce, draw_parameters, sample_network


def measure(action) -> tuple[float, object]:
    """Run an action once and give its processor time in milliseconds."""
    start = time.process_time()
    result = action()
    return 1e3 * (time.process_time() - start), result


def bench_turns(shape: dict, n_answers: int, n_telling: int, cases: int = 5) -> None:
    """Measure posterior and look ahead for new answers, and again with the plan remembered."""
    times: dict[str, list[float]] = {}
    for seed in range(cases):
        network = realistic_network(seed % 2, **shape)
        engine = prepare(network)
        engine.posterior({})
        evidence = realistic_evidence(network, seed, n_answers, n_telling)
        findings = [name for name in network.variables if name.startswith("f") and name not in evidence]
        for label, action in {
            "posterior, first": lambda e=engine, v=evidence: e.posterior(v),
            "posterior, again": lambda e=engine, v=evidence: e.posterior(v),
            f"turn, {len(findings)} findings": lambda e=engine, v=evidence, f=findings: e.turn(v, f),
            "turn, 30 findings": lambda e=engine, v=evidence, f=findings: e.turn(v, f[:30]),
            "without_each": lambda e=engine, v=evidence: e.without_each(v),
            "hypotheses": lambda e=engine, v=evidence: e.hypotheses(v),
            "draws, 100": lambda e=engine, v=evidence, n=network: e.draws(
                v, draw_parameters(n, np.random.default_rng(1), 100)
            ),
        }.items():
            times.setdefault(label, []).append(measure(action)[0])
    print(f"\n{shape}, {n_answers} answers of which {n_telling} telling")
    for label, values in times.items():
        print(f"  {label:22s} median {statistics.median(values):8.1f} ms   worst {max(values):8.1f} ms")


def bench_samples() -> None:
    """Measure how many vehicles a second are drawn."""
    network = realistic_network(0)
    took, _ = measure(lambda: sample_network(network, np.random.default_rng(1), 10000))
    print(f"\n{len(network.variables)} variables: {1e7 / took:.0f} vehicles a second")


def load_libraries() -> SimpleNamespace:
    """Import both general libraries; they warn of their own coming changes."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import pyagrum
        from pgmpy.factors.discrete import TabularCPD
        from pgmpy.inference import VariableElimination
        from pgmpy.models import DiscreteBayesianNetwork
    return SimpleNamespace(
        compiled=pyagrum, table=TabularCPD, elimination=VariableElimination, book=DiscreteBayesianNetwork
    )


def ask_compiled(libraries: SimpleNamespace, tables: Network, answers: dict[str, int], causes: list[str]) -> tuple:
    """Measure all posteriors of one set of answers by lazy propagation."""
    model = libraries.compiled.BayesNet()
    for key in tables.order:
        model.add(libraries.compiled.LabelizedVariable(key, key, tables.n_states(key)))
    for key in tables.order:
        gate = tables.gates[key]
        for parent in gate.parents:
            model.addArc(parent, key)
        axes = [(*gate.parents, key).index(axis) for axis in reversed(model.cpt(key).names)]
        model.cpt(key).fillWith(np.transpose(gate.array, axes).ravel().tolist())

    def propagate() -> dict[str, np.ndarray]:
        """Propagate once."""
        library = libraries.compiled.LazyPropagation(model)
        library.setEvidence(answers)
        library.makeInference()
        return {cause: library.posterior(cause).toarray() for cause in causes}

    return measure(propagate)


def ask_pure(libraries: SimpleNamespace, tables: Network, answers: dict[str, int], causes: list[str]) -> float:
    """Measure four posteriors of one set of answers by variable elimination, and scale up to all."""
    book = libraries.book()
    book.add_nodes_from(tables.order)
    for key in tables.order:
        gate = tables.gates[key]
        book.add_edges_from([(parent, key) for parent in gate.parents])
        sizes = [tables.n_states(parent) for parent in gate.parents]
        columns = gate.array.reshape(-1, gate.n_states).T
        book.add_cpds(libraries.table(key, gate.n_states, columns, list(gate.parents), sizes))
    elimination = libraries.elimination(book)
    some = causes[:4]
    took, _ = measure(lambda: [elimination.query([x], evidence=answers, show_progress=False) for x in some])
    return took * len(causes) / len(some)


def bench_libraries(shape: dict, n_answers: int, n_telling: int, sets: int = 12) -> None:
    """Measure a few of the look-ahead's sets of answers in two general libraries and scale up.

    Both get a network without what is barren for the set, and without the tie, whose chain couples all causes.
    """
    libraries = load_libraries()
    tied = realistic_network(0, **shape)
    network = Network(tuple(tied.variables.values()), tuple(tied.gates.values()))
    evidence = realistic_evidence(tied, 0, n_answers, n_telling)
    findings = [name for name in network.variables if name.startswith("f") and name not in evidence]
    engine = prepare(network)
    engine.posterior({})
    ours = measure(lambda: engine.turn(evidence, findings))[0]
    worst, compiled, pure = 0.0, [], []
    for name in findings[:sets]:
        kept = [key for key in network.order if key in find_relevant(network, [*evidence, name])]
        part = Network([network.variables[key] for key in kept], [network.gates[key] for key in kept])
        tables, answers = divorce(part).network, {**evidence, name: 0}
        took, posteriors = ask_compiled(libraries, tables, answers, list(part.roots))
        compiled.append(took)
        found = engine.posterior(answers, part.roots)
        worst = max(worst, *(np.abs(posteriors[cause] - found.p_states[cause]).max() for cause in part.roots))
        if len(pure) < 2:
            pure.append(ask_pure(libraries, tables, answers, list(part.roots)))
    n_sets = sum(network.n_states(name) for name in findings)
    print(f"\n{shape}, {n_answers} answers of which {n_telling} telling, {n_sets} sets of answers")
    print(f"  this engine, all sets   {ours:10.1f} ms   largest difference {worst:.1e}")
    for label, values in (("compiled library", compiled), ("pure library", pure)):
        total = statistics.mean(values) * n_sets
        print(f"  {label:22s}  {total:10.0f} ms   {total / ours:8.0f} times as long")


if __name__ == "__main__":
    bench_samples()
    bench_turns({"n_causes": 60, "n_states": 25, "n_findings": 150, "n_areas": 10}, 46, 11)
    bench_turns({}, 40, 12)
    bench_turns({}, 40, 20)
    if "--libraries" in sys.argv:
        bench_libraries({"n_causes": 40, "n_states": 8, "n_findings": 80, "n_areas": 10}, 24, 5)
