"""Published tables of noisy gates, and enumeration as the yardstick."""

import numpy as np
import pytest

from shiftlore.basics import ImpossibleEvidence
from shiftlore.network import Network, NoisyLink, NoisyMax, Table, Variable, expand_gate
from support.enumeration import MAX_ENUMERATED, enumerate_joint, enumerate_posteriors


def yes_no_gate(leak: float, links: dict[str, float]) -> NoisyMax:
    """Build a leaky noisy-OR from Diez links (the cause alone, leak off)."""
    parts = tuple(NoisyLink(parent, [[1, 0], [1 - q, q]]) for parent, q in links.items())
    return NoisyMax("f", [1 - leak, leak], parts)


def test_expand_gate__fever_table():
    """Russell and Norvig, Artificial Intelligence, noisy-OR of cold, flu, malaria (inhibitors .6, .2, .1)."""
    table = expand_gate(yes_no_gate(0, {"cold": 0.4, "flu": 0.8, "malaria": 0.9}))[..., 1]
    published = [[[0, 0.9], [0.8, 0.98]], [[0.4, 0.94], [0.88, 0.988]]]
    assert np.array(published) == pytest.approx(table, abs=1e-12)


def test_expand_gate__diez_links_with_a_leak():
    """Diez 1993: the leak is one more cause; links .55 and .82, leak .1 (hand formula)."""
    table = expand_gate(yes_no_gate(0.1, {"a": 0.55, "b": 0.82}))[..., 1]
    assert np.array([[0.1, 0.838], [0.595, 0.9271]]) == pytest.approx(table, abs=1e-12)


def test_expand_gate__henrion_links_once_converted():
    """Henrion 1989 links .55, .82 hold the leak of .1; 1-p_H = (1-p_D)(1-leak) makes them .5, .8 (Zagorecki 2004)."""
    converted = {name: 1 - (1 - p) / 0.9 for name, p in {"a": 0.55, "b": 0.82}.items()}
    assert pytest.approx(converted, abs=1e-12) == {"a": 0.5, "b": 0.8}
    table = expand_gate(yes_no_gate(0.1, converted))[..., 1]
    assert np.array([[0.1, 0.82], [0.55, 0.91]]) == pytest.approx(table, abs=1e-12)


def test_expand_gate__closed_form_with_a_leak():
    """Pearl 1988, page 184: 1 - (1 - leak) times the product of 1 - p."""
    table = expand_gate(yes_no_gate(0.1, {"a": 0.2, "b": 0.4}))[..., 1]
    assert np.array([[0.1, 0.46], [0.28, 0.568]]) == pytest.approx(table, abs=1e-12)


def test_expand_gate__noisy_max_rows():
    """Rows of a published noisy-max example: contribution .1 .8 .1 alone, and with .5 .5 0 beside it."""
    leak = [0.1, 0.8, 0.1]
    gate = NoisyMax("f", leak, (NoisyLink("b", [[1, 0, 0], [0.5, 0.5, 0]]),))
    assert np.array([[0.1, 0.8, 0.1], [0.05, 0.85, 0.1]]) == pytest.approx(expand_gate(gate), abs=1e-12)


def test_expand_gate__noisy_max_that_outdoes_the_other():
    gate = NoisyMax("f", [0, 0.1, 0.9], (NoisyLink("b", [[1, 0, 0], [0.5, 0.5, 0]]),))
    assert np.array([[0, 0.1, 0.9], [0, 0.1, 0.9]]) == pytest.approx(expand_gate(gate), abs=1e-12)


def test_expand_gate__inhibitors_and_triggers_give_the_same_table():
    """Russell and Norvig, exercise: one inhibitor per cause and a plain OR of the triggers equal the noisy-OR."""
    links = {"a": 0.4, "b": 0.8}
    triggers = [Table(f"t_{name}", (name,), [[1, 0], [1 - q, q]]) for name, q in links.items()]
    either = np.zeros((2, 2, 2))
    either[..., 1] = [[0, 1], [1, 1]]
    either[..., 0] = 1 - either[..., 1]
    causes = [Table(name, (), [0.7, 0.3]) for name in links]
    long = Network(
        [Variable(name) for name in ("a", "b", "t_a", "t_b", "f")],
        [*causes, *triggers, Table("f", ("t_a", "t_b"), either)],
    )
    short = Network([Variable(name) for name in ("a", "b", "f")], [*causes, yes_no_gate(0, links)])
    assert enumerate_joint(short) == pytest.approx(enumerate_joint(long).sum(axis=(2, 3)), abs=1e-15)


def test_enumerate_joint__two_causes_of_one_finding_by_hand():
    """P(a, b, f) of an OR of two coins weighted .2 and .5, links .5 and 1."""
    gate = yes_no_gate(0, {"a": 0.5, "b": 1.0})
    network = Network([Variable(n) for n in "abf"], [Table("a", (), [0.8, 0.2]), Table("b", (), [0.5, 0.5]), gate])
    expected = [[[0.4, 0], [0, 0.4]], [[0.05, 0.05], [0, 0.1]]]
    assert np.array(expected) == pytest.approx(enumerate_joint(network), abs=1e-15)


def test_enumerate_joint__too_many_variables_are_refused():
    names = [f"c{index}" for index in range(MAX_ENUMERATED + 1)]
    network = Network([Variable(name) for name in names], [Table(name, (), [0.5, 0.5]) for name in names])
    with pytest.raises(ValueError, match="at most"):
        enumerate_joint(network)


def test_enumerate_posteriors__impossible_answers():
    network = Network([Variable("a")], [Table("a", (), [1, 0])])
    with pytest.raises(ImpossibleEvidence):
        enumerate_posteriors(network, {"a": 1})


def test_enumerate_posteriors__likelihood_by_hand():
    network = Network([Variable("a")], [Table("a", (), [0.8, 0.2])])
    found = enumerate_posteriors(network, {"a": np.array([0.25, 1.0])})
    assert pytest.approx(found.p_states["a"][1], abs=1e-15) == 0.2 / 0.4
    assert np.log(0.4) == pytest.approx(found.log_p_evidence, abs=1e-15)
