"""The fast engine against enumeration, the general engine and a general library."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shiftlore.basics import ImpossibleEvidence
from shiftlore.inference import prepare, prepare_hub
from shiftlore.network import Network, NoisyLink, NoisyMax, Table, Variable, enumerate_posteriors


def draw_pmf(rng: np.random.Generator, size: int) -> np.ndarray:
    """Draw a pmf that leaves much weight on the sound state."""
    pmf = rng.dirichlet(np.ones(size)) * rng.uniform(0, 1)
    pmf[0] += 1 - pmf.sum()
    return pmf


def make_network(seed: int, n_root: int = 4, n_hidden: int = 4, n_findings: int = 5) -> Network:
    """Make a random network with one root over independent hidden variables."""
    rng = np.random.default_rng(seed)
    variables = [Variable("root", tuple(f"r{i}" for i in range(n_root)))]
    gates: list = [Table("root", (), rng.dirichlet(np.ones(n_root)))]

    def root_link(size: int) -> NoisyLink:
        rows = np.array([draw_pmf(rng, size) for _ in range(n_root)])
        rows[0] = np.eye(size)[0]
        return NoisyLink("root", rows)

    for i in range(n_hidden):
        variables.append(Variable(f"h{i}"))
        gates.append(NoisyMax(f"h{i}", draw_pmf(rng, 2), (root_link(2),)))
    for i in range(n_findings):
        size = int(rng.integers(2, 4))
        variables.append(Variable(f"f{i}", tuple("abc"[:size])))
        parents = [h for h in range(n_hidden) if rng.uniform() < 0.6]
        links = [NoisyLink(f"h{h}", np.array([np.eye(size)[0], draw_pmf(rng, size)])) for h in parents]
        gates.append(NoisyMax(f"f{i}", draw_pmf(rng, size), (root_link(size), *links)))
    return Network(variables, gates)


def draw_evidence(network: Network, seed: int, soft: bool = True) -> dict:
    """Answer about two thirds of the findings, some with doubt."""
    rng = np.random.default_rng(seed + 1)
    evidence: dict = {}
    for name, variable in network.variables.items():
        if name.startswith("f") and rng.uniform() < 0.66:
            evidence[name] = int(rng.integers(variable.n_states))
            if soft and rng.uniform() < 0.3:
                evidence[name] = rng.uniform(0.05, 1, variable.n_states)
    return evidence


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 10_000))
def test_posterior__equals_enumeration(seed: int) -> None:
    network = make_network(seed)
    evidence = draw_evidence(network, seed)
    expected = enumerate_posteriors(network, evidence)
    p_root, log_p = prepare_hub(network).posterior(evidence)
    assert expected.p_states["root"] == pytest.approx(p_root, abs=1e-12)
    assert expected.log_p_evidence == pytest.approx(log_p, abs=1e-10)


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 10_000))
def test_predict__equals_adding_the_answer(seed: int) -> None:
    network = make_network(seed, n_hidden=5)
    evidence = draw_evidence(network, seed)
    engine = prepare_hub(network)
    base = engine.weigh(evidence)
    open_findings = [name for name in network.variables if name.startswith("f") and name not in evidence]
    for finding, predicted in engine.predict(evidence, open_findings).items():
        for state in range(predicted.shape[0]):
            joint = engine.weigh({**evidence, finding: state})
            assert np.exp(joint - base) == pytest.approx(predicted[state], abs=1e-11)


@settings(max_examples=30, deadline=None)
@given(st.integers(0, 10_000))
def test_predict__outcomes_add_up_to_one(seed: int) -> None:
    network = make_network(seed)
    evidence = draw_evidence(network, seed)
    open_findings = [name for name in network.variables if name.startswith("f") and name not in evidence]
    for predicted in prepare_hub(network).predict(evidence, open_findings).values():
        assert np.ones(predicted.shape[1]) == pytest.approx(predicted.sum(axis=0), abs=1e-11)


@settings(max_examples=20, deadline=None)
@given(st.integers(0, 10_000))
def test_posterior__order_of_answers_does_not_matter(seed: int) -> None:
    network = make_network(seed)
    evidence = draw_evidence(network, seed)
    turned = dict(reversed(list(evidence.items())))
    first, _ = prepare_hub(network).posterior(evidence)
    assert first == pytest.approx(prepare_hub(network).posterior(turned)[0], abs=1e-13)


def test_posterior__equals_the_general_engine_on_a_larger_network() -> None:
    network = make_network(7, n_root=30, n_hidden=12, n_findings=25)
    evidence = draw_evidence(network, 7)
    general = prepare(network).posterior(evidence, ("root",)).p_states["root"]
    assert general == pytest.approx(prepare_hub(network).posterior(evidence)[0], abs=1e-11)


def test_posterior__equals_pgmpy() -> None:
    """Source: pgmpy, variable elimination, as an independent library."""
    pgmpy_inference = pytest.importorskip("pgmpy.inference")
    from shiftlore.compiling import to_pgmpy

    network = make_network(11, n_root=6, n_hidden=5, n_findings=6)
    evidence = draw_evidence(network, 11, soft=False)
    model, observed = to_pgmpy(network)
    named = {name: network.variables[name].states[state] for name, state in evidence.items()}
    answer = pgmpy_inference.VariableElimination(model).query(["root"], {**observed, **named}, show_progress=False)
    expected = [answer.get_value(root=state) for state in network.variables["root"].states]
    assert expected == pytest.approx(prepare_hub(network).posterior(evidence)[0], abs=1e-9)


def test_posterior__keeps_digits_at_tiny_probabilities() -> None:
    """Twelve answers of probability about 1e-3 each: P(answers) near 1e-36; exact by hand for two root states."""
    leak, strength = 1e-3, 0.5
    variables = [Variable("root", ("none", "fault"))]
    gates: list = [Table("root", (), np.array([0.5, 0.5]))]
    for i in range(12):
        variables.append(Variable(f"f{i}"))
        link = NoisyLink("root", np.array([[1, 0], [1 - strength * leak, strength * leak]]))
        gates.append(NoisyMax(f"f{i}", np.array([1 - leak, leak]), (link,)))
    evidence = {f"f{i}": 1 for i in range(12)}
    p_root, log_p = prepare_hub(Network(variables, gates)).posterior(evidence)
    with_fault = 1 - (1 - leak) * (1 - strength * leak)
    odds = (with_fault / leak) ** 12
    assert odds / (1 + odds) == pytest.approx(p_root[1], rel=1e-10)
    assert np.log(0.5) + 12 * np.log(leak) + np.log1p(odds) == pytest.approx(log_p, rel=1e-12)


def test_weigh__names_a_smallest_clash() -> None:
    variables = [Variable("root", ("none", "a")), Variable("f"), Variable("g"), Variable("h")]
    sure = NoisyLink("root", np.array([[1, 0], [0, 1.0]]))
    gates = [
        Table("root", (), np.array([0.5, 0.5])),
        NoisyMax("f", np.array([1.0, 0.0]), (sure,)),
        NoisyMax("g", np.array([1.0, 0.0]), (sure,)),
        NoisyMax("h", np.array([0.9, 0.1]), ()),
    ]
    with pytest.raises(ImpossibleEvidence) as caught:
        prepare_hub(Network(variables, gates)).posterior({"h": 1, "f": 1, "g": 0})
    assert {"f", "g"} == set(caught.value.clash)


def test_predict_jointly__mixes_back_to_the_single_finding() -> None:
    network = make_network(3)
    engine = prepare_hub(network)
    states = range(network.n_states("f1"))
    joint = engine.predict_jointly({}, [{"f0": 1, "f1": state} for state in states])
    assert engine.predict({}, ["f0"])["f0"][1] == pytest.approx(joint.sum(axis=0), abs=1e-12)


def test_prepare_hub__refuses_another_shape() -> None:
    variables = [Variable("a"), Variable("b")]
    gates = [Table("a", (), np.array([0.5, 0.5])), Table("b", (), np.array([0.5, 0.5]))]
    with pytest.raises(ValueError, match="single root"):
        prepare_hub(Network(variables, gates))
