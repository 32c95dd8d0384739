"""A network checks itself when it is made."""

import numpy as np
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


def test_variable__one_state_is_refused():
    with pytest.raises(ValueError, match="two states"):
        Variable("c", ("only",))


def test_variable__counts_its_states():
    assert Variable("level", ("right", "high", "low")).n_states == 3


@pytest.mark.parametrize(
    ("matrix", "what"),
    [
        ([[0.9, 0.1], [0.5, 0.5]], "row 0"),
        ([[1, 0], [0.5, 0.6]], "add up"),
        ([[1, 0], [1.5, -0.5]], "between"),
        ([1, 0], "row per parent state"),
    ],
)
def test_noisy_link__bad_matrix_is_refused(matrix, what):
    with pytest.raises(ValueError, match=what):
        NoisyLink("c", matrix)


def test_noisy_max__link_of_other_width_is_refused():
    with pytest.raises(ValueError, match="columns"):
        NoisyMax("f", [0.9, 0.1], (NoisyLink("c", [[1, 0, 0], [0, 0.5, 0.5]]),))


def test_noisy_max__doubled_parent_is_refused():
    link = NoisyLink("c", [[1, 0], [0.5, 0.5]])
    with pytest.raises(ValueError, match="two links"):
        NoisyMax("f", [0.9, 0.1], (link, link))


def test_table__wrong_number_of_axes_is_refused():
    with pytest.raises(ValueError, match="axes"):
        Table("f", ("c",), [0.5, 0.5])


def test_table__rounded_rows_are_divided_by_their_sum():
    """Files of other programs round to single precision; common practice is to normalise."""
    assert pytest.approx(1, abs=1e-15) == Table("c", (), [0.3333333, 0.6666666]).array.sum()


def test_table__cannot_be_changed():
    with pytest.raises(ValueError, match="read-only"):
        Table("c", (), np.array([0.5, 0.5])).array[0] = 1
