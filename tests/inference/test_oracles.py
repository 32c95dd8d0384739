"""The engine against a compiled general library (lazy propagation), on our own kind of network."""

import warnings

import numpy as np
import pytest
from support.strategies import realistic_evidence, realistic_network, small_evidence, small_network

from shiftlore.inference import prepare
from shiftlore.network import Network, NoisyLink, NoisyMax, Table, Variable, divorce, expand_gate

with warnings.catch_warnings():
    # its wrapper warns on import, and a warning turned into an error there ends the interpreter
    warnings.simplefilter("ignore")
    import pyagrum

AGREEMENT = 1e-9
"""Agreement with the compiled library that is asked of the engine."""


def to_library(network: Network):
    """Write a network of tables for the compiled library, numbers in full precision."""
    model = pyagrum.BayesNet()
    for name in network.order:
        model.add(pyagrum.LabelizedVariable(name, name, network.n_states(name)))
    for name in network.order:
        gate = network.gates[name]
        assert isinstance(gate, Table)
        for parent in gate.parents:
            model.addArc(parent, name)
        table = model.cpt(name)
        # the library lists a table's variables fastest first; ours stands with the child last
        axes = [(*gate.parents, name).index(axis) for axis in reversed(table.names)]
        table.fillWith(np.transpose(gate.array, axes).ravel().tolist())
    return model


def ask_library(model, evidence: dict, wanted: list[str]) -> dict[str, np.ndarray]:
    """Work out posteriors by lazy propagation."""
    library = pyagrum.LazyPropagation(model)
    for name, answer in evidence.items():
        if isinstance(answer, int):
            library.addEvidence(name, answer)
        else:
            library.addEvidence(name, answer.tolist())
    library.makeInference()
    return {name: library.posterior(name).toarray() for name in wanted}


@pytest.mark.parametrize("seed", [3, 11, 12, 27, 33, 40])
def test_posterior__equals_lazy_propagation_on_small_networks(seed):
    network = small_network(seed)
    evidence = small_evidence(network, seed, 0.3)
    divorced = divorce(network)
    expected = ask_library(to_library(divorced.network), {**evidence, **divorced.observed}, list(network.roots))
    found = prepare(network).posterior(evidence)
    for name in network.roots:
        assert expected[name] == pytest.approx(found.p_states[name], abs=AGREEMENT)


def test_turn__equals_lazy_propagation_on_a_network_of_realistic_shape():
    """Small enough for the library: the chain of the tie couples all causes in a fixed order."""
    network = realistic_network(1, n_causes=16, n_states=5, n_findings=14, n_areas=3)
    evidence = realistic_evidence(network, 1, 8, 3)
    findings = [name for name in network.variables if name.startswith("f") and name not in evidence][:5]
    turn = prepare(network).turn(evidence, findings)
    divorced = divorce(network)
    model = to_library(divorced.network)
    for name in findings:
        for state, p_outcome in enumerate(turn.outcomes[name].p_outcome):
            if p_outcome > 1e-3:
                expected = ask_library(model, {**evidence, **divorced.observed, name: state}, list(network.roots))
                p_present = [1 - expected[cause][0] for cause in network.roots]
                assert p_present == pytest.approx(turn.outcomes[name].p_present[state], abs=AGREEMENT)


def library_noisy_or(add: str, leak: float, weights: list[float]) -> np.ndarray:
    """Let the library expand a noisy-OR of two causes; the child stands last."""
    model = pyagrum.BayesNet()
    causes = [model.add(pyagrum.LabelizedVariable(name, name, 2)) for name in "ab"]
    effect = getattr(model, add)(pyagrum.LabelizedVariable("f", "f", 2), leak)
    for cause, weight in zip(causes, weights, strict=True):
        model.addWeightedArc(cause, effect, weight)
    table = model.cpt("f")
    rows = [[[table[{"a": a, "b": b, "f": f}] for f in range(2)] for b in range(2)] for a in range(2)]
    return np.array(rows)


def test_expand_gate__equals_the_library_whose_links_leave_the_leak_out():
    """Diez 1993 links: the library's "net" variant."""
    links = tuple(NoisyLink(name, [[1, 0], [1 - q, q]]) for name, q in {"a": 0.55, "b": 0.82}.items())
    ours = expand_gate(NoisyMax("f", [0.9, 0.1], links))
    assert library_noisy_or("addNoisyORNet", 0.1, [0.55, 0.82]) == pytest.approx(ours, abs=1e-6)


def test_expand_gate__equals_the_library_whose_links_hold_the_leak():
    """Henrion 1989 links, converted: the library's "compound" variant, which is its default."""
    links = tuple(NoisyLink(name, [[1, 0], [1 - q, q]]) for name, q in {"a": 0.5, "b": 0.8}.items())
    ours = expand_gate(NoisyMax("f", [0.9, 0.1], links))
    assert library_noisy_or("addNoisyORCompound", 0.1, [0.55, 0.82]) == pytest.approx(ours, abs=1e-6)


def test_posterior__graded_gate_equals_the_library_by_hand():
    """Two graded causes, a graded effect: the expanded table in the library, the gate in ours."""
    gates = [Table(name, (), [0.7, 0.2, 0.1]) for name in "ab"]
    matrix = [[1, 0, 0], [0.5, 0.3, 0.2], [0.1, 0.3, 0.6]]
    gates.append(NoisyMax("f", [0.8, 0.15, 0.05], tuple(NoisyLink(name, matrix) for name in "ab")))
    variables = [Variable(name, ("0", "1", "2")) for name in "abf"]
    network = Network(variables, gates)
    tables = [*gates[:2], Table("f", ("a", "b"), expand_gate(gates[2]))]
    expected = ask_library(to_library(Network(variables, tables)), {"f": 1}, ["a"])
    found = prepare(network).posterior({"f": 1}, ["a"])
    assert expected["a"] == pytest.approx(found.p_states["a"], abs=AGREEMENT)
