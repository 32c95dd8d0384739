"""The same network and answers in general libraries."""

import math

import numpy as np
import pyagrum

from shiftlore.compiling import CompiledCase
from shiftlore.compiling.exporting import assemble_network, observe, prune_network
from shiftlore.compiling.gates import ROOT
from shiftlore.network import Network, divorce


def write_pyagrum(network: Network, evidence: dict[str, int], prune: bool = True) -> pyagrum.BayesNet:
    """Write what bears on the answers, split into small tables, as pyAgrum's network."""
    pruned = prune_network(network, [*evidence, ROOT]) if prune else network
    split = divorce(pruned)
    model = pyagrum.BayesNet()
    for name, variable in split.variables.items():
        model.add(pyagrum.LabelizedVariable(name, name, [f"s{i}" for i in range(variable.n_states)]))
    for child, gate in split.gates.items():
        for parent in gate.parents:
            model.addArc(parent, child)
    for child, gate in split.gates.items():
        table = model.cpt(child)
        names = list(reversed(table.names))
        axes = [(*gate.parents, child).index(name) for name in names]
        table.fillWith(np.ascontiguousarray(np.transpose(gate.array, axes)).ravel().tolist())
    return model


def prepare_pyagrum(network: Network, evidence: dict[str, int]) -> pyagrum.LazyPropagation:
    """Give a lazy propagation over some answers, not yet run; on one core."""
    pyagrum.setNumberOfThreads(1)
    engine = pyagrum.LazyPropagation(write_pyagrum(network, evidence))
    engine.setEvidence(evidence)
    engine.setTargets({ROOT})
    return engine


def prepare_case(compiled: CompiledCase) -> pyagrum.LazyPropagation:
    """Give a lazy propagation over a case's own answers, doubted ones as signs of their own."""
    network = assemble_network(compiled.engine.tables, compiled.expansion, compiled.evidence)
    return prepare_pyagrum(network, observe(compiled.evidence))


def largest_clique(engine: pyagrum.LazyPropagation) -> int:
    """Count the cells of the largest clique of its junction tree."""
    model, tree = engine.BN(), engine.junctionTree()
    return max(math.prod(model.variable(i).domainSize() for i in tree.clique(node)) for node in tree.nodes())


def finish_pyagrum(engine: pyagrum.LazyPropagation) -> np.ndarray:
    """Run a prepared lazy propagation and give P(root state | answers)."""
    engine.makeInference()
    return np.array(engine.posterior(ROOT).tolist())
