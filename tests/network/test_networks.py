"""A network checks itself when it is made."""

import pytest

from shiftlore.network import Network, NoisyLink, NoisyMax, Table, Variable

LINK = [[1, 0], [0.5, 0.5]]
CAUSE = Table("c", (), [0.9, 0.1])
FINDING = NoisyMax("f", [0.9, 0.1], (NoisyLink("c", LINK),))
BOTH = (Variable("c"), Variable("f"))


def test_network__sorts_parents_before_children():
    assert Network(BOTH, (FINDING, CAUSE)).order == ("c", "f")


def test_network__knows_its_roots_and_states():
    network = Network(BOTH, (CAUSE, FINDING))
    assert ("c",) == network.roots
    assert [True, False] == [network.is_root("c"), network.is_root("f")]
    assert 2 == network.n_states("f")


def test_network__a_noisy_gate_without_parents_is_no_prior():
    assert () == Network([Variable("f")], [NoisyMax("f", [0.9, 0.1])]).roots


@pytest.mark.parametrize(
    ("variables", "gates", "what"),
    [
        (BOTH, (CAUSE,), "one gate per variable"),
        (BOTH, (CAUSE, FINDING, FINDING), "two gates"),
        ((*BOTH, BOTH[0]), (CAUSE, FINDING), "same id"),
        ((BOTH[1],), (FINDING,), "unknown parents"),
        ((Variable("c", ("a", "b", "c")), BOTH[1]), (CAUSE, FINDING), "states in the gate"),
        (
            (Variable("c", ("a", "b", "c")), BOTH[1]),
            (Table("c", (), [0.8, 0.1, 0.1]), FINDING),
            "parent states",
        ),
    ],
)
def test_network__misfit_is_refused(variables, gates, what):
    with pytest.raises(ValueError, match=what):
        Network(variables, gates)


def test_network__cycle_is_refused():
    gates = (NoisyMax("c", [1, 0], (NoisyLink("f", LINK),)), FINDING)
    with pytest.raises(ValueError, match="cycle"):
        Network(BOTH, gates)
