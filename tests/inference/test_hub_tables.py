"""Networks with one many-state root, read into tables."""

import numpy as np
import pytest

from shiftlore.inference.hub_tables import build_tables, find_root, read_gate
from shiftlore.network import Network, NoisyLink, NoisyMax, Table, Tie, Variable


def link(parent: str, *strengths: float) -> NoisyLink:
    """Link a yes/no child: its strength under each state of the parent."""
    return NoisyLink(parent, np.array([[1 - p, p] for p in strengths]))


def small(*more: object, tie: Tie | None = None, graded: bool = False) -> Network:
    """Make a root of three states, one hidden variable and one finding; with more variables if wanted."""
    hidden = Variable("h", ("no", "some", "yes")) if graded else Variable("h")
    rows = np.array([[1.0, 0, 0], [0.2, 0.3, 0.5], [1.0, 0, 0]])
    above = NoisyLink("root", rows) if graded else link("root", 0, 0.8, 0.3)
    leak = np.array([0.98, 0.01, 0.01]) if graded else np.array([0.9, 0.1])
    below = link("h", 0, 0.5, 0.5) if graded else link("h", 0, 0.5)
    variables = [Variable("root", ("none", "a", "b")), hidden, Variable("f")]
    gates = [
        Table("root", (), np.array([0.5, 0.3, 0.2])),
        NoisyMax("h", leak, (above,)),
        NoisyMax("f", np.array([0.99, 0.01]), (link("root", 0, 0, 0.6), below)),
    ]
    return Network([*variables, *more[::2]], [*gates, *more[1::2]], tie)  # type: ignore[list-item]


def test_find_root__one_root_over_hidden_variables() -> None:
    assert "root" == find_root(small())


def test_find_root__two_roots_are_another_shape() -> None:
    assert find_root(small(Variable("r"), Table("r", (), np.array([0.5, 0.5])))) is None


def test_find_root__a_tie_is_another_shape() -> None:
    assert find_root(small(tie=Tie(("root",), 0.5))) is None


def test_find_root__a_chain_of_hidden_variables_is_another_shape() -> None:
    chain = (Variable("g"), NoisyMax("g", np.array([1.0, 0.0]), (link("f", 0, 0.5),)))
    assert find_root(small(*chain)) is None


def test_find_root__a_graded_hidden_variable_is_another_shape() -> None:
    assert find_root(small(graded=True)) is None


def test_build_tables__prior_hidden_and_findings() -> None:
    """By hand: 1 - .9 (1 - .8) = .82 under a, 1 - .9 (1 - .3) = .37 under b."""
    tables = build_tables(small(), "root")
    assert (("h",), ["f"], 3) == (tables.hidden, list(tables.gates), tables.n_root)
    assert [0.5, 0.3, 0.2] == pytest.approx(tables.prior, abs=0)
    assert [[0.1, 0.82, 0.37]] == [pytest.approx(row, abs=1e-15) for row in tables.p_hidden.tolist()]


def test_build_tables__a_gate_cumulates_leak_and_root() -> None:
    """By hand: .99 under none and a, .99 x .4 under b; the last row is certain."""
    gate = build_tables(small(), "root").gates["f"]
    assert [0.99, 0.99, 0.396] == pytest.approx(gate.cum_root[0], abs=1e-15)
    assert [1, 1, 1] == list(gate.cum_root[1])
    assert ((0,), [0.5, 1.0]) == (gate.hidden, list(gate.cum_hidden[0]))


def test_build_tables__a_sign_that_nothing_hangs_on_is_a_finding() -> None:
    alone = (Variable("s"), NoisyMax("s", np.array([0.8, 0.2]), (link("root", 0, 0.5, 0),)))
    assert {"f", "s"} == set(build_tables(small(*alone), "root").gates)


def test_read_gate__without_any_parent_is_its_leak() -> None:
    gate = read_gate(NoisyMax("f", np.array([0.7, 0.2, 0.1]), ()), "root", 2, {})
    assert [[0.7, 0.7], [0.9, 0.9], [1, 1]] == [pytest.approx(row, abs=1e-15) for row in gate.cum_root.tolist()]
    assert (0, 3) == gate.cum_hidden.shape
